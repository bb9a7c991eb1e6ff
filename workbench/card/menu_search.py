"""One search of a card for everything that names entries of a menu: one of them, some, or all at once."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence

from workbench.card.contents import TooLarge
from workbench.card.entry import Entry, Menu
from workbench.card.gathering import Gathering
from workbench.card.grounding import check_grounds
from workbench.card.many_names import ManyNames, count_roughly
from workbench.card.menu import read_rule_menus
from workbench.card.menu_reading import MenuReading, Read
from workbench.card.name_index import index_names, list_names
from workbench.card.part_search import Done, PartSearch, Work
from workbench.card.profile import Profile
from workbench.card.reference import FileReference, Found, Reference
from workbench.card.sweep import Hit
from workbench.card.tree import Tree
from workbench.errors import CardError
from workbench.typed import TYPE_CHECKING

if TYPE_CHECKING:
    from workbench.card.scout import Scout
    from workbench.manifests.document import Format

_FEW = 8
"""Entries that are looked at one by one, whether they are still there."""
_SMALL = 256 * 1024
"""Bytes of manifests that are read whole to count references: at their densest half a second."""


class MenuSearch:
    """What names the entries of a menu's rule; asked for some of the entries, or how often each is named.

    On a card with large manifests the references are not all read to count them: a name counts as often as
    it stands in the bytes of the files that the rules point at; and what names some entries is read for them.
    """

    def __init__(self, tree: Tree, profile: Profile, menu: Menu) -> None:
        self._tree = tree
        self._profile = profile
        self._menu = menu
        is_only = "{parent}" not in menu.rule.root.path
        self._menus = (menu,) if is_only else read_rule_menus(tree, profile, menu.rule, labels=False)
        self._every = [entry for found in self._menus for entry in found.entries]
        self._all: tuple[MenuReading, Read] | None = None
        """What was read for all entries, once that was asked for."""

    def count(self) -> dict[str, int]:
        """References to each entry of the menu, by its name.

        Raises:
            CardError: the card is not there; a rule leads through a link out of it.
        """
        check_grounds(index_names(self._tree), self._menu.rule)
        reading = self._all[0] if self._all is not None else self._prepare(None)
        # All entries of a rule lie on one volume, so that a path tells them apart.
        counts = Counter(claim.entries[0].at.path for claim in reading.claims if len(claim.entries) == 1)
        if not _is_small(reading):
            stems = {entry.name: entry.stem for entry in self._menu.entries}
            rough = count_roughly(stems, _read_ruled(reading))
            return {entry.name: counts[entry.at.path] + rough[entry.name] for entry in self._menu.entries}
        _, read = self._read_all(reading)
        for file in read.files:
            for _, hits in file.hits:
                counts.update(
                    [hit.entries[0].at.path for hit in hits if len(hit.entries) == 1 and hit.start >= 0]
                )
        return {entry.name: counts[entry.at.path] for entry in self._menu.entries}

    def find(self, wanted: Sequence[Entry], *, mentions: bool = True) -> Found:
        """Everything that names one of these entries, on every volume that is present.

        Args:
            mentions: also search every text file for mentions that no rule covers.

        Raises:
            CardError: an entry is no longer there, or the card is not; a rule leads through a link out of it.
        """
        check_grounds(index_names(self._tree), self._menu.rule)
        names = self._names_of(wanted)
        reading, read, hits = self._read(names, self._scout(wanted, mentions))
        found = Gathering(reading, read, names, wanted).run(mentions=mentions, hits=hits)
        self._check_there(wanted)
        return found

    def find_and_do(
        self, wanted: Sequence[Entry], work: Work, *, mentions: bool = True
    ) -> tuple[Found, Done]:
        """As `find`, but what comes of `work` in place of each manifest: where many, done by two processes.

        Raises:
            as `find`.
        """
        check_grounds(index_names(self._tree), self._menu.rule)
        names, scout = self._names_of(wanted), self._scout(wanted, mentions)
        reading = self._prepare(names if names.are_few else None)
        left, cold = _ask(scout, names)
        search = PartSearch(reading, names, wanted, work, mentions=mentions)
        found, done = search.run(reading.list_warm(cold), lambda: _ask_hits(scout, left))
        self._check_there(wanted)
        return found, done

    def _names_of(self, wanted: Sequence[Entry]) -> ManyNames:
        return ManyNames(wanted, self._every, self._profile.volumes[self._menu.root.volume].names)

    def _scout(self, wanted: Sequence[Entry], mentions: bool) -> Scout | None:
        return getattr(self._tree, "scout", None) if mentions and len(wanted) == 1 else None

    def _check_there(self, wanted: Sequence[Entry]) -> None:
        names_there = set(list_names(self._tree, self._menu.root)) if len(wanted) > _FEW else None
        for entry in wanted:
            is_there = entry.name in names_there if names_there else self._tree.stat(entry.at) is not None
            if not is_there:
                raise CardError(f"{entry.at} is no longer there; nothing was changed", path=str(entry.at))

    def find_all(self) -> Iterator[tuple[Entry, Reference | FileReference]]:
        """Whatever names one entry only, with that entry; what cannot be read is left out."""
        reading, read = self._read_all(self._prepare(None))
        for file in read.files:
            for _, hits in file.hits:
                for hit in hits:
                    if len(hit.entries) == 1 and hit.start >= 0:
                        yield hit.entries[0], hit.reference(file.at)
        yield from ((claim.entries[0], claim.file) for claim in reading.claims if len(claim.entries) == 1)

    def _prepare(self, names: ManyNames | None) -> MenuReading:
        return MenuReading(self._tree, self._profile, self._menu.rule, self._menus, names)

    def _read_all(self, reading: MenuReading) -> tuple[MenuReading, Read]:
        if self._all is None:
            self._all = reading, reading.read({})
        return self._all

    def _read(
        self, names: ManyNames, scout: Scout | None
    ) -> tuple[MenuReading, Read, tuple[list[Hit], list[Hit]] | None]:
        """What is to be known of these names, and what a scout found among the files that no rule covers.

        Of the scout's: files that nobody looked through yet, and those that hold the name.
        """
        if self._all is not None:
            return *self._all, None
        reading = self._prepare(names if names.are_few else None)
        left, cold = _ask(scout, names)
        return reading, reading.read(cold), _ask_hits(scout, left)


def _ask(scout: Scout | None, names: ManyNames) -> tuple[list[Hit] | None, Mapping[Hit, Sequence[Format]]]:
    """Files that a scout leaves to us (None: it knows nothing), and those that cannot name it."""
    told = scout.ruled(names.only, names.rule) if scout is not None else None
    return told if told is not None else (None, {})


def _ask_hits(scout: Scout | None, left: list[Hit] | None) -> tuple[list[Hit], list[Hit]] | None:
    """With the files that are left, those that a scout found to hold the name."""
    hits = scout.hits() if scout is not None and left is not None else None
    return (left, hits) if left is not None and hits is not None else None


def _is_small(reading: MenuReading) -> bool:
    """Whether all that the rules point at can be read in a moment."""
    left = _SMALL
    for ruled in reading.ruled():
        item = reading.tree.stat(ruled.at)
        left -= item.size if item is not None else 0
        if left < 0:
            return False
    return True


def _read_ruled(reading: MenuReading) -> Iterator[bytes]:
    for ruled in reading.ruled():
        try:
            yield reading.contents.read(ruled.at.volume, ruled.at.path) or b""
        except TooLarge:
            continue
