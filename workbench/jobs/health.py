"""What takes the room on a card: its menus, its boot animations, what changes keep, and the rest.

Sizes are counted in whole allocation units, as the card has them taken.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from workbench.card.animations import read_animations
from workbench.card.health import VolumeHealth
from workbench.card.menu import read_rule_menus
from workbench.card.paths import VolumePath
from workbench.card.profile import Profile
from workbench.card.tree import Tree
from workbench.errors import CardError
from workbench.values import dataclass


@dataclass(frozen=True, slots=True)
class Share:
    """One part of what is taken."""

    what: str
    """`menu`, `animation`, `splash`, `kept` or `rest`."""
    words: str
    bytes: int


def measure_space(
    tree: Tree, profile: Profile, volumes: Sequence[VolumeHealth], kept_bytes: int
) -> tuple[Share, ...]:
    """The parts, the largest first within each sort; every file counts once. Looks at every file's size."""
    units = {volume.role: max(1, volume.cluster_bytes) for volume in volumes}
    owners = dict(_list_owners(tree, profile))
    sums: dict[tuple[str, str], int] = {}
    for role in tree.roles():
        for at, size in _list_sizes(tree, VolumePath(role, ""), units.get(role, 1)):
            owner = _owner_of(at, owners)
            sums[owner] = sums.get(owner, 0) + size
    shares = [Share(what, words, count) for (what, words), count in sums.items()]
    if kept_bytes:
        shares.append(Share("kept", "what changes keep, so that they can be undone", kept_bytes))
    order = ("menu", "animation", "splash", "kept", "rest")
    return tuple(sorted(shares, key=lambda share: (order.index(share.what), -share.bytes, share.words)))


def _list_owners(tree: Tree, profile: Profile) -> Iterator[tuple[VolumePath, tuple[str, str]]]:
    """Folders and files, and what each is a part of."""
    for rule in profile.menus:
        if rule.root.volume in tree.roles():
            for menu in read_rule_menus(tree, profile, rule, labels=False):
                yield menu.root, ("menu", f"in the menu {menu.id}")
    for animation in read_animations(tree, profile):
        yield animation.folder, ("animation", f"the animation {animation.name}")
    for splash in profile.splashes:
        yield VolumePath(splash.file.volume, splash.file.path), ("splash", "splashes")


def _owner_of(at: VolumePath, owners: Mapping[VolumePath, tuple[str, str]]) -> tuple[str, str]:
    """The nearest folder around a file that belongs to something."""
    here = at
    while True:
        found = owners.get(here)
        if found is not None:
            return found
        if not here.path:
            return "rest", f"everything else on {at.volume}"
        here = here.parent


def _list_sizes(tree: Tree, folder: VolumePath, unit: int) -> Iterator[tuple[VolumePath, int]]:
    """Every file below a folder with the room that it takes; a folder that cannot be listed is passed by."""
    waiting = [folder]
    while waiting:
        try:
            items = tree.list(waiting.pop())
        except CardError:
            continue
        for item in items:
            if item.kind == "folder":
                waiting.append(item.at)
            elif item.kind == "file":
                yield item.at, -(-item.size // unit) * unit
