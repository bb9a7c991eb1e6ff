"""Finds the things of a change again, wherever a crash or a power cut left them.

Each thing is looked for at every place where it can be: where it was, where it goes, where it passed through,
and in the change's own folder. What it is known by decides, not which names happen to be there.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from workbench.changes.fingerprint import kind_in, take_fingerprint
from workbench.changes.ground import Ground, fold_host, kind_of
from workbench.changes.record import Record
from workbench.changes.remake import can_remake
from workbench.changes.settle import Settling, Standing
from workbench.changes.touched import OWN, Location, Touched
from workbench.errors import UnfinishedChangeError
from workbench.shown import shown

_EXACT, _MADE, _ALIKE = 0, 1, 2
"""How surely a thing is known: by its fingerprint; as a folder of ours; as a folder whose content changed."""


class Search:
    """Looks for the things of one change on one volume."""

    def __init__(self, ground: Ground, record: Record) -> None:
        self.ground = ground
        self.record = record
        self.things = record.of_volume(ground.role)
        self._inside = names_inside(self.things)
        self._taken: dict[tuple[str, int], str | None] = {}
        self._kinds: dict[str, str | None] = {}
        self._names: dict[str, frozenset[str]] = {}

    def run(self) -> Standing:
        """Where everything stands. Looks again until a folder's place no longer changes what is in it."""
        standing = Standing({})
        for _ in range(len(self.things) + 2):
            sight = Settling(self.ground, self.record, standing)
            found = self._assign(self._look(sight))
            if found == standing.where:
                break
            standing = Standing(found)
        sight = Settling(self.ground, self.record, standing)
        standing.doubles = self._find_doubles(sight)
        standing.ghosts = self._find_ghosts(sight)
        standing.has_copy = self._find_copies(standing)
        return standing

    def find_strangers(self, standing: Standing, *, forward: bool) -> list[str]:
        """Places where a thing has to go and something that is none of ours stands."""
        sight = Settling(self.ground, self.record, standing)
        doubles = [place for _, place in standing.doubles]
        known = self._paths(sight, [*standing.where.values(), *doubles, *standing.ghosts])
        strangers = []
        for thing in self.things:
            goal = thing.goal(forward=forward)
            path = None if goal.base == OWN else sight.path(goal)
            if path is not None and _fold(path, self.ground) not in known and self._kind(path) is not None:
                strangers.append(path)
        return strangers

    def find_lost(self, standing: Standing, *, forward: bool) -> list[Touched]:
        """Things that are needed and stand nowhere, with nothing to make them from."""
        lost = []
        for thing in self.things:
            if standing.where.get(thing.id) is not None or thing.is_made_folder:
                continue
            is_dropped = thing.goal(forward=forward) == thing.rest and (thing.is_new or thing.final is None)
            if not is_dropped and not can_remake(self.ground, self.record, thing):
                lost.append(thing)
        return lost

    def _candidates(self, thing: Touched) -> Iterable[Location]:
        own = [Location(OWN, path) for path in own_paths(thing)]
        if thing.is_made_folder and self._kind(f"{self.record.folder}/stage/{thing.id}") == "folder":
            return own[:1]  # a folder of ours is known by its place alone
        return dict.fromkeys((*own, *thing.visited))

    def _look(self, sight: Settling) -> dict[tuple[int, Location], tuple[int, int]]:
        """Each thing at each place where it may be, with how surely it is it (lower is surer)."""
        found: dict[tuple[int, Location], tuple[int, int]] = {}
        for thing in self.things:
            for location in self._candidates(thing):
                path = sight.path(location)
                if path is None or (location.base > 0 and not self._is_folder(path.rpartition("/")[0])):
                    continue
                sure = self._compare(thing, path)
                if sure is not None:
                    found[thing.id, location] = (sure, self._differences(thing, path))
        return found

    def _compare(self, thing: Touched, path: str) -> int | None:
        kind = self._kind(path)
        if kind != thing.kind:
            return None
        if thing.is_made_folder:
            return _MADE
        if kind_in(thing.fingerprint) == "file" and not self._has_size(thing, path):
            return None
        if self._fingerprint(thing, path) == thing.fingerprint:
            return _EXACT
        return _ALIKE if thing.kind == "folder" else None

    def _assign(self, found: Mapping[tuple[int, Location], tuple[int, int]]) -> dict[int, Location | None]:
        """One place for each thing and one thing for each place, surest first, as many as can be."""
        where: dict[int, Location | None] = {thing.id: None for thing in self.things}
        holder: dict[Location, int] = {}
        for sure in (_EXACT, _MADE, _ALIKE):
            for thing in self.things:
                if where[thing.id] is None:
                    self._give(thing.id, sure, found, where, holder, set())
        return where

    def _give(
        self,
        number: int,
        sure: int,
        found: Mapping[tuple[int, Location], tuple[int, int]],
        where: dict[int, Location | None],
        holder: dict[Location, int],
        tried: set[Location],
    ) -> bool:
        """Find a place for one thing, asking others to take their second choice (augmenting paths)."""
        mine = [(rank, place) for (one, place), rank in found.items() if one == number and rank[0] == sure]
        for _, place in sorted(mine, key=lambda one: self._preference(number, one[1], one[0])):
            if place in tried:
                continue
            tried.add(place)
            other = holder.get(place)
            if other is None or self._give(other, sure, found, where, holder, tried):
                where[number], holder[place] = place, number
                return True
        return False

    def _preference(self, number: int, place: Location, rank: tuple[int, int]) -> tuple[int, int, int]:
        """Fewer differences first, then a place on the card before one of our own, the final one first."""
        thing = self.record.thing(number)
        if thing.copy == "kept":  # the kept copy is not the thing itself while that still stands
            return (int(place.base == OWN), rank[1], 0)
        if thing.is_made_folder:
            return (int(place.base != OWN), rank[1], 0)
        return (rank[1], int(place.base == OWN), int(place != thing.final))

    def _find_doubles(self, sight: Settling) -> list[tuple[int, Location]]:
        """Second names of a thing: only where nothing else is known to stand there."""
        standing = sight.standing
        held = self._paths(sight, standing.where.values())
        doubles = []
        for (number, place), (sure, _) in self._look(sight).items():
            thing = self.record.thing(number)
            is_copy = thing.copy == "kept" and place == thing.rest
            path = sight.path(place)
            assert path is not None
            if (
                _fold(path, self.ground) in held
                or sure != _EXACT
                or is_copy
                or standing.where[number] is None
            ):
                continue
            held.add(_fold(path, self.ground))
            doubles.append((number, place))
        more = self._find_double_folders(sight)
        return doubles + [one for one in more if not self._paths(sight, [one[1]]) & held]

    def _paths(self, sight: Settling, places: Iterable[Location | None]) -> set[str]:
        """Where these places are, two spellings of one path being the same."""
        paths = (sight.path(place) for place in places if place is not None)
        return {_fold(path, self.ground) for path in paths if path is not None}

    def _find_double_folders(self, sight: Settling) -> list[tuple[int, Location]]:
        """A folder of ours that is still in `stage` and has, by a power cut, its new name too."""
        doubles = []
        for thing in self.things:
            standing = sight.standing.where.get(thing.id)
            own = None if standing is None else sight.path(standing)
            if not thing.is_made_folder or standing is None or standing.base != OWN or own is None:
                continue
            for place in thing.visited:
                path = sight.path(place)
                if path and self._is_folder(path) and self.ground.names(path) == self.ground.names(own):
                    doubles.append((thing.id, place))
        return doubles

    def _find_ghosts(self, sight: Settling) -> list[Location]:
        """Empty files and folders where the change had, or was to have, something that stands elsewhere."""
        standing = sight.standing
        held = self._paths(sight, [*standing.where.values(), *(place for _, place in standing.doubles)])
        ghosts: dict[str, Location] = {}
        for thing in self.things:
            for place in thing.visited:
                path = sight.path(place)
                if place.base == OWN or path is None or _fold(path, self.ground) in held:
                    continue
                if self._kind(path) == thing.kind and self._is_empty(path):
                    ghosts.setdefault(_fold(path, self.ground), place)
        return list(ghosts.values())

    def _is_empty(self, path: str) -> bool:
        if self._is_folder(path):
            return not self.ground.names(path)
        seen = self.ground.lstat(path)
        return seen is not None and self._kind(path) == "file" and seen.st_size == 0

    def _find_copies(self, standing: Standing) -> set[int]:
        doubled = {number for number, _ in standing.doubles}
        return {
            thing.id
            for thing in self.things
            if thing.is_kept and thing.id not in doubled and self._has_copy(thing, standing)
        }

    def _has_copy(self, thing: Touched, standing: Standing) -> bool:
        if thing.copy == "kept":
            path = f"{self.record.folder}/{thing.rest.path}"
            is_apart = standing.where.get(thing.id) != thing.rest
            return is_apart and self._compare(thing, path) == _EXACT
        return can_remake(self.ground, self.record, thing)

    # Looking at the card, each thing once

    def _kind(self, path: str) -> str | None:
        if path not in self._kinds:
            seen = self.ground.lstat(path)
            self._kinds[path] = None if seen is None else kind_of(seen)
        return self._kinds[path]

    def _is_folder(self, path: str) -> bool:
        return self._kind(path) == "folder"

    def _has_size(self, thing: Touched, path: str) -> bool:
        seen = self.ground.lstat(path)
        return seen is not None and thing.fingerprint.split(":")[1] == str(seen.st_size)

    def _fingerprint(self, thing: Touched, path: str) -> str | None:
        key = (path, thing.id if thing.kind == "folder" else 0)
        if key not in self._taken:
            inside = self._inside.get(thing.id, frozenset())
            try:
                self._taken[key] = take_fingerprint(self.ground, path, inside)
            except OSError:
                self._taken[key] = None  # an unreadable file is not known to be ours
        return self._taken[key]

    def _differences(self, thing: Touched, path: str) -> int:
        """Of what does not make a thing itself, but tells twins apart."""
        seen = self.ground.lstat(path)
        if seen is None:
            return 3
        is_twin = int(seen.st_ino != thing.hints[0]) + int(seen.st_mtime_ns != thing.hints[1])
        return is_twin + int(self.ground.fat and not self._is_spelled(path))

    def _is_spelled(self, path: str) -> bool:
        """Whether the name is spelled just so; a host that ignores case finds it under any spelling."""
        folder, _, name = path.rpartition("/")
        if folder not in self._names:
            self._names[folder] = frozenset(self.ground.names(folder))
        return name in self._names[folder]


def refuse_lost(record: Record, role: str, lost: list[Touched], strangers: list[str]) -> None:
    """Stop before anything is moved.

    Raises:
        UnfinishedChangeError: naming the first thing that is nowhere, or in the way.
    """
    begun = f"Change {record.number} ({shown(record.title)})"
    if strangers:
        raise UnfinishedChangeError(
            f"{shown(role)}:{shown(strangers[0])} is in the way and is not from this change. {begun} was "
            "left as it is; move that file elsewhere, then run `cardwright recover` again.",
            path=f"{role}:{strangers[0]}",
        )
    if lost:
        place = record.place(role, lost[0].visited[0], at_end=False)
        raise UnfinishedChangeError(
            f"{shown(str(place))} is nowhere to be found, under its old name or its new one, and no copy of "
            f"it is in the ledger. {begun} was left as it is; check the volume with fsck, which may bring "
            "the file back, then run `cardwright recover` again.",
            path=str(place),
        )


def own_paths(thing: Touched) -> tuple[str, ...]:
    """Where in the change's own folder a thing may be."""
    number = thing.id
    return (f"stage/{number}", f"kept/{number}", f"stage/again-{number}", f"aside/{number}")


def names_inside(things: Iterable[Touched]) -> dict[int, frozenset[str]]:
    """For each touched folder, the places in it that the change itself moves or writes."""
    inside: dict[int, set[str]] = {}
    for thing in things:
        for location in thing.visited:
            inside.setdefault(location.base, set()).add(location.path)
    return {base: frozenset(paths) for base, paths in inside.items()}


def _fold(path: str, ground: Ground) -> str:
    return fold_host(path) if ground.fat else path
