"""The card that is being worked on, and the plan that waits for it. Knows nothing of Textual.

Invariant: `tree()` is the card as it will be after the waiting plan, so whatever is read from it is what
the device will show, and whatever is planned on it comes after the wishes that wait already. Methods that
read the card are slow: they are called in worker threads.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from threading import Lock
from typing import TYPE_CHECKING, Union

from workbench.card.disk_tree import DiskTree
from workbench.card.paths import VolumePath
from workbench.errors import CardError
from workbench.tui.waiting import Waiting
from workbench.values import replace

if TYPE_CHECKING:
    from workbench.card.entry import Entry, Menu
    from workbench.card.mention import Mention
    from workbench.card.menu_search import MenuSearch
    from workbench.card.profile import Profile
    from workbench.card.reference import Found
    from workbench.card.tree import Tree
    from workbench.card.volumes import Card
    from workbench.changes.kept import KeptVersion
    from workbench.changes.plan import Plan
    from workbench.errors import OrderRefusedError
    from workbench.jobs.edit import Manifest
    from workbench.jobs.hiding import HiddenEntry
    from workbench.jobs.splash import SplashReport
    from workbench.tui.arranging import Arranging
    from workbench.tui.entry_wishes import EntryWish, MenuWish
    from workbench.tui.ordering import Nearest, Ordered
    from workbench.tui.outcome import Outcome

Wish = Callable[["Tree", "Profile"], "Plan"]
"""What a person asks for: plans itself on a tree."""

AnyWish = Union[Wish, "EntryWish", "MenuWish"]

REMEMBERED = 4
"""How many waiting plans' trees and outcomes are held: the one that waits, and those that grow from it."""


class Desk:
    """One card, its profile, and its waiting plan."""

    def __init__(self, card: Card, profile: Profile | None = None) -> None:
        self.card = card
        self.profile = profile or card.profile
        self.waiting = Waiting()
        self.is_untouched: bool | None = None
        """Whether we never changed this card; None until that was looked up."""
        self._keeping = Lock()
        self._kept = self.waiting
        self._disk: Tree = DiskTree(card)
        self._making = Lock()
        self._planned: list[tuple[Waiting, Tree]] = []
        self._index: tuple[Waiting, str, MenuSearch] | None = None
        self._outcomes: list[tuple[Waiting, Outcome]] = []

    def look_again(self) -> None:
        """Forget what was read: the card has changed."""
        self._disk = DiskTree(self.card)
        self._planned = []
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
        with self._making:
            known = next((tree for made_for, tree in self._planned if made_for is waiting), None)
            if known is None:
                from workbench.changes.planned_tree import PlannedTree

                known = PlannedTree(self._disk, waiting.plan)
                self._planned = [*self._planned[1 - REMEMBERED :], (waiting, known)]
            return known

    @property
    def outcome(self) -> Outcome:
        """What the waiting plan comes to."""
        return self.outcome_after(self.waiting)

    def outcome_after(self, waiting: Waiting) -> Outcome:
        """What these wishes come to."""
        from workbench.tui.outcome import outcome_of

        for made_for, known in self._outcomes:
            if made_for is waiting:
                return known
        outcome = outcome_of(waiting.plan)
        self._outcomes = [*self._outcomes[1 - REMEMBERED :], (waiting, outcome)]
        return outcome

    def foresee(self, waiting: Waiting) -> None:
        """Work out in a worker what will be asked for as soon as this waits."""
        self.outcome_after(waiting)

    # Reading, in workers

    def missing(self) -> tuple[str, ...]:
        """Roles of volumes that were there when the card was opened and cannot be listed now."""
        tree = DiskTree(self.card)
        return tuple(volume.role for volume in self.card.present if not _can_list(tree, volume.role))

    def lists_otherwise(self, plan: Plan) -> bool:
        """Whether a folder that a plan has put in order is still listed in another (exFAT by FUSE)."""
        wanted = {listing.folder: listing.names for listing in plan.listings}
        tree = DiskTree(self.card)
        return any(
            [item.name for item in tree.list(folder) if item.name in names] != list(names)
            for folder, names in wanted.items()
        )

    def read_menus(self, *, labels: bool, waiting: Waiting | None = None) -> tuple[Menu, ...]:
        """The menus as they will be after what waits; without labels it costs one listing a menu."""
        from workbench.card.menu import read_menus

        tree = self.tree() if waiting is None else self.tree_after(waiting)
        return read_menus(tree, self.known_profile(), labels=labels)

    def find_references(self, menu: Menu, entry: Entry, *, mentions: bool = False) -> Found:
        """Everything that names an entry."""
        from workbench.card.references import find_references

        return find_references(self.tree(), self.known_profile(), menu, entry, mentions=mentions)

    def find_mentions(self, menu: Menu, entry: Entry, origin: VolumePath | None) -> tuple[Mention, ...]:
        """What names an entry under no rule: by the name that it has on the card now, at `origin`.

        While a rename waits, whatever no rule covers goes on saying the old name.
        """
        from workbench.card.menu import read_menus
        from workbench.card.references import find_references

        profile = self.known_profile()
        menus = read_menus(self._disk, profile, labels=False) if origin not in (None, entry.at) else ()
        there = next(((one, e) for one in menus for e in one.entries if e.at == origin), None)
        if there is None:
            return self.find_references(menu, entry, mentions=True).mentions
        return find_references(self._disk, profile, *there, mentions=True).mentions

    def find_hidden(self, menu_id: str) -> Sequence[HiddenEntry]:
        """The entries of a menu that the device does not list."""
        from workbench.jobs.entry import find_hidden

        found = find_hidden(self.tree(), self.known_profile(), menu_id)
        return [hidden for hidden in found if hidden.menu.id == menu_id]

    def list_manifests(self) -> Sequence[VolumePath]:
        """The manifests that the profile names and the card will have."""
        from workbench.jobs.edit import list_manifests

        return list_manifests(self.tree(), self.known_profile())

    def read_manifest(self, at: VolumePath) -> Manifest:
        """One manifest as it will be."""
        from workbench.jobs.edit import read_manifest

        return read_manifest(self.tree(), self.profile, at)

    def read_splashes(self) -> tuple[Sequence[SplashReport], Sequence[SplashReport]]:
        """The splashes as they are, and as they will be."""
        from workbench.jobs.splash import show_all

        profile = self.known_profile()
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

        profile = self.known_profile()
        content = kept.read()
        kind = read_kind(content, profile_hint(profile, choose_rules(profile, (now.moment,))[0]))
        return replace(now, standing="there", kind=kind, sentence=kind.describe(), content=content)

    def index_menu(self, menu: Menu) -> None:
        """Read what names the entries of a long menu in one go: one by one would take too long."""
        from workbench.card.menu_search import MenuSearch

        waiting = self.waiting
        found = MenuSearch(self.tree_after(waiting), self.known_profile(), menu)
        self._index = (waiting, menu.id, found)

    def has_index(self, menu: Menu) -> bool:
        """Whether what names a menu's entries was read for the plan that waits now."""
        return self._index is not None and self._index[0] is self.waiting and self._index[1] == menu.id

    def find_indexed(self, menu: Menu, entry: Entry) -> Found:  # noqa: ARG002  (as `find_references` is asked)
        """Everything that names an entry of a menu that was read in one go."""
        assert self._index is not None
        return self._index[2].find([entry], mentions=False)

    def plan(self, wish: AnyWish, base: Waiting) -> Plan:
        """Plan a wish on the card as the wishes of `base` leave it."""
        from workbench.tui.entry_wishes import EntryWish, MenuWish, plan_for_entries, plan_for_menu

        tree, profile = self.tree_after(base), self.known_profile()
        if isinstance(wish, EntryWish):
            return plan_for_entries(tree, profile, self.outcome_after(base), wish)
        return plan_for_menu(tree, profile, wish) if isinstance(wish, MenuWish) else wish(tree, profile)

    def plan_order(self, arranging: Arranging, base: Waiting) -> Ordered:
        """Plan what moves in a menu come to, on the card as the wishes of `base` leave it."""
        from workbench.tui.ordering import plan_arranging

        tree, before = self.tree_after(base), self.outcome_after(base)
        return plan_arranging(tree, self.known_profile(), before, arranging)

    def nearest_order(self, arranging: Arranging, base: Waiting, error: OrderRefusedError) -> Nearest | None:
        """The nearest order that can be had, as the refusal proposes it."""
        from workbench.tui.ordering import nearest_of

        tree, before = self.tree_after(base), self.outcome_after(base)
        return nearest_of(tree, self.known_profile(), before, arranging, error)

    def keep_waiting(self) -> None:
        """Save the waiting plan in the user's state folder (an empty one is forgotten there)."""
        from workbench.changes.waiting_plans import save_waiting

        with self._keeping:  # saves that overlap: the last one to run writes what waits then
            waiting, before = self.waiting, self._kept
            save_waiting(self.card, waiting.wishes)
            self._kept = waiting
            self._let_go_renders(before, waiting)

    @staticmethod
    def _let_go_renders(before: Waiting, waiting: Waiting) -> None:
        """Large content of wishes that wait no longer; what a plan still waits with is kept."""
        from workbench.jobs.renders import drop_renders

        for wish in before.wishes:
            if not any(wish is other for other in waiting.wishes):
                drop_renders(wish)

    def load_waiting(self) -> Waiting:
        """The plan that waits for this card, checked against it again.

        Raises:
            CardwrightError: it cannot be read, or does not fit the card any more.
        """
        from workbench.changes.waiting_plans import load_waiting

        waiting = Waiting(load_waiting(self.card))
        if waiting:
            from workbench.changes.preflight import preflight

            preflight(self.card, waiting.plan, keep_on=True)
        self._kept = waiting
        return waiting

    def known_profile(self) -> Profile:
        """The profile, or a refusal that says what to do."""
        if self.profile is None:
            from workbench.errors import ProfileError

            raise ProfileError("no device profile fits this card; 7 surveys it and proposes one")
        return self.profile


def _can_list(tree: DiskTree, role: str) -> bool:
    try:
        tree.list(VolumePath(role, ""))
    except CardError:
        return False
    return True
