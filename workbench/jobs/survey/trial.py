"""Tries a profile against a card: which rules match nothing there, and which names no rule answers for."""

from __future__ import annotations

from collections.abc import Iterator

from workbench.card.entry_files import find_entry_files
from workbench.card.entry_set import EntrySet
from workbench.card.labels import LabelReader
from workbench.card.many_search import MenuReferences
from workbench.card.mention import Mention
from workbench.card.menu import read_rule_menus
from workbench.card.name_index import index_names
from workbench.card.paths import VolumePath
from workbench.card.profile import Profile, ReferenceRule
from workbench.card.ruled_files import find_files
from workbench.card.ruled_reading import make_reader
from workbench.card.tree import Tree
from workbench.errors import CardError, ManifestError
from workbench.values import dataclass, replace

MOST_ASKED = 500
"""Entries of a menu whose mentions are looked for: what rules miss, they miss for most."""


@dataclass(frozen=True, slots=True)
class Silent:
    """A rule that matches nothing on this card."""

    rule: str
    """`menus.shelf.references: data:house/lately.txt /#line`."""
    because: str


@dataclass(frozen=True, slots=True)
class Trial:
    """How a profile does on a card."""

    silent: tuple[Silent, ...]
    unruled: tuple[Mention, ...]
    """Places that name entries and that no rule answers for, by file and line."""
    entries: int
    """How many entries its menus have."""

    @property
    def is_clean(self) -> bool:
        return not self.silent and not self.unruled and self.entries > 0


def try_profile(tree: Tree, profile: Profile) -> Trial:
    """Lay a profile over a card; nothing is changed.

    Raises:
        CardError: the card is no longer there.
    """
    silent: list[Silent] = []
    unruled: dict[tuple[VolumePath, int | None, int | None], Mention] = {}
    entries = 0
    for rule in profile.menus:
        if rule.root.volume not in tree.roles():
            silent.append(Silent(f"menus.{rule.id}", f"the volume {rule.root.volume} is not there"))
            continue
        menus = read_rule_menus(tree, profile, rule, labels=False)
        entry_set = EntrySet(rule, menus, profile)
        count = sum(len(menu.entries) for menu in menus)
        entries += count
        if not count:
            silent.append(Silent(f"menus.{rule.id}: root {rule.root}", "no entry lies there"))
            continue
        silent += _silent_rules(tree, profile, entry_set)
        for menu in menus:
            found = MenuReferences(tree, profile, menu).find(menu.entries[:MOST_ASKED])
            for mention in found.mentions:
                unruled.setdefault((mention.at, mention.line, mention.offset), mention)
    silent += _silent_splashes(tree, profile)
    ordered = sorted(unruled.values(), key=lambda one: (one.at, one.line or 0, one.offset or 0))
    return Trial(tuple(silent), tuple(ordered), entries)


def _silent_rules(tree: Tree, profile: Profile, entries: EntrySet) -> Iterator[Silent]:
    rule = entries.rule
    kinds = _count_files(tree, profile, entries)
    for picture in rule.pictures:
        if not kinds.get(str(picture.path)):
            nothing = "no picture there bears an entry's name"
            yield Silent(f"menus.{rule.id}.pictures: {picture.path}", nothing)
    for companion in rule.companions:
        if not kinds.get(str(companion)):
            yield Silent(f"menus.{rule.id}.companions: {companion}", "no file there bears an entry's name")
    claims = [one for one in find_entry_files(index_names(tree), entries) if len(one.entries) == 1]
    entries.add_files((claim.entries[0], claim.file) for claim in claims)
    for reference in rule.references:
        because = _why_silent(tree, profile, entries, reference)
        if because is not None:
            at = f" {reference.at.source}" if reference.at is not None else ""
            yield Silent(f"menus.{rule.id}.references: {reference.file}{at} {reference.is_}", because)
    if rule.label is not None and not LabelReader(tree, profile, entries).read(rule.label):
        yield Silent(
            f"menus.{rule.id}.label: {rule.label.file} {rule.label.at.source}", "no shown name is there"
        )


def _count_files(tree: Tree, profile: Profile, entries: EntrySet) -> dict[str, int]:
    """Files that each pattern of pictures and companions finds by itself."""
    rule = entries.rule
    alone = [(one.path, replace(rule, pictures=(one,), companions=())) for one in rule.pictures]
    alone += [(one, replace(rule, pictures=(), companions=(one,))) for one in rule.companions]
    index = index_names(tree)
    return {
        str(pattern): sum(1 for _ in find_entry_files(index, EntrySet(only, entries.menus, profile)))
        for pattern, only in alone
    }


def _why_silent(tree: Tree, profile: Profile, entries: EntrySet, reference: ReferenceRule) -> str | None:
    """Why a reference rule finds nothing; None where it finds something."""
    from workbench.manifests.opening import open_document

    volume = reference.file.volume
    if volume not in tree.roles():
        return f"the volume {volume} is not there"
    files = list(find_files(index_names(tree), reference.file, profile.volumes[volume].names))
    if not files:
        return "no such file is there"
    reader = make_reader(tree, profile, entries)
    broken = None
    for at, bindings in files:
        try:
            document = open_document(tree.read(at), reference.format, str(at), profile.variables)
        except (CardError, ManifestError) as error:
            broken = error.message
            continue
        if reader.read(document, [(reference, bindings)], at, lambda _: True):
            return None
    return broken or "nothing there names an entry"


def _silent_splashes(tree: Tree, profile: Profile) -> Iterator[Silent]:
    for splash in profile.splashes:
        at = VolumePath(splash.file.volume, splash.file.path)
        if at.volume in tree.roles() and tree.stat(at) is None:
            yield Silent(f"splash.{splash.moment}: {splash.file}", "no such file is there")
