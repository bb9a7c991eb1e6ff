"""The card that is being worked on, and the plan that waits for it. Knows nothing of Textual.

Invariant: `tree()` is the card as it will be after the waiting plan, so whatever is read from it is what
the device will show, and whatever is planned on it comes after the wishes that wait already. Methods that
read the card are slow: they are called in worker threads.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING

from workbench.card.disk_tree import DiskTree
from workbench.card.paths import VolumePath
from workbench.errors import CardError
from workbench.tui.waiting import Waiting
from workbench.values import replace

if TYPE_CHECKING:
    from workbench.card.entry import Entry, Menu
    from workbench.card.profile import Profile
    from workbench.card.reference import AllReferences, FileReference, Found, Reference
    from workbench.card.tree import Tree
    from workbench.card.volumes import Card
    from workbench.changes.kept import KeptVersion
    from workbench.changes.plan import Plan
    from workbench.jobs.edit import Manifest
    from workbench.jobs.splash import SplashReport
    from workbench.tui.outcome import Outcome
    from workbench.tui.picture_pane import EntryPicture

Wish = Callable[["Tree", "Profile"], "Plan"]
"""What a person asks for: plans itself on a tree."""


class Desk:
    """One card, its profile, and its waiting plan."""

    def __init__(self, card: Card, profile: Profile | None = None) -> None:
        self.card = card
        self.profile = profile or card.profile
        self.waiting = Waiting()
        self.is_untouched: bool | None = None
        """Whether we never changed this card; None until that was looked up."""
        self._keeping = Lock()
        self._disk: Tree = DiskTree(card)
        self._planned: tuple[Waiting, Tree] | None = None
        self._index: tuple[Waiting, AllReferences] | None = None
        self._outcome: tuple[Waiting, Outcome] | None = None

    def look_again(self) -> None:
        """Forget what was read: the card has changed."""
        self._disk = DiskTree(self.card)
        self._planned = None
        self._index = None

    @property
    def disk(self) -> Tree:
        """The card as it is."""
        return self._disk

    def tree(self) -> Tree:
        """The card as it will be after the waiting plan."""
        return self.tree_after(self.waiting)

    def tree_after(self, waiting: Waiting) -> Tree:
        """The card as it will be after these wishes."""
        if not waiting:
            return self._disk
        if self._planned is None or self._planned[0] is not waiting:
            from workbench.changes.planned_tree import PlannedTree

            planned: Tree = PlannedTree(self._disk, waiting.plan)
            self._planned = (waiting, planned)
        return self._planned[1]

    @property
    def outcome(self) -> Outcome:
        """What the waiting plan comes to."""
        from workbench.tui.outcome import outcome_of

        if self._outcome is None or self._outcome[0] is not self.waiting:
            self._outcome = (self.waiting, outcome_of(self.waiting.plan))
        return self._outcome[1]

    # Reading, in workers

    def missing(self) -> tuple[str, ...]:
        """Roles of volumes that were there when the card was opened and cannot be listed now."""
        tree = DiskTree(self.card)
        return tuple(volume.role for volume in self.card.present if not _can_list(tree, volume.role))

    def read_menus(self, *, labels: bool) -> tuple[Menu, ...]:
        """The menus as they will be; without labels it costs one listing a menu."""
        from workbench.card.menu import read_menus

        return read_menus(self.tree(), self._known_profile(), labels=labels)

    def find_references(self, menu: Menu, entry: Entry, *, mentions: bool = False) -> Found:
        """Everything that names an entry."""
        from workbench.card.references import find_references

        return find_references(self.tree(), self._known_profile(), menu, entry, mentions=mentions)

    def read_entry_picture(
        self, menu: Menu, entry: Entry, room: tuple[int, int], most_bytes: int
    ) -> EntryPicture:
        """The first picture that the profile names for an entry, in half blocks that cost at most so much."""
        from workbench.media.picture import decode_bytes
        from workbench.tui.picture_pane import EntryPicture, fit_cells

        found = self.find_references(menu, entry)
        pictures = [file for file in found.files if file.kind != "companion"]
        if not pictures:
            return EntryPicture("", (), "No picture belongs to this entry.")
        at = pictures[0].at
        image = decode_bytes(self.tree().read(at), Path(at.name), None)
        title = f"{pictures[0].kind}, {image.width}×{image.height}"
        return EntryPicture(title, fit_cells(image, room, most_bytes))

    def list_manifests(self) -> Sequence[VolumePath]:
        """The manifests that the profile names and the card will have."""
        from workbench.jobs.edit import list_manifests

        return list_manifests(self.tree(), self._known_profile())

    def read_manifest(self, at: VolumePath) -> Manifest:
        """One manifest as it will be."""
        from workbench.jobs.edit import read_manifest

        return read_manifest(self.tree(), self.profile, at)

    def read_splashes(self) -> tuple[Sequence[SplashReport], Sequence[SplashReport]]:
        """The splashes as they are, and as they will be."""
        from workbench.jobs.splash import show_all

        profile = self._known_profile()
        now = show_all(self._disk, profile)
        return now, show_all(self.tree(), profile) if self.waiting else now

    def read_kept(self, at: VolumePath) -> Sequence[KeptVersion]:
        """Every earlier content of a file that the card's ledger keeps, newest first."""
        from workbench.changes.kept import kept_versions

        return kept_versions(self.card, at)

    def read_kept_splash(self, now: SplashReport, kept: KeptVersion) -> SplashReport:
        """A kept splash as a report, read by the rules of the moment that it was kept for."""
        from workbench.jobs.splash_target import choose_rules, profile_hint
        from workbench.media.kind_reader import read_kind

        profile = self._known_profile()
        content = kept.read()
        kind = read_kind(content, profile_hint(profile, choose_rules(profile, (now.moment,))[0]))
        return replace(now, standing="there", kind=kind, sentence=kind.describe(), content=content)

    def index_references(self) -> None:
        """Find what names every entry, in one go, for menus too long to search for each entry by itself."""
        from workbench.card.references import find_all_references

        waiting = self.waiting
        self._index = (waiting, find_all_references(self.tree_after(waiting), self._known_profile()))

    def indexed_references(self, entry: Entry) -> tuple[Reference | FileReference, ...] | None:
        """What names an entry, from the index; None where there is none for the plan that waits now."""
        if self._index is None or self._index[0] is not self.waiting:
            return None
        return self._index[1].get(entry.at, ())

    def plan(self, wish: Wish, base: Waiting) -> Plan:
        """Plan a wish on the card as the wishes of `base` leave it."""
        return wish(self.tree_after(base), self._known_profile())

    def keep_waiting(self) -> None:
        """Save the waiting plan in the user's state folder (an empty one is forgotten there)."""
        from workbench.changes.waiting_plans import save_waiting

        with self._keeping:  # saves that overlap: the last one to run writes what waits then
            save_waiting(self.card, self.waiting.wishes)

    def load_waiting(self) -> Waiting:
        """The plan that waits for this card, checked against it again.

        Raises:
            CardwrightError: it cannot be read, or does not fit the card any more.
        """
        from workbench.changes.waiting_plans import load_waiting

        waiting = Waiting(load_waiting(self.card))
        if waiting:
            from workbench.changes.preflight import preflight

            preflight(self.card, waiting.plan)
        return waiting

    def _known_profile(self) -> Profile:
        if self.profile is None:
            from workbench.errors import ProfileError

            raise ProfileError(
                "no device profile fits this card; open it with: cardwright CARD --profile FILE"
            )
        return self.profile


def _can_list(tree: DiskTree, role: str) -> bool:
    try:
        tree.list(VolumePath(role, ""))
    except CardError:
        return False
    return True
