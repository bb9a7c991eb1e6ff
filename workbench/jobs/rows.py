"""What each reference to an entry stands for in its manifest: a row of the entry's own, an item of a list, a
field of another's row, a setting, or a word that only a person can take out.

A row belongs to the entry whose name is its key, or that its first telling field names: the field that the
label goes by, then one that is a whole name, then a path.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Literal

from workbench.card.globs import translate
from workbench.card.paths import VolumePath
from workbench.card.profile import LabelRule, MenuRule, ReferenceRule
from workbench.card.reference import ManifestReferences, Reference
from workbench.errors import ManifestError
from workbench.manifests.document import Document, Format
from workbench.manifests.selector import Selector, Token, join_pointer, split_pointer
from workbench.values import dataclass

Sort = Literal["row", "item", "field", "setting", "word"]
Tokens = tuple[str, ...]
Shape = tuple[str | None, ...]
"""The tokens of a selector up to a row; None for each placeholder."""


@dataclass(frozen=True, slots=True)
class Row:
    """A part of a manifest that is about one entry."""

    tokens: Tokens
    shape: Shape
    key: Token | None
    """How the row's key names the entry; None where a field does."""
    is_labelled: bool
    """Whether the entry's label goes by this row."""

    @property
    def pointer(self) -> str:
        return join_pointer(self.tokens)

    def holds(self, pointer: str) -> bool:
        """Whether a place is the row itself or in it."""
        return split_pointer(pointer)[: len(self.tokens)] == self.tokens


@dataclass(frozen=True, slots=True)
class Standing:
    """One reference, and what it stands for."""

    reference: Reference
    sort: Sort
    pointer: str
    """Of the row, of the item, or of the value that a field or setting has."""


def find_rows(found: ManifestReferences) -> tuple[Row, ...]:
    """The rows of the entry that the references are about, in document order."""
    rows: dict[Tokens, Row] = {}
    rules = list_rules(found.rule, found.at, found.document.format)
    for reference in found.references:
        rule = rule_of(reference, rules)
        if rule is None or rule.at is None or found.document.format in ("shell", "lines"):
            continue
        tokens = split_pointer(reference.node.pointer)
        if rule.names_key:
            if found.document.format != "xml":
                is_labelled = _is_label_shape(found.rule.label, found, shape_of(rule.at.tokens))
                row = Row(tokens, shape_of(rule.at.tokens), rule.at.tokens[-1], is_labelled)
                rows.setdefault(tokens, row)
            continue
        for size in _row_sizes(rule.at):
            shape = shape_of(rule.at.tokens[:size])
            if not _is_keyed(rules, shape) and _is_own(found, rules, tokens[:size], shape):
                is_labelled = _is_label_shape(found.rule.label, found, shape)
                rows.setdefault(tokens[:size], Row(tokens[:size], shape, None, is_labelled))
    outer = [row for row in rows.values() if not any(_is_inside(row.tokens, other) for other in rows)]
    return tuple(outer)


def sort_references(found: ManifestReferences) -> tuple[Standing, ...]:
    """What each reference stands for."""
    rows = find_rows(found)
    rules = list_rules(found.rule, found.at, found.document.format)
    return tuple(_sort(found.document, rows, rules, reference) for reference in found.references)


def list_rules(rule: MenuRule, at: VolumePath, format: Format) -> tuple[ReferenceRule, ...]:
    """The menu's reference rules for one manifest (for all of its format where it is met behind a link)."""
    alike = [one for one in rule.references if one.format == format]
    named = [one for one in alike if _fits(one, at)]
    return tuple(named or alike)


def rule_of(reference: Reference, rules: Iterable[ReferenceRule]) -> ReferenceRule | None:
    """The first rule under which the reference could have been found."""
    tokens, is_key = split_pointer(reference.node.pointer), reference.node.role in ("key", "section")
    for rule in rules:
        if rule.at is None and not is_key:
            return rule
        if rule.at is not None and rule.names_key == is_key and rule.at.match(tokens) is not None:
            return rule
    return None


def shape_of(tokens: Sequence[Token]) -> Shape:
    """What two selectors have in common when they lead to the same sort of row."""
    return tuple(None if token.name is not None else token.before for token in tokens)


def has_shape(tokens: Tokens, shape: Shape) -> bool:
    """Whether these tokens of a pointer lead to such a row."""
    return len(tokens) == len(shape) and all(
        wanted in (None, token) for token, wanted in zip(tokens, shape, strict=True)
    )


def is_bare(reference: Reference) -> bool:
    """Whether the text is the name and nothing else: then it is no path to something beside the manifest."""
    return reference.start == 0 and reference.end == len(reference.text)


def _fits(rule: ReferenceRule, at: VolumePath) -> bool:
    return rule.file.volume == at.volume and translate(rule.file.path, fold=True).match(at.path) is not None


def _row_sizes(at: Selector) -> Iterator[int]:
    """How many tokens lead to each row around a value, the innermost first: something must follow in it."""
    tokens = at.tokens
    for index in range(len(tokens) - 2, -1, -1):
        is_only_text = index == len(tokens) - 2 and tokens[-1].before == "#text"
        if tokens[index].name is not None and not is_only_text:
            yield index + 1


def _is_keyed(rules: Sequence[ReferenceRule], shape: Shape) -> bool:
    return any(rule.names_key and rule.at is not None and shape_of(rule.at.tokens) == shape for rule in rules)


def _is_own(found: ManifestReferences, rules: Sequence[ReferenceRule], row: Tokens, shape: Shape) -> bool:
    """Whether the first telling field of the row names this entry."""
    named = {split_pointer(one.node.pointer) for one in found.references if one.node.role not in ("key",)}
    for tail in _telling_fields(found, rules, shape):
        if _has_text(found.document, (*row, *tail)):
            return (*row, *tail) in named
    return False


def _telling_fields(
    found: ManifestReferences, rules: Sequence[ReferenceRule], shape: Shape
) -> Iterator[Tokens]:
    label = found.rule.label
    if label is not None and label.key is not None and _is_label_shape(label, found, shape):
        yield tuple(token.before for token in label.key.tokens[len(shape) :])
    size = len(shape)
    inside = [
        (rule.is_, tuple(token.before for token in rule.at.tokens[size:]))
        for rule in rules
        if rule.at is not None
        and not rule.names_key
        and shape_of(rule.at.tokens[:size]) == shape
        and len(rule.at.tokens) > size
        and all(token.name is None for token in rule.at.tokens[size:])
    ]
    for forms in (("{entry}", "{stem}"), ("{path}",)):
        yield from (tail for form, tail in inside if form in forms)
    yield from (tail for form, tail in inside if form not in ("{entry}", "{stem}", "{path}"))


def _is_label_shape(label: LabelRule | None, found: ManifestReferences, shape: Shape) -> bool:
    """Whether the rule for labels reads rows of that shape in this manifest."""
    if label is None or label.format != found.document.format or label.file.volume != found.at.volume:
        return False
    if translate(label.file.path, fold=True).match(found.at.path) is None:
        return False
    by = label.key or label.at
    return shape_of(by.tokens[: len(shape)]) == shape


def _has_text(document: Document, tokens: Tokens) -> bool:
    try:
        return isinstance(document.get(join_pointer(tokens)), str)
    except ManifestError:
        return False


def _is_inside(tokens: Tokens, other: Tokens) -> bool:
    return len(other) < len(tokens) and tokens[: len(other)] == other


def _sort(
    document: Document, rows: Sequence[Row], rules: Sequence[ReferenceRule], reference: Reference
) -> Standing:
    pointer = reference.node.pointer
    for row in rows:
        if row.holds(pointer):
            return Standing(reference, "row", row.pointer)
    if document.format == "lines":
        return Standing(reference, "item", pointer)
    rule = rule_of(reference, rules)
    is_word = rule is None or rule.at is None or rule.names_key or document.format == "shell"
    if is_word or reference.coding == "command":
        return Standing(reference, "word", pointer)
    assert rule is not None and rule.at is not None
    tokens = rule.at.tokens
    if document.format == "xml" and tokens[-1].before == "#text":
        # A text that stands alone in an element goes with its element.
        tokens, pointer = tokens[:-1], pointer.rpartition("/")[0]
    if tokens[-1].name is not None and (document.format == "xml" or _is_in_list(document, pointer)):
        return Standing(reference, "item", pointer)
    is_field = any(token.name is not None for token in tokens)
    return Standing(reference, "field" if is_field else "setting", pointer)


def _is_in_list(document: Document, pointer: str) -> bool:
    if document.format not in ("json", "toml"):
        return False
    return isinstance(document.get(pointer.rpartition("/")[0]), list)
