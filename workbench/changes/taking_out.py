"""Takes one pack out of a card: what it brought goes, what it replaced comes back, whatever was done since.

It is an undo of the pack's change, with two differences. What a later pack wrote over is that pack's by now
and stays without being in the way. And what comes back is never a file of a pack that is out already: then
what that one had replaced comes back, or nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from workbench.card.disk_tree import DiskTree
from workbench.card.paths import VolumePath
from workbench.card.tree import Tree
from workbench.card.volumes import Card
from workbench.changes.brought import BroughtPack, Traces, find_left, hash_in
from workbench.changes.ground import Ground
from workbench.changes.kept import read_kept
from workbench.changes.ledger import Book, Trail, open_grounds, read_grounds
from workbench.changes.plan import Conflict, Plan, digest, place_of
from workbench.changes.record import Record
from workbench.changes.reversal import Reversal
from workbench.changes.steps import Move, Prepared, Remove, Step, Write
from workbench.changes.touched import Touched
from workbench.changes.undo import list_later
from workbench.errors import CardError, CardwrightError
from workbench.shown import shown
from workbench.values import replace


def plan_taking_out(card: Card, brought: BroughtPack, traces: Traces) -> Plan:
    """The steps that take a pack out; what was edited since is in the plan's conflicts, and stays.

    Raises:
        CardwrightError: its change did other things too, so that only an undo can take it back.
        CardError: a volume that the pack is on is absent.
    """
    if not brought.is_alone:
        raise CardwrightError(
            f"change {brought.number} did more than add the pack {shown(brought.pack.name)}; nothing was "
            f"changed. Take the whole change back with undo {brought.number}."
        )
    tree = DiskTree(card)
    with open_grounds(card.present) as grounds:
        book = read_grounds(grounds)
        entered = book.entered[brought.change]
        for role in entered.record.volumes:
            card.volume(role)
        later = list_later(book, entered.record, [entered.record])
        plan = Reversal(entered.record, later, tree, Plan("", ()), grounds, let_go=entered.let_go).plan()
        layers = _Layers(card, book, entered.record, grounds)
        plan = replace(plan, steps=tuple(step for step in plan.steps if _is_of(step, brought)))
        others = layers.find_others(tree, plan.steps)
        steps = tuple(layers.deepen(step) for step in plan.steps if not _is_of_other(step, others))
        covered = [Conflict(at, None, "was changed since, to what the pack had put there") for at in others]
    conflicts, notes = _sort_conflicts(tree, (*plan.conflicts, *covered), brought, traces)
    followed = [one.at for one in conflicts if layers.only_followed(one.at, brought)]
    taken = replace(
        plan,
        title=f"Remove the pack {brought.pack.name}",
        steps=(*(step for step in steps if step is not None), *map(Remove, followed)),
        conflicts=tuple(one for one in conflicts if one.at not in followed),
    )
    taken = _drop_empty_folders(tree, taken, layers.made_folders())
    return replace(taken, notes=(*_true_notes(tree, taken), *notes))


class _Layers:
    """What packs that are out by now had put where the present one wrote, and what was there before them."""

    def __init__(self, card: Card, book: Book, record: Record, grounds: Mapping[str, Ground]) -> None:
        self._card = card
        done = list(book.done)
        trails = [Trail(one) for one in done]
        self._record = record
        self._grounds = grounds
        self._trails = dict(zip((one.id for one in done), trails, strict=True))
        self._done = done
        gone = {one.id for one in done if book.undone_by(one.id) is not None}
        self._gone = gone
        self._left = [find_left(one, trails[place + 1 :]) for place, one in enumerate(done)]
        """What each change left, file by file, where it stands by now."""
        self._place = done.index(record)
        self._out = [one for one in done if one.brought and one.id in gone]

    def deepen(self, step: Step) -> Step | None:
        """The step with what belongs there now; None where what is there is right already."""
        if not isinstance(step, Write) or step.edits:
            return step
        sha256 = _hash_of(step)
        content: bytes | Prepared | None = step.content
        mode = step.mode
        start = self._place
        while (owner := self._owner(step.at, start, sha256)) is not None and self._is_out(owner):
            before = self._before(self._done[owner], step.at)
            if before is None:
                return Remove(step.at) if step.before is not None else None
            content, mode, sha256 = before
            start = owner
        if sha256 == step.before:
            return None
        assert content is not None
        return replace(step, content=content, mode=mode)

    def _before(self, record: Record, at: VolumePath) -> tuple[bytes | Prepared, int | None, str] | None:
        """What a pack that is out had replaced at a place; None where it had made it."""
        written = next((one for one in self._files(record) if self._by_now(record, one) == at), None)
        if written is None or written.replaces is None:
            return None
        thing = record.thing(written.replaces)
        ground = self._grounds[thing.volume]
        mode = thing.metadata.mode if thing.metadata is not None else None
        if thing.copy is None and not thing.fingerprint.startswith("file:"):
            path = ground.root / record.folder / "kept" / str(thing.id)
            size = int(thing.fingerprint.split(":")[1])
            return Prepared(str(path), size, hash_in(thing)), mode, hash_in(thing)
        kept = read_kept(ground, record, thing)
        return kept, mode, digest(kept)

    def find_others(self, tree: Tree, steps: Sequence[Step]) -> list[VolumePath]:
        """Files that are not the pack's any more, though what is in them is what it had written."""
        found = []
        for step in steps:
            at = place_of(step)
            is_known = any(at in left for left in self._left[self._place :])
            item = tree.stat(at) if is_known and not (isinstance(step, Write) and step.edits) else None
            if item is None or item.kind != "file":
                continue
            if self._owner(at, len(self._done), digest(tree.read(at))) != self._place:
                found.append(at)
        return found

    def _is_out(self, place: int) -> bool:
        """Whether a change added packs that are out by now."""
        return bool(self._done[place].brought) and self._done[place].id in self._gone

    def _owner(self, at: VolumePath, end: int, sha256: str) -> int | None:
        """Which of the changes before `end` made a file what it was then; None where a hand did.

        An undo gives a file back to whoever it was of before what it undid; packs that are out by then had
        taken their content along. Content that no change left is a hand's.
        """
        is_given_back = False
        while True:
            place = next((one for one in reversed(range(end)) if at in self._left[one]), None)
            if place is None:
                return None
            record, is_same = self._done[place], self._left[place][at] == sha256
            if record.undoes and is_same:
                undone = [
                    one
                    for one in range(place)
                    if self._done[one].id in record.undoes and at in self._left[one]
                ]
                end, is_given_back = min(undone, default=place), True
            elif is_same:
                return place
            elif is_given_back and self._is_out(place) and not record.undoes:
                end = place
            else:
                return None

    @staticmethod
    def _files(record: Record) -> Iterator[Touched]:
        return (one for one in record.things if one.is_new and one.kind == "file" and one.final is not None)

    def _by_now(self, record: Record, thing: Touched) -> VolumePath:
        place = record.place(thing.volume, thing.goal(forward=True), at_end=True)
        for one in self._done[self._done.index(record) + 1 :]:
            place = self._trails[one.id].follow(place)
        return place

    def only_followed(self, at: VolumePath, brought: BroughtPack) -> bool:
        """Whether a file that the pack made was changed by nothing but renames of the pack's own entries,
        which its text followed."""
        made = [one for one in self._files(self._record) if one.replaces is None]
        if not any(self._by_now(self._record, one) == at for one in made):
            return False
        item = DiskTree(self._card).stat(at)
        start = self._done.index(self._record) + 1
        entries = [VolumePath(*text.split(":", 1)) for text in brought.pack.entries]
        last = ""
        for place, record in enumerate(self._done[start:], start):
            later = [self._trails[one.id] for one in self._done[place + 1 :]]
            left = find_left(record, later).get(at)
            moved = {str(step["at"]) for step in record.steps if step["step"] == "move"}
            if left is not None and not moved & set(map(str, entries)):
                return False
            last = left or last
            entries = [self._trails[record.id].follow(one) for one in entries]
        return bool(last) and item is not None and digest(DiskTree(self._card).read(at)) == last

    def made_folders(self) -> list[VolumePath]:
        """Folders that this pack made, or one that is out, where they stand by now."""
        return [
            self._by_now(record, thing)
            for record in (*self._out, self._record)
            for thing in record.things
            if thing.is_made_folder
        ]


def _is_of(step: Step, brought: BroughtPack) -> bool:
    """Whether a step takes back what the pack's own steps did, and not what else its change put away."""
    return (step.to if isinstance(step, Move) else step.at) in brought.places


def _is_of_other(step: Step, others: Sequence[VolumePath]) -> bool:
    at = place_of(step)
    is_around = isinstance(step, Remove) and any(other.is_below(at) for other in others)
    return at in others or is_around


def _hash_of(step: Write) -> str:
    return step.content.sha256 if isinstance(step.content, Prepared) else digest(step.content)


def _sort_conflicts(
    tree: Tree, conflicts: Sequence[Conflict], brought: BroughtPack, traces: Traces
) -> tuple[tuple[Conflict, ...], list[str]]:
    """Those that are in the way, and a sentence for each that is not: another pack's file, or none at all."""
    left, notes = [], []
    for conflict in conflicts:
        at = conflict.at
        try:
            item = tree.stat(at)
            now = digest(tree.read(at)) if item is not None and item.kind == "file" else ""
        except CardError:
            left.append(conflict)
            continue
        other = traces.pack_of(at, now)
        if other is not None and other.change != brought.change:
            notes.append(f"{shown(str(at))} stays: the pack {shown(other.pack.name)} has put it there since.")
        elif item is None:
            notes.append(f"{shown(str(at))} is not there any more.")
        else:
            left.append(conflict)
    return tuple(left), notes


def _true_notes(tree: Tree, plan: Plan) -> list[str]:
    """Without those that say of a folder that it stays, where it goes after all."""
    after = plan.on(tree)
    gone = [step.at for step in plan.steps if isinstance(step, Remove) and after.stat(step.at) is None]
    return [note for note in plan.notes if not any(f" {shown(str(at))} stays" in note for at in gone)]


def _drop_empty_folders(tree: Tree, plan: Plan, folders: Sequence[VolumePath]) -> Plan:
    """Also take away folders that packs had made and that nothing is in any more."""
    after = plan.on(tree)
    for folder in sorted(set(folders), key=lambda at: -at.path.count("/")):
        if folder.is_in_ledger:
            continue
        item = after.stat(folder)
        if item is not None and item.kind == "folder" and not after.list(folder):
            plan = replace(plan, steps=(*plan.steps, Remove(folder)))
            after = plan.on(tree)
    return plan
