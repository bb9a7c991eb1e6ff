"""Works out the steps that take one change back, thing by thing, on the card as it is by now."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from workbench.card.paths import ASIDE, VolumePath
from workbench.card.tree import Tree
from workbench.changes.ground import Ground
from workbench.changes.kept import read_kept
from workbench.changes.ledger import follow
from workbench.changes.overlay import Node, Overlay
from workbench.changes.plan import Conflict, Listing, Plan, digest
from workbench.changes.planned_tree import BelowPlan, read_content
from workbench.changes.record import Record
from workbench.changes.steps import Move, Prepared, Remove, Step, Write
from workbench.changes.take_back import take_back_edits
from workbench.changes.touched import ROOT, Location, Touched
from workbench.errors import CardwrightError, ManifestError
from workbench.manifests.document import Edit, apply_edits
from workbench.shown import shown

_KEPT_DEPTH = 4
"""Slashes in `.cardwright/changes/ID/kept/N`."""


class Reversal:
    """Takes `record` back on `tree` as it will be after `waiting`; `later` are the changes after it."""

    def __init__(
        self,
        record: Record,
        later: Sequence[Record],
        tree: Tree,
        waiting: Plan,
        grounds: Mapping[str, Ground],
    ) -> None:
        self.record = record
        self.later = later
        self.tree = tree
        self.grounds = grounds
        self.steps: list[Step] = []
        self.conflicts: list[Conflict] = []
        self.notes: list[str] = []
        self._overlay = Overlay(BelowPlan(tree))
        self._found = {thing.id: self._find(thing) for thing in record.things}
        self._folders = {thing.id: self._find_home(thing) for thing in record.things}
        self._left_in = {thing.id: self._find_left(thing) for thing in record.things}
        for step in waiting.steps:
            self._overlay.carry_out(step)

    def plan(self) -> Plan:
        """The steps, and what stands in their way."""
        made = [thing for thing in self.record.things if self._is_only_made(thing)]
        waiting = [thing for thing in made if not self._take_away(thing)]
        replaced = [thing for thing in self.record.things if thing.replaced_by is not None]
        taken = [thing for thing in replaced if self._is_in_ledger(thing)]
        for thing in replaced:
            if thing not in taken:
                self._give_back(thing)
        self._move_home(waiting)
        for thing in taken:
            self._give_back(thing)
        listings = tuple(self._restore_orders())
        return Plan(
            f"Take back {self.record.number}: {self.record.title}",
            tuple(self.steps),
            conflicts=tuple(self.conflicts),
            notes=tuple(self.notes),
            listings=listings,
            undoes=(self.record.id,),
        )

    # Finding things by now

    def _node(self, number: int) -> Node | None:
        """A thing of the change, or what has taken its place in the plan so far."""
        node = self._found[number]
        while node is not None and node.replaced_by is not None:
            node = node.replaced_by
        return node

    def _find(self, thing: Touched) -> Node | None:
        place = self.record.place(thing.volume, thing.goal(forward=True), at_end=True)
        for record in self.later:
            place = follow(record, place)
        return self._overlay.find(place)

    def _find_home(self, thing: Touched) -> Node | None:
        """The folder, by now, that it stood in before, as far as the change did not move that itself."""
        if thing.initial is None or thing.initial.base != ROOT:
            return None
        place = VolumePath(thing.volume, thing.initial.path).parent
        for record in self.later:
            place = follow(record, place)
        return self._overlay.find(place)

    def _find_left(self, thing: Touched) -> tuple[Node | None, str]:
        """The folder, by now, that the change left it in, and under which name."""
        left = self.record.place(thing.volume, thing.goal(forward=True), at_end=True)
        folder = left.parent
        for record in self.later:
            folder = follow(record, folder)
        return self._overlay.find(folder), left.name

    def _home(self, thing: Touched) -> tuple[Node, str] | None:
        """The folder and the name that it stood under before."""
        assert thing.initial is not None
        inner, _, name = thing.initial.path.rpartition("/")
        if thing.initial.base == ROOT:
            folder = self._folders[thing.id]
        else:
            folder = self._node(thing.initial.base)
            for part in inner.split("/") if inner else ():
                folder = None if folder is None else self._overlay.child(folder, part)
        is_there = folder is not None and self._overlay.place_of(folder) is not None
        return (folder, name) if folder is not None and is_there and folder.kind == "folder" else None

    def _original_of(self, thing: Touched) -> Touched | None:
        return next((one for one in self.record.things if one.replaced_by == thing.id), None)

    def _place(self, node: Node | None) -> VolumePath | None:
        return None if node is None else self._overlay.place_of(node)

    def _do(self, step: Step) -> None:
        self._overlay.carry_out(step)
        self.steps.append(step)

    # Content

    def _is_in_ledger(self, thing: Touched) -> bool:
        """Whether what replaced it was taken away, alone or with a folder, and may come back first."""
        place = self._place(self._node(thing.replaced_by or thing.id))
        return place is None or place.is_in_ledger

    def _is_only_made(self, thing: Touched) -> bool:
        return thing.is_new and thing.kind == "file" and self._original_of(thing) is None

    def _take_away(self, thing: Touched) -> bool:
        """A file that the change made goes, if it is as it was made; False where it must come back first."""
        node = self._node(thing.id)
        place = self._place(node)
        if node is None or place is None:
            return True
        if place.is_in_ledger:
            return not _is_inside_kept(place)
        if thing.fingerprint.endswith(f":{digest(self._read(node))}"):
            self._do(Remove(place))
        else:
            self._refuse(place, thing, "was changed since, and this change made it")
        return True

    def _give_back(self, thing: Touched) -> None:
        """A file that the change wrote over gets its old content, or loses the change's own edits."""
        assert thing.replaced_by is not None
        written = self.record.thing(thing.replaced_by)
        node = self._node(written.id)
        place = self._place(node)
        if node is None or place is None or place.is_in_ledger:
            self._write_anew(thing, written)
            return
        now = self._read(node)
        if written.fingerprint.endswith(f":{digest(now)}"):
            self._write_old(thing, written, node, place, now)
            return
        for step in self._take_back(thing, written, place, now) or ():
            self._do(step)

    def _write_old(self, thing: Touched, written: Touched, node: Node, place: VolumePath, now: bytes) -> None:
        assert thing.metadata is not None
        mode = thing.metadata.mode if node.item is None or node.item.mode != thing.metadata.mode else None
        if mode is None and thing.fingerprint == written.fingerprint:
            return
        edits: tuple[Edit, ...] = ()
        if len(written.edits) == 1 and thing.copy == "pack":
            old = self._kept_bytes(thing)
            edits = take_back_edits(old, now, now, written.edits[0]) or ()
            if apply_edits(now, edits) != old:
                edits = ()
        self._do(Write(place, self._old_content(thing), digest(now), edits, mode))

    def _write_anew(self, thing: Touched, written: Touched) -> None:
        """What it was replaced by is gone: by this change itself, or by a later one."""
        home = self._home(thing)
        folder = self._place(home[0]) if home is not None else None
        own = written.final is not None and self.record.place(
            thing.volume, written.final, at_end=True
        ).path.startswith(self.record.folder + "/")
        if not own or home is None or folder is None or self._overlay.child(*home) is not None:
            start = self.record.place(thing.volume, thing.visited[0], at_end=False)
            self._refuse(start, written, "was moved, replaced or removed since")
            return
        assert thing.metadata is not None
        self._do(Write(folder.child(home[1]), self._old_content(thing), None, (), thing.metadata.mode))

    def _take_back(
        self, thing: Touched, written: Touched, place: VolumePath, now: bytes
    ) -> list[Write] | None:
        """Writes that undo each level of edits, last first; None (and a conflict) where one has no place."""
        if not written.edits or not all(written.edits) or thing.copy != "pack":
            self._refuse(place, written, "was changed since, in more than this change's own places")
            return None
        levels = [self._kept_bytes(thing)]
        for edits in written.edits:
            levels.append(apply_edits(levels[-1], edits))
        writes: list[Write] = []
        start = now
        for before, after, edits in reversed(list(zip(levels, levels[1:], written.edits, strict=False))):
            taken = take_back_edits(before, after, now, edits)
            if taken is None:
                self._refuse(place, written, "was changed since, in the very places that this change edited")
                return None
            new = apply_edits(now, taken)
            writes.append(Write(place, new, digest(now), taken))
            now = new
        if _is_sound(place.name, start) and not _is_sound(place.name, now):
            self._refuse(place, written, "was changed since, and would be malformed without this change")
            return None
        return writes

    def _old_content(self, thing: Touched) -> bytes | Prepared:
        if thing.copy == "pack":
            return self._kept_bytes(thing)
        ground = self.grounds[thing.volume]
        file = ground.root / self.record.folder / "kept" / str(thing.id)
        kind, size, sha256 = thing.fingerprint.split(":")
        if kind != "file":
            sha256 = digest(file.read_bytes())
        return Prepared(str(file), int(size), sha256)

    def _kept_bytes(self, thing: Touched) -> bytes:
        return read_kept(self.grounds[thing.volume], self.record, thing)

    def _read(self, node: Node) -> bytes:
        if node.content is not None:
            return read_content(node.content, None)
        assert node.origin is not None
        return self.tree.read(node.origin)

    # Places

    def _move_home(self, waiting: list[Touched]) -> None:
        """Everything that was moved or removed goes back; folders that were made go once they are empty.

        `waiting`: files that the change made in what it then took away; they go once they are back.
        """
        moving = [thing for thing in reversed(self.record.things) if self._is_to_move(thing)]
        made = [thing for thing in reversed(self.record.things) if thing.is_made_folder]
        while moving or made:
            left = [thing for thing in moving if not self._go_home(thing)]
            waiting = [thing for thing in waiting if not self._take_away(thing)]
            left_made = [thing for thing in made if not self._drop_folder(thing)]
            if (left, left_made) == (moving, made) and not self._step_aside(left):
                break
            moving, made = left, left_made
        for thing in moving:
            self._refuse_move(thing)
        self.notes += [note for note in map(self._tell_left, made) if note is not None]

    def _subject(self, thing: Touched) -> Node | None:
        """What goes back to where `thing` was: itself, or the file that took its place."""
        return self._node(thing.replaced_by or thing.id)

    def _is_to_move(self, thing: Touched) -> bool:
        node = None if thing.is_new else self._subject(thing)
        if node is None:
            if not thing.is_new and thing.replaced_by is None:
                self._refuse_move(thing)
            return False
        home, place = self._home(thing), self._place(node)
        if thing.replaced_by is not None and (place is None or _is_kept_itself(place)):
            return False  # written anew
        moved = self.record.thing(thing.replaced_by) if thing.replaced_by is not None else thing
        if moved.final == thing.initial:
            return False
        if not self._is_in_own_keep(moved) and (node.parent, node.name) != self._left_in[moved.id]:
            self._refuse_move(thing)
            return False
        return home is None or (node.parent, node.name) != home

    def _is_in_own_keep(self, thing: Touched) -> bool:
        return self.record.place(thing.volume, thing.goal(forward=True), at_end=True).is_in_ledger

    def _go_home(self, thing: Touched) -> bool:
        node, home = self._subject(thing), self._home(thing)
        place = self._place(node)
        folder = self._place(home[0]) if home is not None else None
        if node is None or home is None or place is None or folder is None:
            return False
        if home[0].volume == node.volume and folder.is_in_ledger and not folder.path.startswith(ASIDE):
            self._do(Remove(place))  # it had come out of the ledger's keep
            return True
        standing = self._overlay.child(*home)
        if standing is not None and standing is not node:
            return False
        if self._is_gone(thing, place) or _is_inside_kept(place):
            return False
        target = folder.child(home[1])
        if target.is_below(place):
            return False
        self._do(Move(place, target))
        return True

    def _is_gone(self, thing: Touched, place: VolumePath) -> bool:
        """Whether a later change took it away, so that going back would bring it back with that."""
        is_away = place.is_in_ledger and not place.path.startswith(ASIDE)
        return is_away and not self._is_in_own_keep(thing)

    def _drop_folder(self, thing: Touched) -> bool:
        node = self._node(thing.id)
        place = self._place(node)
        if node is None or place is None or _is_kept_itself(place):
            return True
        if place.is_in_ledger or self._names(node):
            return False
        self._do(Remove(place))
        return True

    def _names(self, folder: Node) -> list[str]:
        names = [child.name for child in folder.children.values() if child is not None]
        if folder.origin is None:
            return names
        known = folder.children
        there = (item.name for item in self.tree.list(folder.origin))
        return names + [name for name in there if self._overlay.key(folder.volume, name) not in known]

    def _step_aside(self, waiting: Iterable[Touched]) -> bool:
        """Break a circle by taking one of those that wait out of the way."""
        for thing in waiting:
            node, home = self._subject(thing), self._home(thing)
            place = self._place(node)
            if node is None or home is None or place is None or place.is_in_ledger:
                continue
            if any(self._blocks(node, other) for other in waiting if other is not thing):
                self._do(Move(place, VolumePath(thing.volume, f"{ASIDE}/{self.record.number}-{thing.id}")))
                return True
        return False

    def _blocks(self, node: Node, other: Touched) -> bool:
        home = self._home(other)
        if home is None:
            return False
        folder: Node | None = home[0]
        while folder is not None:
            if folder is node:
                return True
            folder = folder.parent
        return self._overlay.child(*home) is node

    def _restore_orders(self) -> Iterable[Listing]:
        """The order that folders had, where the names in them are the same as then."""
        for order in self.record.orders:
            folder = self._folder_of(order.volume, order.folder)
            place = self._place(folder)
            if folder is None or place is None:
                continue
            names = self._names(folder)
            if set(names) != set(order.before):
                self.notes.append(f"the order of {shown(str(place))} stays: other names are in it now")
                continue
            slots = {name: VolumePath(order.volume, f"{ASIDE}/{n:05d}") for n, name in enumerate(names)}
            for name in names:
                self._do(Move(place.child(name), slots[name]))
            for name in order.before:
                self._do(Move(slots[name], place.child(name)))
            yield Listing(place, order.before)

    def _folder_of(self, volume: str, location: Location) -> Node | None:
        if location.base != ROOT:
            folder = self._node(location.base)
            for part in location.path.split("/") if location.path else ():
                folder = None if folder is None else self._overlay.child(folder, part)
            return folder
        place = VolumePath(volume, location.path)
        for record in self.later:
            place = follow(record, place)
        return self._overlay.find(place)

    # What cannot be

    def _refuse_move(self, thing: Touched) -> None:
        assert thing.initial is not None
        start = self.record.place(thing.volume, thing.initial, at_end=False)
        node, home = self._subject(thing), self._home(thing)
        place = self._place(node)
        if node is None or place is None or self._is_gone(thing, place):
            self._refuse(start, thing, "cannot come back: what was moved from there was removed since")
        elif home is None:
            self._refuse(start, thing, "cannot come back: the folder that held it is gone")
        elif (node.parent, node.name) != self._left_in[thing.replaced_by or thing.id]:
            self._refuse(place, thing, "was moved again since")
        else:
            self._refuse(start, thing, "cannot come back: something else stands there now")
        if place is not None and place.path.startswith(ASIDE):
            raise CardwrightError(
                f"change {self.record.number} cannot be taken back alone; nothing was changed"
            )

    def _refuse(self, at: VolumePath, thing: Touched, why: str) -> None:
        self.conflicts.append(Conflict(at, None, f"{why} ({self._name_cause(thing)})"))

    def _name_cause(self, thing: Touched) -> str:
        """The later change that touched it, or none of ours."""
        place = self.record.place(thing.volume, thing.goal(forward=True), at_end=True)
        for record in self.later:
            for other in record.of_volume(thing.volume):
                if other.initial is None:
                    continue
                start = record.place(other.volume, other.initial, at_end=False)
                if start == place or place.is_below(start):
                    return f"change {record.number}, {shown(record.title)}"
            place = follow(record, place)
        return "an edit outside Cardwright"

    def _tell_left(self, thing: Touched) -> str | None:
        node = self._node(thing.id)
        place = self._place(node)
        return (
            None
            if place is None or place.is_in_ledger
            else f"the folder {shown(str(place))} stays: it is not empty"
        )


def _is_kept_itself(place: VolumePath) -> bool:
    """Whether it lies in a change's keep as one of the things taken away."""
    return place.is_in_ledger and place.path.count("/") == _KEPT_DEPTH


def _is_inside_kept(place: VolumePath) -> bool:
    """Whether it lies in a folder that was taken away."""
    return place.is_in_ledger and place.path.count("/") > _KEPT_DEPTH


def _is_sound(name: str, raw: bytes) -> bool:
    """Whether a manifest is well formed; what is none counts as sound."""
    from workbench.manifests.detection import detect_format
    from workbench.manifests.opening import open_document

    kind = detect_format(name, raw)
    if kind is None:
        return True
    try:
        open_document(raw, kind, name)
    except ManifestError:
        return False
    return True
