"""The text that the device shows for an entry, edited in place in whatever manifest it stands.

Where the device shows the name itself there is no such text: that is said, with what a rename would show.
"""

from __future__ import annotations

from workbench.card.menu import Entry, Menu
from workbench.card.profile import Profile
from workbench.card.tree import Tree
from workbench.changes.plan import Plan
from workbench.values import dataclass


@dataclass(frozen=True, slots=True)
class LabelFacts:
    """What the device shows for an entry, and where that comes from."""

    is_apart: bool
    """Whether the device shows a text of its own for entries of this menu: then `plan_label` can set it."""
    is_set: bool
    """Whether this entry has such a text now; without one the device shows its name."""
    shown: str
    """What stands on the device's screen now."""
    sentence: str
    """For a person: where the text comes from, or that the name is shown and what its prefix looks like."""


def describe_label(menu: Menu, entry: Entry) -> LabelFacts:
    """Whether the device shows a label apart from the name. Pure; the menu was read with its labels."""
    raise NotImplementedError


def plan_label(tree: Tree, profile: Profile, menu: Menu, entry: Entry, text: str) -> Plan:
    """The plan that makes the device show `text` for the entry; its name stays.

    Raises:
        EntryError: the device shows the name itself (rename the entry instead), or nothing gives this entry
            a place for a label.
        ManifestError: the manifest is malformed, or its format cannot hold that text.
        CardError: the volume or the manifest is not there.
    """
    raise NotImplementedError
