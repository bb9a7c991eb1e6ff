"""Which entries of a menu each manifest names, and where: read for all of them at once."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from workbench.card.entry import Entry, Menu
from workbench.card.entry_files import find_entry_files
from workbench.card.entry_set import EntrySet
from workbench.card.menu import read_rule_menus
from workbench.card.name_index import index_names
from workbench.card.paths import VolumePath
from workbench.card.profile import Profile
from workbench.card.rule_reading import NodeHit
from workbench.card.ruled_files import RuledFile, follow_link
from workbench.card.ruled_reading import RuledReading
from workbench.card.tree import Tree
from workbench.errors import CardError, ManifestError
from workbench.jobs.rows import Row, Shape, has_shape
from workbench.manifests.document import Document, anything
from workbench.manifests.selector import split_pointer

_FIELD = 3
"""Tokens of a field within its row: one, or in XML an element, its number and its text."""


class Naming:
    """The rules of one menu, ready to say what they find in a manifest."""

    def __init__(self, tree: Tree, profile: Profile, menu: Menu) -> None:
        self._tree = tree
        self._profile = profile
        self._menu = menu
        menus = read_rule_menus(tree, profile, menu.rule, labels=False)
        entries = EntrySet(menu.rule, menus, profile)
        claims = [one for one in find_entry_files(index_names(tree), entries) if len(one.entries) == 1]
        entries.add_files((one.entries[0], one.file) for one in claims)
        self._reading = RuledReading(tree, profile, entries)
        self._hits: dict[tuple[VolumePath, str], list[NodeHit]] = {}
        self._documents: dict[VolumePath, list[Document]] = {}
        self._registers: dict[tuple[VolumePath, str, Shape], bool] = {}

    def files(self) -> Iterator[VolumePath]:
        """Every manifest that the menu's rules point at."""
        for by_path in self._reading.files.values():
            yield from (ruled.at for ruled in by_path.values())

    def documents(self, at: VolumePath) -> Sequence[Document]:
        """A manifest as each of its formats, opened once; what cannot be read is left out."""
        if at not in self._documents:
            self._documents[at] = list(self._open(at))
        return self._documents[at]

    def _open(self, at: VolumePath) -> Iterator[Document]:
        from workbench.manifests.opening import open_document

        for format in self._reading.files[at.volume][at.path].rules:
            try:
                yield open_document(self._tree.read(at), format, str(at), self._profile.variables)
            except (CardError, ManifestError):
                continue

    def hits(self, document: Document, at: VolumePath) -> list[NodeHit]:
        """What names an entry in the manifest, of every entry that could be meant."""
        key = at, document.format
        if key not in self._hits:
            ruled = self._ruled(at)
            has_rules = ruled is not None and document.format in ruled.rules
            self._hits[key] = (
                self._reading.read(document, ruled, anything) if ruled is not None and has_rules else []
            )
        return self._hits[key]

    def is_register(self, document: Document, at: VolumePath, row: Row) -> bool:
        """Whether rows of that shape register entries: at least half of the menu's have one, hardly any two.

        A list of what was played, or a tour, names some of them, or the same ones again and again.
        """
        key = at, document.format, row.shape
        if key not in self._registers:
            self._registers[key] = self._has_rows_for_most(document, at, row.shape)
        return self._registers[key]

    def _has_rows_for_most(self, document: Document, at: VolumePath, shape: Shape) -> bool:
        # All entries of a menu lie in one folder, so that a path tells them apart.
        own = {entry.at.path for entry in self._menu.entries}
        size = len(shape)
        named: set[str] = set()
        rows: set[tuple[str, ...]] = set()
        for hit in self.hits(document, at):
            tokens = split_pointer(hit.node.pointer)
            # A field of the row itself tells whose it is; a list in it may name anyone.
            if len(tokens) <= size + _FIELD and has_shape(tokens[:size], shape):
                mine = [entry.at.path for entry in hit.entries if entry.at.path in own]
                named.update(mine)
                if mine:
                    rows.add(tokens[:size])
        return 2 * len(named) >= len(own) and 4 * len(rows) <= 5 * len(named)

    def others(self, document: Document, at: VolumePath, row: Row, entry: Entry) -> list[str]:
        """Pointers in a row at which other entries are named."""
        inside = row.pointer + "/"
        return [
            hit.node.pointer
            for hit in self.hits(document, at)
            if (hit.node.pointer + "/").startswith(inside) and all(one.at != entry.at for one in hit.entries)
        ]

    def _ruled(self, at: VolumePath) -> RuledFile | None:
        by_path = self._reading.files.get(at.volume, {})
        if at.path in by_path:
            return by_path[at.path]
        return next((one for one in by_path.values() if follow_link(self._tree, one.at) == at), None)
