"""Which entry of a menu a new one should be like: registered wherever most are, and plain besides."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection

from workbench.card.menu import Entry, Menu
from workbench.card.paths import VolumePath
from workbench.jobs.naming import Naming
from workbench.manifests.selector import split_pointer


def choose_neighbour(naming: Naming, menu: Menu) -> Entry | None:
    """The entry to follow: named as key in most manifests, its own files named, fewest places besides."""
    # All entries of a menu lie in one folder, so that a path tells them apart.
    own = {entry.at.path: entry for entry in menu.entries}
    keyed: dict[str, set[object]] = defaultdict(set)
    inside: Counter[str] = Counter()
    total: Counter[str] = Counter()
    for at in naming.files():
        home = _find_home(own, menu, at)
        for document in naming.documents(at):
            shapes: dict[object, set[str]] = defaultdict(set)
            for hit in naming.hits(document, at):
                entries = [entry.at.path for entry in hit.entries if entry.at.path in own]
                total.update(entries)
                inside.update(one for one in entries if one == home and hit.start >= 0)
                if home is None and document.format not in ("shell", "lines"):
                    shapes[at, hit.node.role, _field(hit.node.pointer, hit.node.role)].update(entries)
            for shape, named in shapes.items():
                if 2 * len(named) >= len(own):
                    for one in named:
                        keyed[one].add(shape)
    if not own:
        return None
    return min(
        own.values(),
        key=lambda entry: (
            -len(keyed[entry.at.path]),
            -int(entry.has_label),
            -min(1, inside[entry.at.path]),
            total[entry.at.path],
            entry.position,
        ),
    )


def _find_home(own: Collection[str], menu: Menu, at: VolumePath) -> str | None:
    """The entry that a manifest lies in."""
    if not at.is_below(menu.root):
        return None
    size = len(menu.root.path) + 1 if menu.root.path else 0
    home = at.path[: size + len(at.path[size:].partition("/")[0])]
    return home if home in own and home != at.path else None


def _field(pointer: str, role: str) -> str:
    """What is said at a place of a row: for a key, that it is one."""
    tokens = split_pointer(pointer)
    return role if role in ("key", "section") or not tokens else tokens[-1]
