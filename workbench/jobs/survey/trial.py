"""Tries a profile against a card: which rules match nothing there, and which names no rule answers for."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from itertools import islice

from workbench.card.entry_files import find_entry_files
from workbench.card.entry_set import EntrySet
from workbench.card.labels import LabelReader
from workbench.card.mention import Mention
from workbench.card.menu import read_rule_menus
from workbench.card.menu_search import MenuSearch
from workbench.card.name_index import index_names
from workbench.card.paths import VolumePath
from workbench.card.profile import (
    FilePattern,
    LabelRule,
    MenuRule,
    PictureRule,
    Profile,
    ReferenceRule,
    SplashRule,
)
from workbench.card.ruled_files import find_files
from workbench.card.ruled_reading import make_reader
from workbench.card.tree import Tree
from workbench.errors import CardError, ManifestError
from workbench.jobs.survey.findings import Evidence, Finding
from workbench.values import dataclass, replace

MOST_SHOWN = 3
"""Places that are shown for a rule."""
MOST_ASKED = 500
"""Entries of a menu whose mentions are looked for: what rules miss, they miss for most."""


@dataclass(frozen=True, slots=True)
class Silent:
    """A rule that matches nothing on this card."""

    rule: str
    """`menus.shelf.references: data:house/lately.txt /#line`."""
    because: str


@dataclass(frozen=True, slots=True)
class Heard:
    """A rule that matches something on this card."""

    rule: str
    """Named as a silent one is."""
    evidence: tuple[Evidence, ...]
    """The first places where it does."""


@dataclass(frozen=True, slots=True)
class Trial:
    """How a profile does on a card."""

    silent: tuple[Silent, ...]
    unruled: tuple[Mention, ...]
    """Places that name entries and that no rule answers for, by file and line."""
    entries: int
    """How many entries its menus have."""
    heard: tuple[Heard, ...] = ()
    """The rules that match something."""

    @property
    def is_clean(self) -> bool:
        return not self.silent and not self.unruled and self.entries > 0


def try_profile(tree: Tree, profile: Profile) -> Trial:
    """Lay a profile over a card; nothing is changed.

    Raises:
        CardError: the card is no longer there.
    """
    silent: list[Silent] = []
    heard: list[Heard] = []
    unruled: dict[tuple[VolumePath, int | None, int | None], Mention] = {}
    entries = 0
    for rule in profile.menus:
        if rule.root.volume not in tree.roles():
            silent.append(Silent(name_menu(rule), f"the volume {rule.root.volume} is not there"))
            continue
        menus = read_rule_menus(tree, profile, rule, labels=False)
        entry_set = EntrySet(rule, menus, profile)
        count = sum(len(menu.entries) for menu in menus)
        entries += count
        if not count:
            silent.append(Silent(name_menu(rule), "no entry lies there"))
            continue
        first = [entry for menu in menus for entry in menu.entries][:MOST_SHOWN]
        heard.append(Heard(name_menu(rule), tuple(Evidence(one.at, None, one.name) for one in first)))
        _sort(_try_rules(tree, profile, entry_set), silent, heard)
        for menu in menus:
            found = MenuSearch(tree, profile, menu).find(menu.entries[:MOST_ASKED])
            for mention in found.mentions:
                unruled.setdefault((mention.at, mention.line, mention.offset), mention)
    _sort(_try_splashes(tree, profile), silent, heard)
    ordered = sorted(unruled.values(), key=lambda one: (one.at, one.line or 0, one.offset or 0))
    return Trial(tuple(silent), tuple(ordered), entries, tuple(heard))


def name_menu(rule: MenuRule) -> str:
    """What a trial calls a menu."""
    return f"menus.{rule.id}: root {rule.root}"


def name_part(rule: MenuRule, part: ReferenceRule | PictureRule | LabelRule | FilePattern) -> str:
    """What a trial calls a rule of a menu."""
    if isinstance(part, PictureRule):
        return f"menus.{rule.id}.pictures: {part.path}"
    if isinstance(part, FilePattern):
        return f"menus.{rule.id}.companions: {part}"
    at = f" {part.at.source}" if part.at is not None else ""
    if isinstance(part, LabelRule):
        return f"menus.{rule.id}.label: {part.file}{at}"
    return f"menus.{rule.id}.references: {part.file}{at} {part.is_}"


def name_findings(findings: Iterable[Finding], profile: Profile) -> Mapping[str, str]:
    """What a trial of `profile` calls the rules that these findings, laid out in its order, stand for."""
    names: dict[str, str] = {}
    kept = [one for one in findings if one.standing != "dropped"]
    menus = [one for one in kept if one.table[:1] == ("menus",)]
    roots = [one for one in menus if len(one.table) == 2 and any(line.key == "root" for line in one.lines)]
    for root, rule in zip(roots, profile.menus, strict=False):
        names[root.id] = name_menu(rule)
        mine = [one for one in menus if one.table[1] == root.table[1]]
        references = (one for one in mine if one.table[2:] == ("references",))
        for one, reference in zip(references, rule.references, strict=False):
            names[one.id] = name_part(rule, reference)
        pictures = (one for one in mine if one.table[2:] == ("pictures",))
        for one, picture in zip(pictures, rule.pictures, strict=False):
            names[one.id] = name_part(rule, picture)
        for one in mine:
            if one.id.endswith(".label") and rule.label is not None:
                names[one.id] = name_part(rule, rule.label)
            elif one.id.endswith(".companions") and rule.companions:
                names[one.id] = name_part(rule, rule.companions[0])
    splashes = (one for one in kept if one.table == ("splash",))
    names |= {one.id: name_splash(rule) for one, rule in zip(splashes, profile.splashes, strict=False)}
    return names


def name_splash(rule: SplashRule) -> str:
    """What a trial calls a splash."""
    return f"splash.{rule.moment}: {rule.file}"


def _sort(tried: Iterable[Silent | Heard], silent: list[Silent], heard: list[Heard]) -> None:
    for one in tried:
        if isinstance(one, Silent):
            silent.append(one)
        else:
            heard.append(one)


def _try_rules(tree: Tree, profile: Profile, entries: EntrySet) -> Iterator[Silent | Heard]:
    rule = entries.rule
    for part, found in _find_files(tree, profile, entries):
        yield Heard(name_part(rule, part), found) if found else _silent_file(tree, rule, part)
    claims = [one for one in find_entry_files(index_names(tree), entries) if len(one.entries) == 1]
    entries.add_files((claim.entries[0], claim.file) for claim in claims)
    for reference in rule.references:
        tried = _try_reference(tree, profile, entries, reference)
        name = name_part(rule, reference)
        yield Silent(name, tried) if isinstance(tried, str) else Heard(name, tried)
    if rule.label is not None:
        name = name_part(rule, rule.label)
        labels = LabelReader(tree, profile, entries).read(rule.label)
        yield Heard(name, ()) if labels else Silent(name, "no shown name is there")


def _silent_file(tree: Tree, rule: MenuRule, part: PictureRule | FilePattern) -> Silent:
    is_picture = isinstance(part, PictureRule)
    volume = part.path.volume if isinstance(part, PictureRule) else part.volume
    if volume not in tree.roles():
        return Silent(name_part(rule, part), f"the volume {volume} is not there")
    what = "picture" if is_picture else "file"
    return Silent(name_part(rule, part), f"no {what} there bears an entry's name")


def _find_files(
    tree: Tree, profile: Profile, entries: EntrySet
) -> Iterator[tuple[PictureRule | FilePattern, tuple[Evidence, ...]]]:
    """The first files that each rule for pictures and companions finds by itself."""
    rule, index = entries.rule, index_names(tree)
    alone: list[tuple[PictureRule | FilePattern, MenuRule]] = [
        (one, replace(rule, pictures=(one,), companions=())) for one in rule.pictures
    ]
    alone += [(one, replace(rule, pictures=(), companions=(one,))) for one in rule.companions]
    for part, only in alone:
        claims = islice(find_entry_files(index, EntrySet(only, entries.menus, profile)), MOST_SHOWN)
        yield part, tuple(Evidence(claim.file.at, None, claim.file.at.name) for claim in claims)


def _try_reference(
    tree: Tree, profile: Profile, entries: EntrySet, reference: ReferenceRule
) -> str | tuple[Evidence, ...]:
    """Why a reference rule finds nothing; else the first places where it does."""
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
        hits = list(islice(reader.read(document, [(reference, bindings)], at, lambda _: True), MOST_SHOWN))
        if hits:
            return tuple(Evidence(at, hit.node.line, hit.node.text) for hit in hits)
    return broken or "nothing there names an entry"


def _try_splashes(tree: Tree, profile: Profile) -> Iterator[Silent | Heard]:
    for splash in profile.splashes:
        at = VolumePath(splash.file.volume, splash.file.path)
        if at.volume not in tree.roles():
            yield Silent(name_splash(splash), f"the volume {at.volume} is not there")
        elif tree.stat(at) is None:
            yield Silent(name_splash(splash), "no such file is there")
        else:
            yield Heard(name_splash(splash), (Evidence(at, None, at.name),))
