"""Rules about what names entries: names and paths that lead to nothing, and names in another case."""

from __future__ import annotations

import unicodedata
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from workbench.card.profile import MenuRule, NamesRule, ReferenceRule
from workbench.card.reference import Piece
from workbench.card.roster import is_same_name
from workbench.card.text_form import Fit, TextForm, key_form, read_form
from workbench.jobs.check.checked_card import CheckedCard
from workbench.jobs.check.finding import Finding, Level
from workbench.jobs.check.leads import THERE, Lead
from workbench.jobs.check.manifests_read import ReadManifest, Ruled
from workbench.jobs.check.other_rows import OtherRows
from workbench.jobs.check.respell import respelling
from workbench.jobs.check.rule import Rule
from workbench.jobs.check.take_out import taking_out
from workbench.late_pattern import late_pattern
from workbench.manifests.document import Node
from workbench.manifests.opening import find_matching
from workbench.manifests.selector import Selector
from workbench.shown import shown

DANGLING = Rule("dangling-reference", "error", "names an entry that is not there")
MISSING = Rule("missing-target", "warning", "leads to a file that is not there")
WRONG_CASE = Rule("wrong-case", "error", "is spelled in another case than the card has it")
RULES = (DANGLING, MISSING, WRONG_CASE)

_KEYS = frozenset(("key", "section"))
_EVERY_LINE = Selector.parse("/#line")
_ABOUT_ENTRIES = frozenset(("entry", "stem", "parent"))
_COMMENT = late_pattern(r"\s+[;#]")
_NO_NAME = ("_", "$", "#", ";", "//")
"""Beginnings of keys and lines that are no names (common practice, no source): comments, schemas."""
_PLAIN = frozenset(("", "none", "default", "null", "-", "*", "."))
"""What settings say that name nothing (common practice, no source)."""

_Sort = tuple[str | None, bool]
"""The texts that rules look at: the selector, and whether its key or its value is meant."""


_Kind = tuple[_Sort, frozenset[str]]
"""The same, with the patterns of the files: by how many texts are right a rule itself is judged."""


class _Doubt(NamedTuple):
    """Something that leads nowhere, not judged yet."""

    kind: _Kind
    rule: Rule
    finding: Finding


def find(card: CheckedCard) -> Iterator[Finding]:
    """Every text that leads nowhere, or somewhere else than it says."""
    reading = _Reading(card)
    for manifest in card.manifests:
        if manifest.document is not None and manifest.rules and not card.is_derived(manifest.real):
            reading.read(manifest)
    yield from reading.conclude()


class _Reading:
    """Reads manifest by manifest, and remembers what was there."""

    def __init__(self, card: CheckedCard) -> None:
        self._card = card
        self._fine: dict[object, set[str]] = {}
        """Texts, and lines of INI files, that are known to be all right, by where that holds."""
        self._doubts: list[_Doubt] = []
        self._there: Counter[_Kind] = Counter()
        self._gone: Counter[_Kind] = Counter()

    def read(self, manifest: ReadManifest) -> None:
        """Look at every text that a rule of the profile speaks of."""
        groups: dict[_Sort, list[Ruled]] = {}
        for ruled in manifest.rules:
            rule = ruled[1]
            groups.setdefault((rule.at.source if rule.at else None, rule.names_key), []).append(ruled)
        for sort, group in groups.items():
            self._read_group(manifest, (sort, frozenset(str(rule.file) for _, rule, _ in group)), group)

    def conclude(self) -> Iterator[Finding]:
        """The findings; those of rules that mostly speak of other things are only notes."""
        for doubt in self._doubts:
            there, gone = self._there[doubt.kind], self._gone[doubt.kind]
            needed = 2 * gone if doubt.kind[0][1] else gone
            is_few = there + gone < 3 and not (doubt.kind[0][1] and not there)
            is_doubtful = doubt.rule is DANGLING and not is_few and there < needed
            one = doubt.finding
            if is_doubtful:
                one = Finding(one.rule, "note", one.at, one.line, one.message, one.remedy)
            yield one

    def _read_group(self, manifest: ReadManifest, kind: _Kind, group: Sequence[Ruled]) -> None:
        assert manifest.document is not None
        rule = group[0][1]
        looking = _Looking(self._card, manifest, group)
        fine = self._fine.setdefault(looking.scope, set()) if looking.can_remember else set()
        found = 0
        at = rule.at
        if at is None and manifest.format == "lines":
            at = _EVERY_LINE
        spoilt: set[str] = set()
        others = OtherRows(manifest.document)
        for node in find_matching(manifest.document, at, lambda text: text not in fine):
            if not looking.concerns(node):
                continue
            lead = looking.judge(node)
            if lead.fate == "there" or (lead.fate == "astray"):
                fine.add(node.text)
                self._there[kind] += 1
                continue
            if lead.fate == "gone" and rule.names_key and others.has(node):
                continue
            if manifest.format == "ini":
                spoilt.add(_line_of(manifest.document.raw, node))
            if lead.fate == "gone":
                self._gone[kind] += 1
            one = looking.describe(node, lead)
            if one is not None:
                found += 1
                self._doubts.append(_Doubt(kind, one[0], one[1]))
            if found >= self._card.most_in_file:
                self._doubts.append(_Doubt(kind, MISSING, looking.say_more()))
                return
        if manifest.format == "ini" and looking.can_remember and _is_anywhere(rule):
            lines = manifest.document.raw.decode("utf-8", "surrogateescape").splitlines()
            fine.update(line for line in lines if line not in spoilt)


class _Looking:
    """The rules that look at the same texts of one manifest."""

    def __init__(self, card: CheckedCard, manifest: ReadManifest, group: Sequence[Ruled]) -> None:
        self._card = card
        self._manifest = manifest
        self._ruled = group
        self._rule = group[0][1]
        self._names = card.profile.volumes[manifest.at.volume].names
        self._menus = tuple(dict.fromkeys(menu.id for menu, _, _ in group))
        self._forms: dict[str, tuple[TextForm, list[Ruled]]] = {}
        for ruled in group:
            is_ = "key" if ruled[1].names_key else ruled[1].is_
            self._forms.setdefault(is_, (self._read_form(ruled[1]), []))[1].append(ruled)
        tokens = self._rule.at.tokens if self._rule.at is not None else ()
        own = {token.name for token in (tokens[:-1] if self._rule.names_key else tokens)}
        bound = tuple(tuple(sorted(bindings.items())) for _, _, bindings in group)
        self.can_remember = not own & _ABOUT_ENTRIES
        sort = self._rule.at.source if self._rule.at is not None else None, self._rule.names_key
        self.scope = (sort, tuple(self._forms), self._menus, manifest.at.parent, bound)
        """Where what is known of a text holds."""

    def _read_form(self, rule: ReferenceRule) -> TextForm:
        if rule.names_key and rule.at is not None:
            return key_form(rule.at.tokens[-1], self._names)
        return read_form(rule.is_, self._names)

    def concerns(self, node: Node) -> bool:
        """Whether the rules speak of this text."""
        if self._rule.at is None:
            return self._manifest.format != "shell" or node.role in ("word", "assignment")
        return (node.role in _KEYS) == self._rule.names_key

    def judge(self, node: Node) -> Lead:
        """Where it leads: right under one of the rules is right."""
        if node.text.strip().casefold() in _PLAIN:
            return THERE
        leads = []
        for form, group in self._forms.values():
            fit = form.match(node.text)
            if fit is None:
                continue
            if form.wanted == "path":
                leads.append(self._judge_path(node, fit))
            else:
                leads += [self._judge_name(node, fit, form.wanted, *ruled) for ruled in group]
        if not leads or any(lead.fate == "there" for lead in leads):
            return THERE
        return next((lead for lead in leads if lead.fate == "case"), leads[0])

    def _judge_path(self, node: Node, fit: Fit) -> Lead:
        text = node.text[fit.start : fit.end]
        is_script = self._manifest.format == "shell"
        lead = self._card.leads.follow(text, self._manifest.at, is_script=is_script)
        if lead.fate != "there" and self._manifest.format in ("ini", "keyvalue"):
            comment = _COMMENT.search(text)
            if comment is not None:
                return self._card.leads.follow(text[: comment.start()], self._manifest.at)
        if lead.fate == "case" and lead.start >= 0:
            return lead._replace(start=lead.start + fit.start, end=lead.end + fit.start)
        is_loose = self._rule.at is None and self._manifest.format not in ("lines", "shell")
        if lead.fate in ("gone", "missing") and not lead.is_sure and (is_loose or is_script):
            return THERE
        if self._manifest.format == "lines" and not lead.is_sure and text.startswith(_NO_NAME):
            return THERE
        return lead

    def _judge_name(
        self, node: Node, fit: Fit, piece: Piece, menu: MenuRule, rule: ReferenceRule, file: Mapping[str, str]
    ) -> Lead:
        if menu.root.volume not in self._card.roles:
            return THERE
        text = node.text[fit.start : fit.end]
        bound = _agree(file, node, fit, rule.names_key, self._names)
        if bound is None:
            return THERE
        found = self._card.entries_of(menu).find(piece, text, bound)
        if found:
            real = found[0].stem if piece == "stem" else found[0].name
            return THERE if real == text or len(found) > 1 else Lead("case", real, fit.start, fit.end)
        if self._names == "exact":
            other = self._find_case(menu, piece, text)
            if other is not None:
                return Lead("case", other, fit.start, fit.end)
        is_comment = text.startswith(_NO_NAME) and (self._rule.names_key or self._manifest.format == "lines")
        if is_comment or self._card.is_hidden_entry(menu, text):
            return THERE
        return Lead("gone", text)

    def _find_case(self, menu: MenuRule, piece: Piece, text: str) -> str | None:
        for one in self._card.menus_of(menu):
            for entry in one.entries:
                name = entry.stem if piece == "stem" else entry.name
                if is_same_name(name, text, "fat"):
                    return name
        return None

    def describe(self, node: Node, lead: Lead) -> tuple[Rule, Finding] | None:
        """The finding, and its rule."""
        at, said = self._manifest.real, shown(node.text.strip()[:80])
        if lead.fate == "case":
            is_harmless = self._card.profile.volumes[at.volume].names == "fat"
            is_form = unicodedata.normalize("NFC", lead.name) == unicodedata.normalize("NFC", node.text)
            how = "with its accents written in another way" if is_form else repr(shown(lead.name))
            message = f"{said!r} is spelled {how} on the card"
            remedy = respelling(self._manifest, self._rule, node, lead) if lead.start >= 0 else None
            level: Level | None = "note" if is_harmless else None
            return WRONG_CASE, WRONG_CASE.found(at, message, line=node.line, remedy=remedy, level=level)
        remedy = taking_out(self._manifest, self._rule, self._ruled, node)
        if lead.fate == "gone":
            where = self._menu_words()
            message = f"{said!r} names {shown(lead.name)!r}, which is not in {where}"
            if lead.name == node.text:
                message = f"names {said!r}, which is not in {where}"
            is_soft = not lead.is_sure or self._manifest.format == "shell" or self._is_setting()
            is_soft = is_soft or self._card.is_rewritten(at)
            level = "warning" if is_soft else None
            return DANGLING, DANGLING.found(at, message, line=node.line, remedy=remedy, level=level)
        level = "note" if self._manifest.format == "shell" or not lead.is_sure else None
        message = f"{said!r} leads to {shown(lead.name)}, which is not there"
        return MISSING, MISSING.found(at, message, line=node.line, remedy=remedy, level=level)

    def say_more(self) -> Finding:
        """That there is more of it in this file."""
        message = f"more than {self._card.most_in_file} places lead nowhere; the others are mended with them"
        return Finding(MISSING.name, "note", self._manifest.real, None, message, is_more=True)

    def _menu_words(self) -> str:
        one = self._menus[0]
        return f"the menu {one}" if len(self._menus) == 1 else f"the menus {', '.join(self._menus)}"

    def _is_setting(self) -> bool:
        """Whether it is one place and not one of a list: what stands there may be a word for none."""
        at = self._rule.at
        return at is not None and self._manifest.format != "lines" and all(t.name is None for t in at.tokens)


def _agree(
    file: Mapping[str, str], node: Node, fit: Fit, names_key: bool, names: NamesRule
) -> Mapping[str, str] | None:
    """What placeholders stand for, with the one that is looked for left out; None where they contradict."""
    bound = dict(node.bindings)
    if names_key:
        bound.pop("entry", None)
        bound.pop("stem", None)
    if fit.parent is not None:
        bound.setdefault("parent", fit.parent)
    for name, value in bound.items():
        if name in file and not is_same_name(file[name], value, names):
            return None
    return {**file, **bound}


def _is_anywhere(rule: ReferenceRule) -> bool:
    """Whether a line means the same in every section."""
    return rule.at is not None and bool(rule.at.tokens) and rule.at.tokens[0].name is not None


def _line_of(raw: bytes, node: Node) -> str:
    start = raw.rfind(b"\n", 0, node.start) + 1
    stop = raw.find(b"\n", node.start)
    return raw[start : stop if stop >= 0 else len(raw)].decode("utf-8", "surrogateescape").rstrip("\r")
