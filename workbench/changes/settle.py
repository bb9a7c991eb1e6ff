"""Puts every thing of a change where it belongs: the one engine behind apply, going forward and going back.

It needs to know only where each thing stands now (`Standing`), not how it came there. Nothing is overwritten
that has no other copy, nothing unknown is overwritten at all, and no step needs space that is not reserved.
"""

from __future__ import annotations

import errno
from collections.abc import Callable, Iterable

from workbench.changes.ground import Ground, fold_host, sync
from workbench.changes.record import Record
from workbench.changes.remake import dress, remake
from workbench.changes.touched import OWN, ROOT, Location, Touched
from workbench.errors import LedgerError, UnfinishedChangeError
from workbench.shown import shown
from workbench.values import dataclass, field


@dataclass(slots=True)
class Standing:
    """Where the things of a change stand on one volume."""

    where: dict[int, Location | None]
    """None: nowhere (not made yet, or overwritten)."""
    has_copy: set[int] = field(default_factory=set)
    """Things that may be overwritten: another copy of them was checked."""
    doubles: list[tuple[int, Location]] = field(default_factory=list)
    """Second names of one thing, left by a power cut on FAT; they may share its clusters."""
    ghosts: list[Location] = field(default_factory=list)
    """Empty files and folders at places of the change: names whose first cluster and size a power cut kept
    from being written, or that fsck cut to nothing."""


class Settling:
    """Moves the things of one change on one volume."""

    def __init__(self, ground: Ground, record: Record, standing: Standing) -> None:
        self.ground = ground
        self.record = record
        self.things = record.of_volume(ground.role)
        self.standing = standing
        self.changed: set[Location] = set()
        """Folders whose names changed, to be flushed where they stand in the end."""
        self.placed: list[int] = []
        """Things that were moved, to be flushed."""
        self.reports: list[str] = []
        self.doubled: set[int] = set()
        """Things that had a second name: their clusters may be shared, so they are never unlinked."""
        self._forward = True
        self._holders = {
            place.key(ground.fat): number for number, place in standing.where.items() if place is not None
        }
        """Which thing of ours stands at a place."""

    def run(self, *, forward: bool, tick: Callable[[], None] | None = None) -> None:
        """Move everything to its end, or to its start, and flush.

        Raises:
            UnfinishedChangeError: something unknown is in the way.
            OSError: the card refused; run it again, either way.
        """
        self._forward = forward
        waiting = [thing for thing in self._in_order() if not self._is_settled(thing)]
        while waiting:
            left = [thing for thing in waiting if not self._place(thing, tick)]
            if len(left) == len(waiting):
                self._make_way(left)
            waiting = left
        for thing in self.things:
            if self._is_spare(thing) and not self._is_at_rest(thing):
                self.move(thing, thing.rest)
        self.flush()

    def path(self, location: Location) -> str | None:
        """Where a location is now; None while the folder that it hangs on stands nowhere."""
        if location.base == ROOT:
            return location.path
        if location.base == OWN:
            return f"{self.record.folder}/{location.path}"
        base = self.standing.where.get(location.base)
        folder = None if base is None else self.path(base)
        return None if folder is None else f"{folder}/{location.path}"

    def check(self) -> None:
        """Compare the listings of the folders that were touched with what should be there, byte for byte.

        Raises:
            UnfinishedChangeError: a name is missing, spelled otherwise, or still there.
        """
        wanted: dict[str, set[str]] = {}
        gone: dict[str, set[str]] = {}
        for thing in self.things:
            self._expect(thing, wanted, gone)
        for folder in {*wanted, *gone}:
            names = set(self.ground.names(folder))
            keys = {fold_host(name) for name in names} if self.ground.fat else names
            missing = wanted.get(folder, set()) - names
            if self.ground.fat:  # a name that was there keeps its spelling when a file replaces it
                missing = {name for name in missing if fold_host(name) not in keys or self._is_moved(name)}
            extra = (gone.get(folder, set()) - wanted.get(folder, set())) & names
            if missing or extra:
                raise self._stop(
                    f"{folder}/{min(missing | extra)}", "is not as it should be after the change"
                )

    # Where things belong

    def _in_order(self) -> Iterable[Touched]:
        return self.things if self._forward else reversed(self.things)

    def _goal(self, thing: Touched) -> Location:
        return thing.goal(forward=self._forward)

    def _is_spare(self, thing: Touched) -> bool:
        """Whether it only has to leave, and may be overwritten because another copy of it is kept."""
        return thing.id in self.standing.has_copy and self._goal(thing) == thing.rest

    def _is_at_rest(self, thing: Touched) -> bool:
        place = self.standing.where.get(thing.id)
        return place is None or place.base == OWN

    def _is_settled(self, thing: Touched) -> bool:
        if self._is_spare(thing):
            return True
        place = self.standing.where.get(thing.id)
        if place is None:
            return self._goal(thing) == thing.rest
        return place == self._goal(thing)

    def _at(self, location: Location) -> Touched | None:
        """The thing of ours that stands there."""
        number = self._holders.get(location.key(self.ground.fat))
        return None if number is None else self.record.thing(number)

    def stand(self, number: int, location: Location | None) -> None:
        """From now on a thing stands there, or nowhere."""
        before = self.standing.where.get(number)
        if before is not None and self._holders.get(before.key(self.ground.fat)) == number:
            del self._holders[before.key(self.ground.fat)]
        self.standing.where[number] = location
        if location is not None:
            self._holders[location.key(self.ground.fat)] = number

    def hangs_on(self, location: Location, thing: Touched) -> bool:
        """Whether a location is inside that thing, as things stand."""
        base: Location | None = location
        while base is not None and base.base > 0:
            if base.base == thing.id:
                return True
            base = self.standing.where.get(base.base)
        return False

    # Moving

    def _place(self, thing: Touched, tick: Callable[[], None] | None) -> bool:
        """Put a thing where it belongs; False while that cannot be."""
        goal = self._goal(thing)
        if self.path(goal) is None or self.hangs_on(goal, thing):
            return False
        there = self._at(goal)
        if there is thing:  # another spelling of the same name: FAT ignores a direct rename
            self.move(thing, Location(OWN, f"stage/{thing.id}"))
        elif there is not None and not self._may_overwrite(thing, there):
            return False
        if tick is not None:
            tick()
        place = self.standing.where.get(thing.id)
        if place is None:
            self._remake(thing)
        elif place == _again(thing):
            self._dress_again(thing)
        self.move(thing, goal, over=there if there is not thing else None)
        return True

    def _may_overwrite(self, thing: Touched, there: Touched) -> bool:
        return self._is_spare(there) and there.kind == "file" and thing.kind == "file"

    def _make_way(self, waiting: list[Touched]) -> None:
        """Break a circle: take one thing that stands in another's place into the change's own folder."""
        goals = {self._goal(thing).key(self.ground.fat) for thing in waiting}
        for thing in self.things:
            place = self.standing.where.get(thing.id)
            if place is None or place.base == OWN:
                continue
            if place.key(self.ground.fat) in goals or any(
                self.hangs_on(self._goal(other), thing) for other in waiting
            ):
                if self._is_spare(thing):
                    self.move(thing, thing.rest)
                else:
                    self.move(thing, Location(OWN, f"stage/{thing.id}"))
                return
        raise self._stop(self.record.folder, "holds moves that no order can carry out")

    def move(self, thing: Touched, to: Location, *, over: Touched | None = None) -> None:
        place = self.standing.where.get(thing.id)
        assert place is not None
        source, target = self.path(place), self.path(to)
        assert source is not None and target is not None
        if to == thing.rest and thing.copy == "kept":
            pass  # over its own second copy: one of the two is enough
        elif to.base == OWN:
            self._make_room_for(target)
        elif over is None and self.ground.lstat(target) is not None:
            raise self._stop(target, "is in the way and does not belong to this change")
        self.with_room(lambda: self.ground.rename(source, target))
        self.changed |= {_folder_of(place), _folder_of(to)}
        if over is not None:
            self.stand(over.id, None)
        self.stand(thing.id, to)
        if thing.copy is None and self._caches_names:
            self.ground.sync_item(target)  # its new name is whole on the card before its old one ends
        else:
            self.placed.append(thing.id)

    @property
    def _caches_names(self) -> bool:
        """Whether a moved thing's first cluster and size are written with the thing itself, and late: so
        the kernel's FAT does it (vfat_rename); a file system in user space has no such cache of the kernel's.
        """
        return self.ground.fat and not self.ground.is_fuse

    def _make_room_for(self, path: str) -> None:
        """A place in the change's own folder: its parent is there, and no leftover of ours is."""
        folder = path.rpartition("/")[0]
        if self.ground.lstat(folder) is None:
            self.with_room(lambda: self.ground.make_folder(folder))
            self.changed.add(Location(OWN, ""))
        elif self.ground.lstat(path) is not None:
            self.set_aside(path)

    def set_aside(self, path: str) -> None:
        """Something unknown in the change's own folder; never deleted, its clusters may be another's."""
        folder = f"{self.record.folder}/doubles"
        if self.ground.lstat(folder) is None:
            self.with_room(lambda: self.ground.make_folder(folder))
        taken = set(self.ground.names(folder))
        free = next(f"{n}" for n in range(1, len(taken) + 2) if f"{n}" not in taken)
        self.with_room(lambda: self.ground.rename(path, f"{folder}/{free}"))
        self.changed |= {Location(OWN, ""), Location(OWN, "doubles")}

    def _remake(self, thing: Touched) -> None:
        """A thing that stands nowhere: made again from what the ledger keeps."""
        location = _again(thing)
        path = self.path(location)
        assert path is not None
        if self.ground.lstat(path) is not None:
            self.ground.remove_file(
                path
            )  # a piece left by a try that was cut off; a whole one would be known
        self._make_room_for(path)
        try:
            self.with_room(lambda: remake(self.ground, self.record, thing, path))
        except LedgerError as error:
            raise self._stop(path, f"cannot be made again: {error.message}") from error
        self.stand(thing.id, location)

    def _dress_again(self, thing: Touched) -> None:
        """A copy made by a recovery that was cut off may lack what comes after the bytes."""
        if thing.kind == "folder":
            return
        path = self.path(_again(thing))
        assert path is not None
        with self.ground.reading(path) as handle:
            dress(self.ground, self.record, thing, handle)
            sync(handle)

    def with_room(self, act: Callable[[], None]) -> None:
        """Act; on a full volume let go of the reserve, which is there for this, and act again."""
        try:
            act()
        except OSError as error:
            if error.errno not in (errno.ENOSPC, errno.EDQUOT):
                raise
            try:
                self.ground.remove_file(f"{self.record.folder}/reserve")
            except OSError:
                raise error from None
            act()

    # Afterwards

    def flush(self) -> None:
        """Flush what was moved, and the folders that changed."""
        if self._caches_names:
            for number in dict.fromkeys(self.placed):
                place = self.standing.where.get(number)
                path = None if place is None else self.path(place)
                if path is not None:
                    self.ground.sync_item(path)
        paths = {self.folder_path(folder) for folder in self.changed}
        for path in sorted(path for path in paths if path is not None):
            self.ground.sync_folder(path)
        self.placed = []
        self.changed = set()

    def folder_path(self, folder: Location) -> str | None:
        """Where a folder is now; an empty path means the base itself."""
        if folder.path:
            return self.path(folder)
        if folder.base == ROOT:
            return ""
        if folder.base == OWN:
            return self.record.folder
        place = self.standing.where.get(folder.base)
        return None if place is None else self.path(place)

    def _expect(self, thing: Touched, wanted: dict[str, set[str]], gone: dict[str, set[str]]) -> None:
        goal = self._goal(thing)
        for location in {*thing.visited, goal}:
            path = self.path(location)
            if path is None or location.base == OWN:
                continue
            folder, _, name = path.rpartition("/")
            is_goal = location == goal and not self._is_spare(thing)
            (wanted if is_goal else gone).setdefault(folder, set()).add(name)

    def _is_moved(self, name: str) -> bool:
        """Whether a name is one that a move gave, so that its spelling has to be exactly so."""
        return any(
            self._goal(thing).path.rpartition("/")[2] == name and not thing.is_new for thing in self.things
        )

    def _stop(self, path: str, why: str) -> UnfinishedChangeError:
        at = f"{self.ground.role}:{path}"
        return UnfinishedChangeError(
            f"{shown(at)} {why}. Change {self.record.number} ({shown(self.record.title)}) stays unfinished "
            "and everything is kept; see to that file, then run `cardwright recover`.",
            path=at,
        )


def _again(thing: Touched) -> Location:
    """Where a thing is made again."""
    return Location(OWN, f"stage/again-{thing.id}")


def _folder_of(location: Location) -> Location:
    return Location(location.base, location.path.rpartition("/")[0])
