"""The remedy for what names nothing any more: its line, item, element or row is taken out of the manifest.

A single setting, or a word of a script, is left to a person: there is no saying what should stand there.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

from workbench.card.paths import VolumePath
from workbench.card.profile import LabelRule, Profile, ReferenceRule
from workbench.card.tree import Tree
from workbench.changes.plan import Plan
from workbench.errors import CardError, ManifestError
from workbench.jobs.check.finding import Remedy
from workbench.jobs.check.manifests_read import ReadManifest, Ruled
from workbench.jobs.placing import delete_all
from workbench.jobs.reworking import Reworked
from workbench.manifests.document import Document, Format, Node
from workbench.manifests.opening import find_matching, open_document
from workbench.manifests.selector import Selector, join_pointer, split_pointer
from workbench.values import dataclass

_KEYS = frozenset(("key", "section"))
_EVERY_LINE = Selector.parse("/#line")


@dataclass(frozen=True, slots=True)
class _DeadText:
    """A text of one manifest that is to be taken out, wherever the same rule finds it."""

    at: VolumePath
    format: Format
    selector: Selector | None
    names_key: bool
    is_row_field: bool
    """Whether the whole row goes that the text is a field of."""
    text: str


def taking_out(
    manifest: ReadManifest, rule: ReferenceRule, group: Sequence[Ruled], node: Node
) -> Remedy | None:
    """The remedy for one such text; None where only a person can tell."""
    is_row_field = any(_is_label_key(menu.label, manifest, rule) for menu, _, _ in group)
    assert manifest.document is not None
    if _pointer_of(manifest.document, rule.at, rule.names_key, is_row_field, node) is None:
        return None
    words = "take the line out" if manifest.format == "lines" else "take it out of the manifest"
    dead = _DeadText(manifest.real, manifest.format, rule.at, rule.names_key, is_row_field, node.text)
    return Remedy(words, partial(_plan_one, dead), dead, _plan_all)


def _plan_one(dead: _DeadText, tree: Tree, profile: Profile) -> Plan:
    return _plan_all(tree, profile, [dead])


def _plan_all(tree: Tree, profile: Profile, dead: Sequence[_DeadText]) -> Plan:
    """All of them are in one manifest.

    Raises:
        ManifestError: it is malformed, or cannot be edited.
    """
    at, format = dead[0].at, dead[0].format
    document = open_document(tree.read(at), format, str(at), profile.variables)
    reworked = Reworked(document, tree.resolve(at), profile.variables)
    pointers = {pointer for one in _group(dead) for pointer in _find(document, *one)}
    delete_all(reworked, _outermost(pointers))
    write = reworked.write()
    count = len(pointers)
    what = f"{count} dead references" if count != 1 else f"what names {dead[0].text.strip()[:60]}"
    return Plan(f"Take {what} out of {at.name}", (write,) if write is not None else ())


_Kind = tuple[Selector | None, bool, bool]


def _group(dead: Sequence[_DeadText]) -> list[tuple[_Kind, frozenset[str]]]:
    kinds: dict[_Kind, set[str]] = {}
    for one in dead:
        kinds.setdefault((one.selector, one.names_key, one.is_row_field), set()).add(one.text)
    return [(kind, frozenset(texts)) for kind, texts in kinds.items()]


def _find(document: Document, kind: _Kind, texts: frozenset[str]) -> set[str]:
    selector, names_key, is_row_field = kind
    at = _EVERY_LINE if selector is None and document.format == "lines" else selector
    found = set()
    for node in find_matching(document, at, lambda text: text in texts or "\n" in text or "=" in text):
        if node.text in texts and (at is None or (node.role in _KEYS) == names_key):
            pointer = _pointer_of(document, selector, names_key, is_row_field, node)
            found |= {pointer} if pointer is not None else set()
    return found


def _outermost(pointers: set[str]) -> set[str]:
    return {one for one in pointers if not any(one.startswith(other + "/") for other in pointers)}


def _pointer_of(
    document: Document, selector: Selector | None, names_key: bool, is_row_field: bool, node: Node
) -> str | None:
    """What goes with the text; None where nothing does."""
    if document.format == "lines":
        return node.pointer
    if document.format == "shell" or selector is None:
        return None
    if names_key:
        return node.pointer if document.format != "xml" else None
    tokens = split_pointer(node.pointer)
    if is_row_field:
        last = max((n for n, token in enumerate(selector.tokens) if token.name is not None), default=None)
        return None if last is None else join_pointer(tokens[: last + 1])
    if document.format == "xml":
        is_element = len(tokens) > 1 and tokens[-1] == "#text" and selector.tokens[-2].name is not None
        return join_pointer(tokens[:-1]) if is_element else None
    if selector.tokens[-1].name is None or document.format not in ("json", "toml"):
        return None
    try:
        parent = document.get(join_pointer(tokens[:-1]))
    except (CardError, ManifestError):
        return None
    return node.pointer if isinstance(parent, list) else None


def _is_label_key(label: LabelRule | None, manifest: ReadManifest, rule: ReferenceRule) -> bool:
    """Whether labels go by this text: then its row is the entry's own."""
    return (
        label is not None
        and label.key is not None
        and rule.at is not None
        and manifest.is_label_file
        and label.format == manifest.format
        and label.key.source == rule.at.source
    )
