"""Which entry of a menu a new one should be like: registered wherever most are, and plain besides."""

from __future__ import annotations

from collections import Counter, defaultdict

from workbench.card.menu import Entry, Menu
from workbench.card.paths import VolumePath
from workbench.jobs.naming import Naming
from workbench.manifests.selector import split_pointer


def choose_neighbour(naming: Naming, menu: Menu) -> Entry | None:
    """The entry to follow: named as key in most manifests, its own files named, fewest places besides."""
    own = {entry.at: entry for entry in menu.entries}
    keyed: dict[VolumePath, set[object]] = defaultdict(set)
    inside: Counter[VolumePath] = Counter()
    total: Counter[VolumePath] = Counter()
    for at in naming.files():
        home = next((one for one in own if at.is_below(one)), None)
        for document in naming.documents(at):
            shapes: dict[object, set[VolumePath]] = defaultdict(set)
            for hit in naming.hits(document, at):
                entries = [entry.at for entry in hit.entries if entry.at in own]
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
            -len(keyed[entry.at]),
            -int(entry.has_label),
            -min(1, inside[entry.at]),
            total[entry.at],
            entry.position,
        ),
    )


def _field(pointer: str, role: str) -> str:
    """What is said at a place of a row: for a key, that it is one."""
    tokens = split_pointer(pointer)
    return role if role in ("key", "section") or not tokens else tokens[-1]
