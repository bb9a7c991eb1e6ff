"""A menu and its entries, as the device lists them. Values only; `menu` reads them."""

from __future__ import annotations

from workbench.card.paths import VolumePath
from workbench.card.profile import MenuRule, Order
from workbench.errors import ManifestError
from workbench.values import dataclass


@dataclass(frozen=True, slots=True)
class Entry:
    """One folder or file of a menu's root."""

    at: VolumePath
    name: str
    stem: str
    """The name without its suffix; of a folder, the name."""
    label: str
    """What the device shows; the name until labels are read, and where there is no label."""
    prefix: str
    """The part at the front that only serves the order, with its separator; mostly `""`."""
    position: int
    """1-based, as the device lists it."""
    has_label: bool = False
    """Whether the label stands in a manifest."""


@dataclass(frozen=True, slots=True)
class Menu:
    """One list that the device shows."""

    id: str
    """The rule's id; `ID/PARENT` where the rule makes a menu of each folder."""
    rule: MenuRule
    root: VolumePath
    order: Order
    entries: tuple[Entry, ...]
    parent: str | None = None
    """What `{parent}` stands for."""
    label_error: ManifestError | None = None
    """Why labels could not be read; names are shown instead."""
    is_missing: bool = False
    """Its folder is not on the card: that is not the same as empty."""


def stem_of(name: str, rule: MenuRule) -> str:
    """The name without its suffix: what the rule's globs add after `*`, else what follows the last dot."""
    if rule.entries == "folders":
        return name
    for glob in rule.match:
        star, tail = glob[:1], glob[1:]
        if star == "*" and tail.startswith(".") and tail.count(".") > 1 and not set("*?[") & set(tail):
            stem = name[: -len(tail)]
            if stem and name[-len(tail) :].lower() == tail.lower():
                return stem
    stem, dot, _ = name.rpartition(".")
    return stem if dot and stem else name
