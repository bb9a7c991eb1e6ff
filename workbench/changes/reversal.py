"""Works out the steps that take one change back, thing by thing, on the card as it is by now."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence

from workbench.card.paths import ASIDE, VolumePath
from workbench.card.tree import Tree
from workbench.changes.ground import Ground
from workbench.changes.handing_over import find_handed, is_handed_over
from workbench.changes.host_keep import KEPT_COPY, find_absent
from workbench.changes.old_contents import OldContents
from workbench.changes.overlay import Node
from workbench.changes.plan import Listing, Plan
from workbench.changes.record import Record
from workbench.changes.since import Since, is_inside_kept, is_kept_itself
from workbench.changes.steps import Move, Remove
from workbench.changes.touched import Touched
from workbench.errors import CardwrightError
from workbench.shown import shown

LET_GO = f"{KEPT_COPY} was let go"


class Reversal:
    """Takes `record` back on `tree` as it will be after `waiting`; `later` are the changes after it that
    `waiting` does not take back."""

    def __init__(
        self,
        record: Record,
        later: Sequence[Record],
        tree: Tree,
        waiting: Plan,
        grounds: Mapping[str, Ground],
        *,
        let_go: bool = False,
        derived: Collection[VolumePath] = (),
    ) -> None:
        """`derived`: files that the device makes again from others; one that it made anew stays."""
        self.record = record
        self._derived = derived
        gone = dict.fromkeys(record.volumes, LET_GO) if let_go else find_absent(record)
        untrusted = _find_untrusted(record, grounds, let_go=let_go)
        self.since = Since(record, later, tree, waiting, gone=gone, untrusted=untrusted)
        self.contents = OldContents(self.since, grounds)
        self._moving: list[Touched] = []
        """Things that are not home yet."""

    def plan(self) -> Plan:
        """The steps, and what stands in their way."""
        made = [thing for thing in self.record.things if self.contents.is_only_made(thing)]
        waiting = [thing for thing in made if not self.contents.take_away(thing)]
        replaced = [thing for thing in self.record.things if thing.replaced_by is not None]
        taken = [thing for thing in replaced if self.contents.is_in_ledger(thing)]
        for thing in replaced:
            if thing not in taken:
                self.contents.give_back(thing)
        self._move_home(waiting)
        for thing in taken:
            self.contents.give_back(thing)
        listings = tuple(self._restore_orders())
        return Plan(
            f"Take back {self.record.number}: {self.record.title}",
            tuple(self.since.steps),
            conflicts=tuple(self.since.conflicts),
            notes=tuple(self.since.notes),
            listings=listings,
            undoes=(self.record.id,),
        )

    def _move_home(self, waiting: list[Touched]) -> None:
        """Everything that was moved or removed goes back; folders that were made go once they are empty.

        `waiting`: files that the change made in what it then took away; they go once they are back.
        """
        self._moving = [thing for thing in reversed(self.record.things) if self._is_to_move(thing)]
        made = [thing for thing in reversed(self.record.things) if thing.is_made_folder]
        while self._moving or made:
            went = self._go_all_home()
            waiting = [thing for thing in waiting if not self.contents.take_away(thing)]
            left = [thing for thing in made if not self._drop_folder(thing)]
            # What lies in a folder that only the change itself had does not come home with that.
            is_stuck = not went and left == made and not self._go_all_home(out_of_kept=True)
            if is_stuck and not self._step_aside():
                break
            made = left
        for thing in self._moving:
            self._refuse_move(thing)
        self.since.notes += [note for note in map(self._tell_left, made) if note is not None]

    def _go_all_home(self, *, out_of_kept: bool = False) -> bool:
        """Everything that can; False where nothing could."""
        before = len(self._moving)
        for thing in tuple(self._moving):
            if self._go_home(thing, out_of_kept=out_of_kept):
                self._moving.remove(thing)
        return len(self._moving) < before

    def _was_made_anew(self, thing: Touched) -> bool:
        """Whether it is a list that was put away, and that the device has made again since."""
        if thing.is_new or thing.initial is None or not self.since.is_in_own_keep(thing):
            return False
        home = self.since.home(thing)
        start = self.record.place(thing.volume, thing.initial, at_end=False)
        return start in self._derived and home is not None and self.since.overlay.child(*home) is not None

    def _is_to_move(self, thing: Touched) -> bool:
        if self._was_made_anew(thing):
            return False
        node = None if thing.is_new else self.since.subject(thing)
        if node is None:
            if not thing.is_new and self.since.is_on_host(thing):
                return True
            if not thing.is_new and thing.replaced_by is None:
                self._refuse_move(thing)
            return False
        home, place = self.since.home(thing), self.since.place(node)
        if thing.replaced_by is not None and (place is None or is_kept_itself(place)):
            return False  # written anew
        moved = self.record.thing(thing.replaced_by) if thing.replaced_by is not None else thing
        if moved.final == thing.initial:
            return False
        if not self.since.is_in_own_keep(moved) and (node.parent, node.name) != self.since.left_in[moved.id]:
            self._refuse_move(thing)
            return False
        return home is None or (node.parent, node.name) != home

    def _go_home(self, thing: Touched, *, out_of_kept: bool = False) -> bool:
        if self.since.is_on_host(thing):
            return self.contents.bring_back(thing)
        node, home = self.since.subject(thing), self.since.home(thing)
        place = self.since.place(node)
        folder = self.since.place(home[0]) if home is not None else None
        if node is None or home is None or place is None or folder is None:
            return False
        if home[0].volume == node.volume and folder.is_in_ledger and not folder.path.startswith(ASIDE):
            if self._holds_any(node, thing) or self._is_coming_home(home[0], thing):
                return False
            self.since.do(Remove(place))  # it had come out of the ledger's keep
            return True
        standing = self.since.overlay.child(*home)
        if standing is not None and standing is not node:
            return False
        if self._is_gone(thing, place) or (is_inside_kept(place) and not out_of_kept):
            return False
        target = folder.child(home[1])
        if target.is_below(place):
            return False
        self.since.do(Move(place, target))
        return True

    def _holds_any(self, folder: Node, thing: Touched) -> bool:
        """Whether something that has to come out of a folder is still in it."""
        others = (other for other in self._moving if other.id != thing.id)
        return any(_is_inside(self.since.subject(other), folder) for other in others)

    def _is_coming_home(self, folder: Node, thing: Touched) -> bool:
        """Whether a folder, or one that it is in, still has to go back itself."""
        others = (self.since.subject(other) for other in self._moving if other.id != thing.id)
        return any(other is folder or (other and _is_inside(folder, other)) for other in others)

    def _is_gone(self, thing: Touched, place: VolumePath) -> bool:
        """Whether a later change took it away, so that going back would bring it back with that."""
        is_away = place.is_in_ledger and not place.path.startswith(ASIDE)
        return is_away and not self.since.is_in_own_keep(thing)

    def _drop_folder(self, thing: Touched) -> bool:
        node = self.since.node(thing.id)
        place = self.since.place(node)
        if node is None or place is None or is_kept_itself(place):
            return True
        if place.is_in_ledger or self.since.names(node):
            return False
        self.since.do(Remove(place))
        return True

    def _step_aside(self) -> bool:
        """Break a circle by taking one of those that wait out of the way."""
        for thing in self._moving:
            node, home = self.since.subject(thing), self.since.home(thing)
            place = self.since.place(node)
            if node is None or home is None or place is None or place.is_in_ledger:
                continue
            if any(self._blocks(node, other) for other in self._moving if other is not thing):
                self.since.do(
                    Move(place, VolumePath(thing.volume, f"{ASIDE}/{self.record.number}-{thing.id}"))
                )
                return True
        return False

    def _blocks(self, node: Node, other: Touched) -> bool:
        home = self.since.home(other)
        if home is None:
            return False
        folder: Node | None = home[0]
        while folder is not None:
            if folder is node:
                return True
            folder = folder.parent
        return self.since.overlay.child(*home) is node

    def _restore_orders(self) -> Iterable[Listing]:
        """The order that folders had, where the names in them are the same as then."""
        for order in self.record.orders:
            folder = self.since.folder_of(order.volume, order.folder)
            place = self.since.place(folder)
            if folder is None or place is None:
                continue
            names = self.since.names(folder)
            if set(names) != set(order.before):
                self.since.notes.append(f"the order of {shown(str(place))} stays: other names are in it now")
                continue
            slots = {name: VolumePath(order.volume, f"{ASIDE}/{n:05d}") for n, name in enumerate(names)}
            for name in names:
                self.since.do(Move(place.child(name), slots[name]))
            for name in order.before:
                self.since.do(Move(slots[name], place.child(name)))
            yield Listing(place, order.before)

    def _refuse_move(self, thing: Touched) -> None:
        assert thing.initial is not None
        start = self.record.place(thing.volume, thing.initial, at_end=False)
        node, home = self.since.subject(thing), self.since.home(thing)
        place = self.since.place(node)
        if node is None and thing.volume in self.since.gone and thing.final == thing.rest:
            self.since.refuse_gone(start, "cannot come back")
        elif not self.since.is_on_host(thing) and (
            node is None or place is None or self._is_gone(thing, place)
        ):
            self.since.refuse(start, thing, "cannot come back: what was moved from there was removed since")
        elif home is None:
            self.since.refuse(start, thing, "cannot come back: the folder that held it is gone")
        elif node is not None and (node.parent, node.name) != self._left_in(thing):
            self.since.refuse(place or start, thing, "was moved again since")
        else:
            self.since.refuse(start, thing, "cannot come back: something else stands there now")
        if place is not None and place.path.startswith(ASIDE):
            raise CardwrightError(
                f"change {self.record.number} cannot be taken back alone; nothing was changed"
            )

    def _left_in(self, thing: Touched) -> tuple[Node | None, str]:
        return self.since.left_in[thing.replaced_by or thing.id]

    def _tell_left(self, thing: Touched) -> str | None:
        node = self.since.node(thing.id)
        place = self.since.place(node)
        return (
            None
            if place is None or place.is_in_ledger
            else f"the folder {shown(str(place))} stays: it is not empty"
        )


def _is_inside(node: Node | None, folder: Node) -> bool:
    while node is not None:
        node = node.parent
        if node is folder:
            return True
    return False


def _find_untrusted(record: Record, grounds: Mapping[str, Ground], *, let_go: bool) -> frozenset[int]:
    """Ids of removed things that are not to be looked for in the change's own keep."""
    if let_go:
        return frozenset(thing.id for thing in record.things)
    found: set[int] = set()
    for role in record.kept_on:
        if role in grounds and is_handed_over(grounds[role], record):
            found |= find_handed(record, role)
    return frozenset(found)
