"""The remedy for a name in another case than the card has it: the manifest is made to spell it so."""

from __future__ import annotations

from functools import partial

from workbench.card.paths import VolumePath
from workbench.card.profile import Profile, ReferenceRule
from workbench.card.tree import Tree
from workbench.changes.plan import Plan, Write, digest
from workbench.jobs.check.finding import Remedy
from workbench.jobs.check.leads import Lead
from workbench.jobs.check.manifests_read import ReadManifest
from workbench.manifests.document import Format, Node
from workbench.manifests.opening import edit_document, find_matching, open_document
from workbench.manifests.selector import Selector
from workbench.values import dataclass

_KEYS = frozenset(("key", "section"))
_EVERY_LINE = Selector.parse("/#line")


@dataclass(frozen=True, slots=True)
class _Misspelt:
    at: VolumePath
    format: Format
    selector: Selector | None
    names_key: bool
    text: str
    start: int
    end: int
    right: str


def respelling(manifest: ReadManifest, rule: ReferenceRule, node: Node, lead: Lead) -> Remedy:
    """The remedy for one text."""
    at, format = manifest.real, manifest.format
    wrong = _Misspelt(
        at, format, rule.at, rule.names_key, node.text, lead.start, lead.end, lead.name
    )  # fmt: skip
    return Remedy("spell it as the card does", partial(_plan, wrong))


def _plan(wrong: _Misspelt, tree: Tree, profile: Profile) -> Plan:
    """Raises `ManifestError` where the manifest is malformed or cannot be edited."""
    raw = tree.read(wrong.at)
    document = open_document(raw, wrong.format, str(wrong.at), profile.variables)
    selector = _EVERY_LINE if wrong.selector is None and wrong.format == "lines" else wrong.selector
    edits = []
    for node in find_matching(document, selector, lambda text: wrong.text in text):
        if node.text == wrong.text and (selector is None or (node.role in _KEYS) == wrong.names_key):
            edit = document.replace_part(node, wrong.start, wrong.end, wrong.right)
            edits += [edit] if edit is not None else []
    title = f"Spell {wrong.right} in {wrong.at.name} as the card does"
    after = edit_document(document, edits, path=str(wrong.at), variables=profile.variables)
    if after == raw:
        return Plan(title, ())
    return Plan(title, (Write(tree.resolve(wrong.at), after, digest(raw), tuple(edits)),))
