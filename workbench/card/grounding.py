"""Where a pattern's plain folders really lie: links within the volume followed, links out of it refused.

The walk of a card follows no link, so a pattern that leads through one (`house` → `house-2`) would match
nothing and a rename would pass its manifests by. Folders that a wildcard stands for are not followed.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import takewhile

from workbench.card.name_index import NameIndex
from workbench.card.paths import VolumePath
from workbench.card.profile import FilePattern, MenuRule
from workbench.errors import CardError

_WILD = frozenset("*?[{")


def ground_pattern(index: NameIndex, pattern: FilePattern) -> FilePattern:
    """The same pattern with its leading plain folders where they really are; as it is where they are not."""
    try:
        return _ground(index, pattern)
    except CardError:
        return pattern


def check_grounds(index: NameIndex, rule: MenuRule) -> None:
    """Refuse to go on where a pattern of the menu is reached through a link that leads out of its volume.

    Raises:
        CardError: with the link.
    """
    for pattern in _patterns(rule):
        _ground(index, pattern)


def _patterns(rule: MenuRule) -> Iterator[FilePattern]:
    yield from (reference.file for reference in rule.references)
    yield from (picture.path for picture in rule.pictures)
    yield from rule.companions


def _ground(index: NameIndex, pattern: FilePattern) -> FilePattern:
    parts = pattern.path.split("/")
    plain = tuple(takewhile(lambda part: not _WILD & set(part), parts[:-1]))
    folder = "/".join(plain)
    if not plain or folder in index.folders(pattern.volume):
        return pattern
    real = index.resolve(VolumePath(pattern.volume, folder))
    return pattern if real is None else FilePattern(pattern.volume, "/".join((real, *parts[len(plain) :])))
