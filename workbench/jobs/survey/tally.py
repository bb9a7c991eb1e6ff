"""Counts which children of which folders the card's texts name: what speaks for a folder as a menu."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import Literal

from workbench.card.media_names import is_media
from workbench.jobs.survey.columns import find_fields
from workbench.jobs.survey.pictures import is_picture
from workbench.jobs.survey.places import Places, fold, stems_of, suffix_of
from workbench.jobs.survey.plain import LINES, WORDS
from workbench.jobs.survey.reading import Tell
from workbench.jobs.survey.routes import Routes
from workbench.jobs.survey.sites import Site
from workbench.values import dataclass, field

MOST_HOMES = 64
"""A name that stands in more folders than this says nothing about any of them."""
_SHARE = 0.3


@dataclass(slots=True, eq=False)
class _Named:
    """What names the children of one folder."""

    bare: dict[int, set[str]] = field(default_factory=lambda: defaultdict(set))
    """Folded names by site, given as whole texts."""
    stems: dict[int, set[str]] = field(default_factory=lambda: defaultdict(set))
    paths: dict[int, set[str]] = field(default_factory=lambda: defaultdict(set))


@dataclass(slots=True, eq=False)
class Candidate:
    """A folder, or several side by side, that may be a menu."""

    homes: tuple[int, ...]
    above: int | None
    """The folder that holds them, where there are several."""
    kind: Literal["folders", "files"]
    bare: dict[int, set[str]]
    stems: dict[int, set[str]]
    paths: dict[int, set[str]]
    children: set[str]
    """Every child that is named, folded."""
    suffixes: Counter[str]
    rivals: list[Candidate] = field(default_factory=list)

    repeats: float = 1.0
    """Files for each stem: what a device keeps for its entries comes in several."""

    @property
    def score(self) -> float:
        sure = sum(map(len, self.bare.values())) + sum(map(len, self.paths.values()))
        stems = sum(len(found) for site, found in self.stems.items() if site not in self.bare)
        return sure + 0.4 * stems / self.repeats

    @property
    def sites(self) -> set[int]:
        return {*self.bare, *self.stems, *self.paths}


class Tally:
    """Counts for every folder which of its children are named, and where."""

    def __init__(
        self, places: Places, sites: Sequence[Site], routes: Routes, tell: Tell | None = None
    ) -> None:
        self._places = places
        self._sites = sites
        self._named: dict[int, _Named] = defaultdict(_Named)
        self._lengths: dict[int, int] = {}
        for number, site in enumerate(sites):
            if tell is not None:
                tell("places compared with folders", number, len(sites))
            self._count(number, site, routes)

    def _count(self, number: int, site: Site, routes: Routes) -> None:
        named = self._named
        for chain, text in site.samples:
            if site.tokens[0] != WORDS:
                self._count_bare(number, text)
            if site.is_key:
                continue
            for route in routes.find(text, site.shape.manifests[site.file_of(chain)]):
                for place, home in enumerate(route.homes):
                    if place >= route.first:
                        named[home].paths[number].add(fold(route.parts[place]))
        if site.tokens[0] == LINES:
            for fields in find_fields([text for _, text in site.samples]):
                for text in fields:
                    self._count_bare(number, text)

    def _count_bare(self, number: int, text: str) -> None:
        """Folders with a child of this name or stem, spelled so: `THEME` is not the folder `theme`."""
        folded = fold(text)
        homes = self._places.homes_of_name(text)
        if len(homes) <= MOST_HOMES:
            for home in homes:
                if self._places.spells(home, text):
                    self._named[home].bare[number].add(folded)
        homes = self._places.homes_of_stem(text)
        if len(homes) <= MOST_HOMES:
            for home in homes:
                if self._places.spells(home, text):
                    self._named[home].stems[number].add(folded)

    def find_hidden(self, one: Candidate) -> tuple[str, ...]:
        """Folders beside the entries that nothing names, and that hold what names the entries."""
        if one.kind != "folders":
            return ()
        patterns = [(self._sites[site].shape.volume, self._sites[site].shape.pattern) for site in one.sites]
        found = []
        for home in one.homes:
            folder = self._places.folders[home]
            for name in self._places.children(home, folders=True):
                start = folder.child(name) + "/"
                if fold(name) not in one.children and any(
                    volume == folder.volume and pattern.startswith(start) for volume, pattern in patterns
                ):
                    found.append(name)
        return tuple(found)

    def make_rooms(self, above: int) -> Candidate:
        """The menu of the folders in a folder, whatever names them."""
        made = self._make((above,), None)
        if made is not None and made.kind == "folders":
            return made
        names = {fold(name) for name in self._places.children(above, folders=True)}
        return Candidate((above,), None, "folders", {}, {}, {}, names, Counter())

    def candidates(self) -> Iterable[Candidate]:
        """Folders, and families of folders, of which two children or more are named."""
        single = {}
        for home in self._named:
            one = self._make((home,), None)
            if one is not None:
                single[home] = one
        families = list(self._families(single))
        inside = {home for family in families for home in family.homes}
        yield from families
        yield from (one for home, one in single.items() if home not in inside and len(one.children) > 1)

    def _families(self, single: Mapping[int, Candidate]) -> Iterable[Candidate]:
        by_above: dict[int, list[int]] = defaultdict(list)
        for home in single:
            above = self._places.above(home)
            if above is not None:
                by_above[above.number].append(home)
        for above_number, homes in by_above.items():
            family = self._make_family(above_number, homes, single)
            if family is not None:
                yield family

    def _make_family(self, above: int, homes: list[int], single: Mapping[int, Candidate]) -> Candidate | None:
        kind = Counter(single[home].kind for home in homes).most_common(1)[0][0]
        homes = [home for home in homes if single[home].kind == kind]
        beside = sum(1 for _ in self._places.children(above, folders=True))
        at_root = not self._places.folders[above].path
        if len(homes) < 2 or len(homes) < (1.0 if at_root else 0.6) * beside:
            return None
        counts = [len(single[home].children) for home in homes]
        together = set().union(*(single[home].children for home in homes))
        if sum(counts) < 1.5 * len(homes) or len(together) < 0.7 * sum(counts):
            return None
        if self._repeats_names(homes, single):
            return None
        shared = [set(single[home].sites) for home in homes]
        if at_root and not set.intersection(*shared):
            return None
        return self._make(tuple(homes), above)

    def _repeats_names(self, homes: list[int], single: Mapping[int, Candidate]) -> bool:
        """Whether what lies in the folders bears the folders' own names (`Boats/Boats.bin`)."""
        same = 0
        for home in homes:
            name = fold(self._places.folders[home].name)
            same += any(child == name or name in cut_suffixes(child) for child in single[home].children)
        return 2 * same >= len(homes)

    def _make(self, homes: tuple[int, ...], above: int | None) -> Candidate | None:
        kinds: Counter[str] = Counter()
        suffixes: Counter[str] = Counter()
        children: dict[str, set[str]] = {"folders": set(), "files": set()}
        for home in homes:
            named = self._named[home]
            everything = set().union(*named.bare.values(), *named.paths.values())
            by_stem = set().union(*named.stems.values())
            folders = self._present(home, everything, folders=True)
            files = self._present(home, everything, folders=False)
            stemmed = {
                fold(name): name
                for name in self._places.children(home, folders=False)
                if by_stem and any(fold(stem) in by_stem for stem in stems_of(name)) and not is_picture(name)
            }
            files |= {key: name for key, name in stemmed.items() if not _is_settings(name)}
            kinds["folders"] += len(folders)
            kinds["files"] += len(files)
            suffixes.update(suffix_of(name) for name in files.values())
            children["folders"] |= folders.keys()
            children["files"] |= files.keys()
        if not kinds["folders"] and not kinds["files"]:
            return None
        kind: Literal["folders", "files"] = "folders" if kinds["folders"] >= kinds["files"] else "files"
        wanted = children[kind]
        merged = [self._merge(homes, part, wanted) for part in ("bare", "paths")]
        stems = (
            self._merge(homes, "stems", {fold(stem) for name in wanted for stem in stems_of(name)})
            if kind == "files"
            else {}
        )
        shortest = (
            {min(cut_suffixes(name), default=name, key=len) for name in wanted} if kind == "files" else wanted
        )
        repeats = len(wanted) / max(1, len(shortest))
        return Candidate(homes, above, kind, merged[0], stems, merged[1], wanted, suffixes, repeats=repeats)

    def _present(self, home: int, wanted: set[str], *, folders: bool) -> dict[str, str]:
        if not wanted:
            return {}
        return {
            fold(name): name
            for name in self._places.children(home, folders=folders)
            if fold(name) in wanted and (folders or not is_picture(name))
        }

    def _merge(self, homes: tuple[int, ...], part: str, wanted: set[str]) -> dict[int, set[str]]:
        merged: dict[int, set[str]] = defaultdict(set)
        for home in homes:
            for site, names in getattr(self._named[home], part).items():
                found = names & wanted
                if found:
                    merged[site] |= found
        return dict(merged)

    def is_strong(self, one: Candidate) -> bool:
        """Whether enough speaks for a menu: whole names, or one kind of place that leads to many children."""
        if len(one.children) < 2:
            return False
        plain = {**one.stems, **one.bare}
        if any(self._speaks(one, site, names, 2) for site, names in plain.items()):
            return True
        return any(self._speaks(one, site, names, 3) for site, names in one.paths.items())

    def _speaks(self, one: Candidate, number: int, names: set[str], least: int) -> bool:
        site = self._sites[number]
        if not site.is_open and len(site.shape.manifests) < least:
            return False
        different = len({fold(text) for _, text in site.samples})
        if site.tokens[0] == WORDS:
            if site.shape.is_plain:
                return self._lists_all(one, names)
            different = min(different, len(site.shape.manifests))
        return len(names) >= least and len(names) >= _SHARE * different

    def _lists_all(self, one: Candidate, names: set[str]) -> bool:
        """Whether a script goes through most of a folder; a few programs that it runs do not count."""
        wanted = [
            name
            for home in one.homes
            for name in self._places.children(home, folders=one.kind == "folders")
            if one.kind == "folders" or suffix_of(name) in one.suffixes
        ]
        is_program = one.kind == "files" and set(one.suffixes) <= {"", "sh"}
        return len(names) > 3 and not is_program and len(names) >= 0.6 * len(wanted)


def _is_settings(name: str) -> bool:
    """A file that is text by its suffix is seldom what a menu starts, and often goes with what it does."""
    return suffix_of(name) in ("txt", "md", "ini", "cfg", "conf", "json", "toml", "xml") or (
        is_media(name) and suffix_of(name) in ("gz", "zip", "xz")
    )


def cut_suffixes(child: str) -> set[str]:
    """A name without its last suffix, the last two, and so on."""
    parts = child.split(".")
    return {".".join(parts[:count]) for count in range(1, len(parts))}
