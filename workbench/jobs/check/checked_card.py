"""The card under a check: what several rules look at, read once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cached_property

from workbench.card.entry_files import FileClaim, find_entry_files
from workbench.card.entry_set import EntrySet
from workbench.card.globs import translate
from workbench.card.health import CardHealth
from workbench.card.menu import Menu, read_rule_menus
from workbench.card.name_index import Listing, NameIndex, index_names
from workbench.card.names import fold_name
from workbench.card.paths import VolumePath
from workbench.card.profile import MenuRule, Profile
from workbench.card.tree import Tree
from workbench.errors import CardError
from workbench.jobs.check.leads import Leads
from workbench.jobs.check.manifests_read import ReadManifest, read_manifests
from workbench.jobs.check.places import Places

MOST_IN_FILE = 20
"""Dead references of one sort in one file that are listed; of the others it is said that there are more."""


class CheckedCard:
    """One card, or one as it will be after a plan."""

    def __init__(
        self,
        tree: Tree,
        profile: Profile,
        health: CardHealth | None = None,
        *,
        is_thorough: bool = False,
        most_in_file: int = MOST_IN_FILE,
    ) -> None:
        """`health`: what was found out about volumes and ledger; without it, rules about them are silent.

        `is_thorough`: also do what takes long: play animations and sounds, read every file.
        """
        self.tree = tree
        self.profile = profile
        self.health = health
        self.is_thorough = is_thorough
        self.most_in_file = most_in_file
        self._menus: dict[str, tuple[Menu, ...]] = {}
        self._entries: dict[str, EntrySet] = {}
        self._claims: dict[str, tuple[FileClaim, ...]] = {}

    @cached_property
    def index(self) -> NameIndex:
        """Every name on the card."""
        return index_names(self.tree)

    @cached_property
    def roles(self) -> tuple[str, ...]:
        """The volumes that are here."""
        return self.tree.roles()

    @cached_property
    def rules(self) -> tuple[MenuRule, ...]:
        """The menus' rules, as far as their volumes are here."""
        return tuple(rule for rule in self.profile.menus if rule.root.volume in self.roles)

    @cached_property
    def menus(self) -> tuple[Menu, ...]:
        """Every menu that is here, by name."""
        return tuple(menu for rule in self.rules for menu in self.menus_of(rule))

    def menus_of(self, rule: MenuRule) -> tuple[Menu, ...]:
        """The menus that one rule makes."""
        if rule.id not in self._menus:
            try:
                self._menus[rule.id] = read_rule_menus(self.tree, self.profile, rule, labels=False)
            except CardError:
                self._menus[rule.id] = ()
        return self._menus[rule.id]

    def entries_of(self, rule: MenuRule) -> EntrySet:
        """All entries of a rule's menus."""
        if rule.id not in self._entries:
            self._entries[rule.id] = EntrySet(rule, self.menus_of(rule), self.profile)
        return self._entries[rule.id]

    def claims_of(self, rule: MenuRule) -> tuple[FileClaim, ...]:
        """Pictures and companions that go with the rule's entries."""
        if rule.id not in self._claims:
            self._claims[rule.id] = tuple(find_entry_files(self.index, self.entries_of(rule)))
        return self._claims[rule.id]

    @cached_property
    def manifests(self) -> tuple[ReadManifest, ...]:
        """Every manifest that the profile names."""
        return read_manifests(self.tree, self.profile, self.index)

    @cached_property
    def places(self) -> Places:
        """Whether a place is on the card."""
        return Places(self.tree, self.profile, self.index)

    @cached_property
    def leads(self) -> Leads:
        """Where paths lead."""
        return Leads(self.profile, self.menus, self.places, self.roles)

    def folders(self, volume: str) -> Mapping[str, Listing]:
        """The folders of a volume with their names."""
        return self.index.folders(volume)

    def names_in(self, folder: VolumePath) -> Sequence[str]:
        """What a folder holds, by name, hidden things too."""
        return [name for name, _ in self.folders(folder.volume).get(folder.path, ())]

    def is_hidden_entry(self, rule: MenuRule, name: str) -> bool:
        """Whether a menu's folder has that name, or that stem, on something that the device does not list."""
        return fold_name(name, "fat") in self._hidden(rule)

    def _hidden(self, rule: MenuRule) -> frozenset[str]:
        key = f"hidden {rule.id}"
        known: frozenset[str] | None = self.__dict__.get(key)
        if known is None:
            found = set()
            for menu in self.menus_of(rule):
                for name in self.names_in(menu.root):
                    bare = name.lstrip(".")
                    found |= {name, bare, name.rpartition(".")[0], bare.rpartition(".")[0]}
            known = frozenset(fold_name(name, "fat") for name in found if name)
            self.__dict__[key] = known
        return known

    def is_derived(self, at: VolumePath) -> bool:
        """Whether the device makes that file again from others."""
        return any(
            one.volume == at.volume and translate(one.path, fold=True).match(at.path) is not None
            for one in self.profile.device.derived
        )

    def is_rewritten(self, at: VolumePath) -> bool:
        """Whether the device's menu writes that file back at its exit."""
        return any(
            one.volume == at.volume and translate(one.path, fold=True).match(at.path) is not None
            for one in self.profile.device.rewritten
        )
