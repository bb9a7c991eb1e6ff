"""The rule about entries that no manifest registers, where manifests register the others."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from functools import partial

from workbench.card.entry import Entry, Menu
from workbench.card.paths import VolumePath
from workbench.card.profile import MenuRule, Profile, ReferenceRule
from workbench.card.roster import is_same_name
from workbench.card.text_form import key_form, read_form
from workbench.card.tree import Tree
from workbench.changes.plan import Plan
from workbench.jobs.check.checked_card import CheckedCard
from workbench.jobs.check.finding import Finding, Remedy
from workbench.jobs.check.manifests_read import ReadManifest
from workbench.jobs.check.rule import Rule
from workbench.manifests.document import anything
from workbench.manifests.opening import find_matching
from workbench.values import replace

UNREGISTERED = Rule("unregistered-entry", "warning", "is in a menu, and no manifest registers it")
RULES = (UNREGISTERED,)

LEAST_ENTRIES = 4
"""A menu of fewer entries does not show what its manifests register."""


def find(card: CheckedCard) -> Iterator[Finding]:
    """Menu by menu."""
    for rule in card.rules:
        if rule.references:
            yield from _find_unregistered(card, rule)


def _find_unregistered(card: CheckedCard, rule: MenuRule) -> Iterator[Finding]:
    """Of each menu, what the manifests that name at least two thirds of it do not name."""
    registers = list(_list_registers(card, rule))
    for menu in card.menus_of(rule):
        own = {entry.at: entry for entry in menu.entries}
        if len(own) < LEAST_ENTRIES:
            continue
        for manifest, named in registers:
            here = named.keys() & own.keys()
            is_register = 3 * len(here) >= 2 * len(own) and sum(named[at] for at in here) <= 2 * len(here)
            if not is_register or len(here) == len(own):
                continue
            for at in sorted(own.keys() - here):
                if not _is_named_elsewhere(registers, manifest, at):
                    yield _describe(menu, own[at], manifest)
            break


def _describe(menu: Menu, entry: Entry, manifest: ReadManifest) -> Finding:
    message = f"no row of {manifest.real} is about it, as one is about most other entries of {menu.id}"
    remedy = Remedy("register it as its neighbours are", partial(_plan_register, menu.id, entry.at))
    return UNREGISTERED.found(entry.at, message, remedy=remedy)


def _plan_register(menu_id: str, at: VolumePath, tree: Tree, profile: Profile) -> Plan:
    """Raises what `plan_register` raises; an entry that is no longer there has nothing to be registered."""
    from workbench.card.menu import read_menus
    from workbench.jobs.entry_register import plan_register

    for menu in read_menus(tree, profile, menu_id):
        entry = next((one for one in menu.entries if one.at == at and menu.id == menu_id), None)
        if entry is not None:
            others = tuple(one for one in menu.entries if one.at != at)
            return plan_register(tree, profile, replace(menu, entries=others), entry)
    return Plan(f"Register {at.name}", ())


def _is_named_elsewhere(
    registers: list[tuple[ReadManifest, Counter[VolumePath]]], manifest: ReadManifest, at: VolumePath
) -> bool:
    """A second register, in another file of the same pattern or another format, may have it."""
    return any(other is not manifest and at in named for other, named in registers)


def _list_registers(card: CheckedCard, rule: MenuRule) -> Iterator[tuple[ReadManifest, Counter[VolumePath]]]:
    """Manifests with rows by name, and how often each names which entry."""
    for manifest in card.manifests:
        if manifest.document is None or card.is_rewritten(manifest.real) or manifest.format == "shell":
            continue
        named: Counter[VolumePath] = Counter()
        for menu, one, file in manifest.rules:
            if menu is rule and _is_of_rows(one):
                named.update(_count_named(card, rule, one, manifest, file.get("parent")))
        if named:
            yield manifest, named


def _is_of_rows(rule: ReferenceRule) -> bool:
    """Whether it speaks of rows: by their key, or by a field that is in each."""
    if rule.at is None or "{path}" in rule.is_:
        return rule.at is not None and rule.names_key
    if rule.names_key:
        return True
    tokens = rule.at.tokens
    if tokens[-1].before == "#text":  # the only text of an element, as a field is
        tokens = tokens[:-2]
    return tokens[-1].name is None and any(token.name is not None for token in tokens[:-1])


def _count_named(
    card: CheckedCard, menu: MenuRule, rule: ReferenceRule, manifest: ReadManifest, parent: str | None
) -> Counter[VolumePath]:
    assert rule.at is not None and manifest.document is not None
    names = card.profile.volumes[manifest.at.volume].names
    form = key_form(rule.at.tokens[-1], names) if rule.names_key else read_form(rule.is_, names)
    entries = card.entries_of(menu)
    named: Counter[VolumePath] = Counter()
    for node in find_matching(manifest.document, rule.at, anything):
        fit = form.match(node.text)
        if fit is None or (node.role in ("key", "section")) != rule.names_key or form.wanted == "path":
            continue
        found = entries.find(form.wanted, node.text[fit.start : fit.end], {})
        named.update(
            entry.at for entry in found if parent is None or _is_in(entries.parent_of(entry), parent)
        )
    return named


def _is_in(mine: str | None, parent: str) -> bool:
    return mine is None or is_same_name(mine, parent, "fat")
