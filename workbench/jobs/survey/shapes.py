"""Puts manifests of one shape together (`sky/*/piece.toml`, `memory/*.list`): the `file` of a rule."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from itertools import islice

from workbench.jobs.survey.places import suffix_of
from workbench.jobs.survey.plain import LINES, Plain
from workbench.jobs.survey.reading import Manifest
from workbench.manifests.document import Format
from workbench.values import dataclass, field

_MOST_PATHS = 200
_ALIKE = 0.6


@dataclass(frozen=True, slots=True, eq=False)
class Shape:
    """Files that hold the same things in the same places."""

    volume: str
    pattern: str
    """Their path, `*` where they differ."""
    format: Format
    manifests: tuple[Manifest, ...] = field(repr=False)

    @property
    def is_plain(self) -> bool:
        return "*" not in self.pattern


def find_shapes(manifests: Iterable[Manifest], is_name: Callable[[str], bool]) -> list[Shape]:
    """The shapes of a card's manifests; one of a kind is a shape of its own."""
    groups: dict[tuple[str, str, str], list[Manifest]] = defaultdict(list)
    for manifest in manifests:
        groups[manifest.volume, manifest.format, manifest.path.rpartition("/")[2]].append(manifest)
    shapes: list[Shape] = []
    single: list[Manifest] = []
    for alike in groups.values():
        found, left = _join_folders(alike)
        shapes += found
        single += left
    return shapes + _join_names(single, manifests_of(groups.values()), is_name)


def manifests_of(groups: Iterable[Sequence[Manifest]]) -> list[Manifest]:
    return [one for group in groups for one in group]


def _join_folders(alike: list[Manifest]) -> tuple[list[Shape], list[Manifest]]:
    """Files of one name whose paths differ in one folder, and then in one folder more."""
    by_pattern: dict[tuple[str, ...], list[Manifest]] = {tuple(one.path.split("/")): [one] for one in alike}
    for _ in range(2):
        by_pattern = _join_once(by_pattern)
    shapes, single = [], []
    for parts, members in by_pattern.items():
        if len(members) > 1:
            first = members[0]
            shapes.append(Shape(first.volume, "/".join(parts), first.format, tuple(members)))
        else:
            single += members
    return shapes, single


def _join_once(patterns: dict[tuple[str, ...], list[Manifest]]) -> dict[tuple[str, ...], list[Manifest]]:
    """Patterns that are equal but for one folder become one, largest groups first."""
    groups: dict[tuple[str, ...], list[tuple[str, ...]]] = defaultdict(list)
    for parts in patterns:
        for place in range(len(parts) - 1):
            if parts[place] != "*":
                groups[(*parts[:place], "*", *parts[place + 1 :])].append(parts)
    joined = dict(patterns)
    for pattern, members in sorted(groups.items(), key=lambda group: -len(group[1])):
        left = [parts for parts in members if parts in joined]
        if len(left) > 1:
            joined[pattern] = [one for parts in left for one in joined.pop(parts)]
    return joined


def _join_names(
    single: list[Manifest],
    everything: list[Manifest],
    is_name: Callable[[str], bool],
) -> list[Shape]:
    """Files of one suffix in one folder that hold the same things."""
    formats: dict[tuple[str, str, str], set[str]] = defaultdict(set)
    for one in everything:
        formats[_family(one)].add(one.format)
    families: dict[tuple[str, str, str], list[Manifest]] = defaultdict(list)
    for one in single:
        families[_family(one)].append(one)
    found: list[Shape] = []
    for family, members in families.items():
        is_mixed = len(formats[family]) > 1 or not family[2]
        clusters = _cluster(members, is_name)
        # Lists have no keys by which a rule tells one from another: only paths say what they mean.
        is_list = members[0].format == "lines"
        is_mixed = is_mixed or (is_list and (len(clusters) > 1 or _kind_of_lines(_lines(members)) == "texts"))
        for cluster in [[one] for one in members] if is_mixed else clusters:
            found.append(_make_shape(family, cluster))
    return found


def _family(manifest: Manifest) -> tuple[str, str, str]:
    folder, _, name = manifest.path.rpartition("/")
    return manifest.volume, folder, suffix_of(name)


def _make_shape(family: tuple[str, str, str], cluster: list[Manifest]) -> Shape:
    volume, folder, _ = family
    path = cluster[0].path
    if len(cluster) > 1:
        suffix = path.rpartition(".")[2]
        path = f"{folder}/*.{suffix}" if folder else f"*.{suffix}"
    return Shape(volume, path, cluster[0].format, tuple(cluster))


def _cluster(members: list[Manifest], is_name: Callable[[str], bool]) -> list[list[Manifest]]:
    clusters: list[tuple[frozenset[str], list[Manifest]]] = []
    for one in members:
        mine = _signature(one.data, is_name)
        for number, (theirs, cluster) in enumerate(clusters):
            if _is_alike(mine, theirs):
                cluster.append(one)
                clusters[number] = (theirs | mine, cluster)
                break
        else:
            clusters.append((mine, [one]))
    return [cluster for _, cluster in clusters]


def _is_alike(one: frozenset[str], other: frozenset[str]) -> bool:
    shared, smaller = len(one & other), min(len(one), len(other))
    return shared == smaller == 0 or (smaller > 0 and shared >= _ALIKE * smaller)


def _signature(data: Plain, is_name: Callable[[str], bool]) -> frozenset[str]:
    """The keys of the first levels; names of entries count as one."""
    if isinstance(data, dict) and isinstance(data.get(LINES), list):
        return frozenset((_kind_of_lines(data[LINES][:200]),))
    found: set[str] = set()
    waiting: list[tuple[str, int, Plain]] = [("", 0, data)]
    while waiting and len(found) < _MOST_PATHS:
        path, depth, here = waiting.pop()
        if isinstance(here, dict):
            for key, value in islice(here.items(), _MOST_PATHS):
                below = f"{path}/{'*' if is_name(key) else key}"
                found.add(below)
                if depth < 4:
                    waiting.append((below, depth + 1, value))
        elif isinstance(here, list) and here and depth < 4:
            waiting.append((f"{path}/*", depth + 1, here[0]))
    return frozenset(found)


def _lines(members: list[Manifest]) -> list[str]:
    return [line for one in members for line in one.data[LINES][:100]]


def _kind_of_lines(lines: list[str]) -> str:
    """Paths, names or sentences: what most of the lines look like."""
    paths = sum(1 for line in lines if "/" in line and not line.startswith("#"))
    return "paths" if 2 * paths > len(lines) else "texts"
