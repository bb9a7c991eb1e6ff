"""Where the paths in a card's texts lead: through the device's own mount points, variables, and folders.

Mount points and variables are learned from the texts themselves: what stands in front of a path that exists
on a volume is where the device has that volume.
"""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence

from workbench.card.command_words import split_command
from workbench.card.path_text import NOWHERE, PathText, read_path
from workbench.jobs.survey.places import Places
from workbench.jobs.survey.reading import Manifest
from workbench.jobs.survey.sites import Chain, Site
from workbench.values import dataclass, field, replace

_VARIABLE = re.compile(r"\$(?:(\w+)|\{(\w+)\})(?=/)", re.ASCII)
_LONGEST = 2048
_MOST_LEARNED = 20_000
_MOST_OF_SITE = 500
"""Texts of one kind of place that are asked where they lead: the rest say the same."""
_SPLITTING = re.compile(r"[\s\"']")
_NAME = re.compile(r"[A-Za-z_][A-Za-z0-9_]*", re.ASCII)


@dataclass(frozen=True, slots=True)
class Route:
    """What a path leads to."""

    volume: str
    parts: tuple[str, ...]
    homes: tuple[int, ...]
    """The folder in which each part was found; shorter than `parts` where the path breaks off."""
    first: int = 0
    """The first part that stands in the text itself; those before come from a folder."""
    in_command: bool = False
    """The path is a word of a command that the text holds."""

    @property
    def exists(self) -> bool:
        return len(self.homes) == len(self.parts)


@dataclass(frozen=True, slots=True)
class Seen:
    """A place that taught something."""

    site: Site = field(repr=False)
    chain: Chain = field(repr=False)
    text: str


@dataclass(slots=True, eq=False)
class _Votes:
    count: Counter[str] = field(default_factory=Counter)
    seen: dict[str, list[Seen]] = field(default_factory=dict)

    def add(self, value: str, seen: Seen) -> None:
        self.count[value] += 1
        places = self.seen.setdefault(value, [])
        if len(places) < 3:
            places.append(seen)

    def is_telling(self, value: str) -> bool:
        """Whether more than one text says so, or one with a name that is no common word."""
        return self.count[value] > 1 or any(not seen.text.isalnum() for seen in self.seen[value])

    def best(self) -> str | None:
        found = self.count.most_common(1)
        return found[0][0] if found else None


class Routes:
    """Resolves paths as the device would."""

    def __init__(self, places: Places, sites: Sequence[Site], *, is_first_look: bool = False) -> None:
        """Learn from the texts; at a first look, paths from a folder that nobody named lead nowhere."""
        self._places = places
        self._is_first_look = is_first_look
        self.mounts: dict[str, str] = {}
        """Device path by volume."""
        self.mount_votes: dict[str, _Votes] = defaultdict(_Votes)
        self.variables: dict[str, str] = {}
        self.variable_votes: dict[str, _Votes] = defaultdict(_Votes)
        self._loose_votes: dict[str, _Votes] = defaultdict(_Votes)
        """The same, from paths with one name below the mount point."""
        self._is_rooted: set[str] = set()
        """Volumes whose own root is where absolute paths start."""
        self._learn(list(_pathlike(sites)), _assignments(sites))
        self._known: dict[tuple[str, str, str], Route | None] = {}

    # Learning

    def _learn(self, seen: list[Seen], assigned: Mapping[str, list[Seen]]) -> None:
        led: list[tuple[str, Seen]] = []
        for one in seen:
            variable = _VARIABLE.match(one.text)
            if variable is not None:
                name = variable[1] or variable[2]
                if not _sets(one, name):
                    led.append((name, one))
            else:
                self._vote_mount(one, one.text)
        for name, one in led:
            for said in assigned.get(name, ())[:2]:
                rest = one.text[one.text.index("/") :]
                self._vote_mount(one, said.text.rstrip("/") + rest)
        self._settle_mounts()
        for name, one in led:
            self._vote_variable(name, one, assigned)
        asked = Counter(name for name, _ in {(name, id(one.chain)) for name, one in led})
        for name, votes in self.variable_votes.items():
            value = votes.best()
            if value is not None and votes.count[value] >= 0.8 * asked[name]:
                self.variables[name] = value

    def _vote_mount(self, seen: Seen, text: str) -> None:
        parts = absolute_parts(text)
        for start in range(len(parts)):
            for volume in self._places.volumes:
                rest = parts[start:]
                if not self._places.exists(volume, rest):
                    continue
                # One name alone may be a coincidence: `/bin/play` does not make `play` a root.
                votes = self.mount_votes if len(rest) > 1 or start == 0 else self._loose_votes
                votes[volume].add("/" + "/".join(parts[:start]), seen)
                return

    def _settle_mounts(self) -> None:
        for volume, loose in self._loose_votes.items():
            best = loose.best()
            if best is not None and volume not in self.mount_votes and loose.is_telling(best):
                self.mount_votes[volume] = loose
        taken: dict[str, tuple[int, str]] = {}
        for volume, votes in self.mount_votes.items():
            best = votes.best()
            if best is None:
                continue
            if best == "/":
                self._is_rooted.add(volume)
            elif best not in taken or votes.count[best] > taken[best][0]:
                taken[best] = (votes.count[best], volume)
        self.mounts = {volume: mount for mount, (_, volume) in taken.items()}

    def _vote_variable(self, name: str, seen: Seen, assigned: Mapping[str, list[Seen]]) -> None:
        rest = _plain_parts(seen.text[seen.text.index("/") :])
        for said in assigned.get(name, ()):
            route = self._route_absolute(absolute_parts(said.text) + rest)
            if route is not None and route.exists:
                self.variable_votes[name].add(said.text.rstrip("/"), said)
                return
        for volume in self._places.volumes:
            mount = self.mounts.get(volume, "")
            if self._places.exists(volume, rest):
                self.variable_votes[name].add(mount or "/", seen)
                return
            for number in self._places.homes_of_name(rest[0]) if rest and not self._is_first_look else ():
                folder = self._places.folders[number]
                if folder.volume == volume and self._places.exists(volume, [*split_path(folder.path), *rest]):
                    self.variable_votes[name].add(f"{mount}/{folder.path}", seen)
                    return

    # Resolving

    def find(self, text: str, manifest: Manifest) -> tuple[Route, ...]:
        """What a text leads to, read as a path or as a command with paths among its words."""
        if "/" not in text or len(text) > _LONGEST:
            return ()
        route = self._find_path(text, manifest)
        if route is not None:
            return (route,)
        if not _SPLITTING.search(text):
            return ()
        words = (word.text for word in split_command(text) if "/" in word.text)
        found = (self._find_path(word, manifest) for word in words)
        return tuple(replace(one, in_command=True) for one in found if one is not None)

    def _find_path(self, text: str, manifest: Manifest) -> Route | None:
        key = text, manifest.volume, manifest.path.rpartition("/")[0]
        if key not in self._known:
            self._known[key] = self._find_new(text, manifest)
        return self._known[key]

    def _find_new(self, text: str, manifest: Manifest) -> Route | None:
        for path in read_path(text, 0, len(text), self.variables):
            route = self._route(path, manifest)
            if route is not None:
                return route
        return None

    def _route(self, path: PathText, manifest: Manifest) -> Route | None:
        parts = [part.text for part in path.components]
        if not parts:
            return None
        if path.is_absolute:
            return self._route_absolute(parts, manifest.volume)
        if any(part.start == NOWHERE for part in path.components):
            return None
        return self._route_relative(parts, manifest)

    def _route_absolute(self, parts: Sequence[str], home: str | None = None) -> Route | None:
        whole = _walk(parts)
        for volume, mount in sorted(self.mounts.items(), key=lambda one: -len(one[1])):
            start = mount.strip("/").split("/")
            if whole[: len(start)] == start and len(whole) > len(start):
                return self._make(volume, whole[len(start) :])
        if home is not None and home not in self.mounts:
            route = self._make(home, whole)
            return route if route is not None and route.exists else None
        return None

    def _route_relative(self, parts: Sequence[str], manifest: Manifest) -> Route | None:
        """From the manifest's folder, its volume's root, other roots, a folder that holds the first part."""
        bases = [(manifest.volume, split_path(manifest.path)[:-1]), (manifest.volume, [])]
        bases += [(volume, []) for volume in self._places.volumes if volume != manifest.volume]
        routes = [self._make(volume, *_join(base, parts)) for volume, base in bases]
        for route in routes:
            if route is not None and route.exists and len(route.parts) > route.first:
                return route
        plain = _walk(parts)
        if len(plain) > 1 and not self._is_first_look:
            for number in self._places.homes_of_name(plain[0]):
                home = self._places.folders[number]
                base = split_path(home.path)
                if self._places.exists(home.volume, [*base, *plain]):
                    return self._make(home.volume, [*base, *plain], len(base))
        return None

    def _make(self, volume: str, parts: Sequence[str], first: int = 0) -> Route | None:
        homes = self._places.trace(volume, parts)
        return Route(volume, tuple(parts), tuple(homes), first) if homes else None


def _pathlike(sites: Iterable[Site]) -> Iterable[Seen]:
    """Texts that start as an absolute path, an address of a file or a variable, words of commands too."""
    count = 0
    for site in sites:
        if site.is_key:
            continue
        for chain, text in site.samples[:: max(1, len(site.samples) // _MOST_OF_SITE)]:
            if "/" not in text or len(text) > _LONGEST or count > _MOST_LEARNED:
                continue
            if text.startswith(("/", "file:", "$")):
                count += 1
                yield Seen(site, chain, text)
            if " " in text and not text.startswith("file:"):
                for word in split_command(text):
                    if word.text != text and word.text.startswith(("/", "$")) and "/" in word.text[1:]:
                        count += 1
                        yield Seen(site, chain, word.text)


def _sets(seen: Seen, name: str) -> bool:
    """Whether a script gives the name a value of its own."""
    data = seen.site.shape.manifests[seen.site.file_of(seen.chain)].data
    return seen.site.shape.format == "shell" and name in data


def _assignments(sites: Iterable[Site]) -> dict[str, list[Seen]]:
    """Absolute paths that scripts and key=value files give to a name."""
    found: dict[str, list[Seen]] = defaultdict(list)
    for site in sites:
        if site.shape.format in ("shell", "keyvalue") and len(site.tokens) == 1 and not site.is_key:
            name = site.tokens[0]
            if _NAME.fullmatch(name):
                found[name] += (
                    Seen(site, chain, text) for chain, text in site.samples if text.startswith("/")
                )
    return found


def absolute_parts(text: str) -> list[str]:
    """The parts of an absolute path or of an address of a file; none of any other text."""
    if text.startswith("$") or not text.startswith(("/", "file:")):
        return []
    readings = read_path(text, 0, len(text), {})
    return _walk([part.text for part in readings[0].components]) if readings else []


def _plain_parts(text: str) -> list[str]:
    return _walk([part for part in text.split("/") if part])


def _walk(parts: Sequence[str]) -> list[str]:
    """Without `.` and `..`."""
    done: list[str] = []
    for part in parts:
        if part == "..":
            del done[-1:]
        elif part != ".":
            done.append(part)
    return done


def _join(base: Sequence[str], parts: Sequence[str]) -> tuple[list[str], int]:
    """The path from a folder on, and how much of the folder is left in it."""
    done, first = list(base), len(base)
    for part in parts:
        if part == "..":
            del done[-1:]
            first = min(first, len(done))
        elif part != ".":
            done.append(part)
    return done, first


def split_path(path: str) -> list[str]:
    """The parts of a path below a volume; none of `""`."""
    return path.split("/") if path else []
