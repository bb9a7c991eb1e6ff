"""Which files the rules of a profile point at."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from workbench.card.globs import Glob, translate
from workbench.card.grounding import ground_pattern
from workbench.card.name_index import NameIndex
from workbench.card.paths import VolumePath
from workbench.card.profile import FilePattern, MenuRule, NamesRule, Profile, ReferenceRule
from workbench.card.tree import Tree
from workbench.errors import CardError
from workbench.manifests.document import Format
from workbench.values import dataclass, field


@dataclass(slots=True)
class RuledFile:
    """One manifest and the rules that hold for it, each with what its file pattern bound."""

    at: VolumePath
    rules: dict[Format, list[tuple[ReferenceRule, Mapping[str, str]]]] = field(default_factory=dict)


RuledFiles = Mapping[str, Mapping[str, RuledFile]]
"""By volume and path."""


def find_files(
    index: NameIndex, pattern: FilePattern, names: NamesRule
) -> Iterator[tuple[VolumePath, Mapping[str, str]]]:
    """The files that a pattern matches on the card, with its bindings."""
    glob = pattern_glob(ground_pattern(index, pattern), names)
    for path, is_folder, bindings in index.find(pattern.volume, glob):
        if not is_folder:
            yield VolumePath(pattern.volume, path), bindings


def find_ruled_files(index: NameIndex, rule: MenuRule, profile: Profile) -> RuledFiles:
    """Every file that a reference rule of the menu matches."""
    found: dict[str, dict[str, RuledFile]] = {}
    for reference in rule.references:
        volume = reference.file.volume
        for at, bindings in find_files(index, reference.file, profile.volumes[volume].names):
            ruled = found.setdefault(volume, {}).setdefault(at.path, RuledFile(at))
            ruled.rules.setdefault(reference.format, []).append((reference, bindings))
    return found


def pattern_glob(pattern: FilePattern, names: NamesRule) -> Glob:
    """The pattern, ready to match; case counts as the device sees it."""
    return translate(pattern.path, fold=names == "fat")


def follow_link(tree: Tree, at: VolumePath) -> VolumePath:
    """The file that a link leads to within its volume; the place itself where it is no link.

    A link that leads nowhere or out of the volume is left as it is: reading it says what is wrong.
    """
    try:
        item = tree.stat(at)
        return tree.resolve(at) if item is not None and item.kind == "link" else at
    except CardError:
        return at
