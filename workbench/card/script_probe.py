"""What of a script's references can be edited, found out by trying.

A name may come from a variable: then the assignment is what has to change, and only if the words that use it
lead to the entry. Whatever stays wrong after that is a mention for the person.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence

from workbench.card.entry import Entry
from workbench.card.paths import VolumePath
from workbench.card.profile import MenuRule
from workbench.card.reference import Reference
from workbench.card.rewriting import Pieces, make_edits, name_pieces
from workbench.card.rule_reading import NodeHit
from workbench.errors import ManifestError
from workbench.manifests.document import Document, Node, apply_edits

_TRIAL = "Trial9name"
"""A name that needs no quoting and that nobody has."""


def split_editable(
    document: Document,
    hits: Sequence[NodeHit],
    entry: Entry,
    rule: MenuRule,
    at: VolumePath,
    variables: Mapping[str, str],
) -> tuple[tuple[Reference, ...], tuple[Node, ...]]:
    """The references of a script that an edit reaches, and the words that it does not."""
    pieces = name_pieces(_TRIAL, rule)
    direct = [hit for hit in hits if hit.start >= 0 and _takes_edit(document, hit, pieces)]
    rest = [hit for hit in hits if hit not in direct]
    if not rest:
        return tuple(hit.reference(at) for hit in direct), ()
    carriers = _find_carriers(document, entry, direct)
    carriers = [hit for hit in carriers if _takes_edit(document, hit, pieces)]
    is_reached = _try_out(document, [*direct, *carriers], at, pieces, variables)
    reached = [hit for hit in rest if hit.start >= 0 and is_reached(hit)]
    if not reached or not carriers:
        return tuple(hit.reference(at) for hit in direct), tuple(h.node for h in rest if h not in reached)
    found = sorted([*direct, *carriers], key=lambda hit: hit.node.start)
    return tuple(hit.reference(at) for hit in found), tuple(hit.node for hit in rest if hit not in reached)


def _takes_edit(document: Document, hit: NodeHit, pieces: Pieces) -> bool:
    try:
        return document.replace_part(hit.node, hit.start, hit.end, pieces[hit.piece]) is not None
    except ManifestError:
        return False


def _find_carriers(document: Document, entry: Entry, direct: Iterable[NodeHit]) -> list[NodeHit]:
    """Assignments whose whole value is the entry's name or stem."""
    taken = {hit.node.start for hit in direct}
    found = []
    for node in document.find(None):
        if node.role != "assignment" or node.start in taken:
            continue
        if node.text == entry.name:
            found.append(NodeHit(node, (entry,), "assignment", 0, len(node.text), "entry"))
        elif node.text == entry.stem:
            found.append(NodeHit(node, (entry,), "assignment", 0, len(node.text), "stem"))
    return found


def _try_out(
    document: Document, hits: Iterable[NodeHit], at: VolumePath, pieces: Pieces, variables: Mapping[str, str]
) -> Callable[[NodeHit], bool]:
    """Whether a word reads as wanted in the script as it is with all edits made."""
    from workbench.manifests.opening import open_document

    edits, _ = make_edits((hit.reference(at) for hit in hits), document, lambda _: pieces)
    edited = open_document(apply_edits(document.raw, edits), document.format, str(at), variables)
    texts = {(node.role, node.pointer): node.text for node in edited.find(None)}

    def is_reached(hit: NodeHit) -> bool:
        old = hit.node.text
        wanted = old[: hit.start] + pieces[hit.piece] + old[hit.end :]
        return texts.get((hit.node.role, hit.node.pointer)) == wanted

    return is_reached
