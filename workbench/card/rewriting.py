"""Puts an entry's new name in every reference of a manifest: one document, one set of edits, judged again."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence

from workbench.card.command_words import quote_part
from workbench.card.entry import Entry, stem_of
from workbench.card.path_text import count_shared_ends, percent_encode_like
from workbench.card.paths import VolumePath
from workbench.card.profile import MenuRule, Profile
from workbench.card.reference import ManifestReferences, Piece, Reference
from workbench.card.tree import Tree
from workbench.digests import sha256_hex
from workbench.errors import ManifestError
from workbench.manifests.document import Document, Edit, Node, Value
from workbench.manifests.selector import join_pointer, split_pointer
from workbench.shown import shown

_QUOTED = frozenset(("json", "toml", "xml"))
_HARMLESS = str.maketrans(dict.fromkeys(" _.-", "a"))
"""What stands with ASCII letters and digits in a text that needs no quoting anywhere."""

Pieces = Mapping[Piece, str]

PiecesOf = Callable[[Reference], Pieces]
"""What stands for the entry that a reference names."""

Changed = tuple[Node, str]
"""A place, and the whole text that it has once it is edited."""


def rewrite(
    tree: Tree,  # noqa: ARG001  (every question about a card takes its tree; this one was read with it)
    profile: Profile,
    found: ManifestReferences,
    entry: Entry,  # noqa: ARG001  (whose references these are; they know where it is named)
    new_name: str,
) -> tuple[bytes, tuple[Edit, ...], str]:
    """The manifest with `new_name` in place of the entry's name, its edits, and the SHA-256 (hex) before.

    The manifest is the one that `found` was read from; nothing is read again.

    Raises:
        ManifestError: the format cannot hold the name there, a key of that name is there already, or the
            result would not be read as meant. The manifest stays as it is.
    """
    pieces = name_pieces(new_name, found.rule)
    return rewrite_document(profile, found.at, found.document, found.references, lambda _: pieces)


def rewrite_document(
    profile: Profile,
    at: VolumePath,
    document: Document,
    references: Sequence[Reference],
    pieces_of: PiecesOf,
) -> tuple[bytes, tuple[Edit, ...], str]:
    """As `rewrite`, for references to any number of entries: all edits at once, judged once."""
    from workbench.manifests.opening import edit_document

    edits, changed = make_edits(references, document, pieces_of)
    before = sha256_hex(document.raw)
    if not edits:
        return document.raw, (), before
    expect = _expect(document, changed)
    edited = edit_document(document, edits, path=str(at), variables=profile.variables, expect=expect)
    return edited, edits, before


def name_pieces(new_name: str, rule: MenuRule) -> Pieces:
    """What stands for the entry under its new name: the name, and the stem."""
    return {"entry": new_name, "stem": stem_of(new_name, rule)}


def make_edits(
    references: Iterable[Reference], document: Document, pieces_of: PiecesOf
) -> tuple[tuple[Edit, ...], list[Changed]]:
    """The edits that put the new name in each reference, and the text that each place then has.

    Raises:
        ManifestError: a place cannot be edited, or cannot hold the name.
    """
    edits: list[Edit] = []
    changed: list[Changed] = []
    for group in group_by_node(references):
        start, end, text = _without_common_ends(group[0].node.text, *replace_text(group, pieces_of))
        node = group[0].node
        edit = _edit_plain(document, node, start, end, text) or document.replace_part(node, start, end, text)
        if edit is None:
            raise ManifestError(
                f"line {node.line} of {shown(str(group[0].at))} names the entry through a variable; "
                "it was left as it is. Edit the line by hand.",
                path=str(group[0].at),
                line=node.line,
            )
        if document.raw[edit.start : edit.end] != edit.new:
            edits.append(edit)
            changed.append((node, node.text[:start] + text + node.text[end:]))
    return tuple(edits), changed


def _edit_plain(document: Document, node: Node, start: int, end: int, text: str) -> Edit | None:
    """The edit where text stands as it is and what takes its place needs no quoting anywhere: most of them.

    None where that is not so; then the document works it out, character by character.
    """
    if document.format not in _QUOTED or not node.text.isascii() or not _is_harmless(text):
        return None
    inner = 0 if node.role == "text" else 1
    low, high = node.start + inner, node.end - inner
    if document.raw[low:high] != node.text.encode() or high - low != len(node.text):
        return None
    if inner and document.raw[node.start : low] not in (b'"', b"'"):
        return None
    whole = node.text[:start] + text + node.text[end:]
    if document.format == "toml" and node.role == "key" and " " not in whole:
        # Whether a key needs its quotes is the document's to say.
        return None
    return Edit(low + start, low + end, text.encode()) if whole == whole.strip() else None


def _is_harmless(text: str) -> bool:
    return not text or (text.isascii() and text.translate(_HARMLESS).isalnum())


def group_by_node(references: Iterable[Reference]) -> list[list[Reference]]:
    """References that stand in one text are replaced together: its quoting may have to change once."""
    groups: dict[tuple[int, int], list[Reference]] = {}
    for reference in references:
        groups.setdefault((reference.node.start, reference.node.end), []).append(reference)
    return [
        group if len(group) == 1 else sorted(group, key=lambda one: one.start) for group in groups.values()
    ]


def replace_text(group: Sequence[Reference], pieces_of: PiecesOf) -> tuple[int, int, str]:
    """The part of the text from the first name to the last, and what takes its place."""
    if len(group) == 1:
        (one,) = group
        return one.start, one.end, _encode(one, pieces_of(one)[one.piece])
    start, end, text = group[0].start, group[-1].end, group[0].text
    parts: list[str] = []
    at = start
    for reference in group:
        parts += text[at : reference.start], _encode(reference, pieces_of(reference)[reference.piece])
        at = reference.end
    return start, end, "".join(parts)


def _without_common_ends(old: str, start: int, end: int, new: str) -> tuple[int, int, str]:
    """The smallest part that has to be replaced: a name that only gets a prefix keeps its own bytes."""
    replaced = old[start:end]
    if new.endswith(replaced) and new[:1] != replaced[:1]:
        return start, start, new[: len(new) - len(replaced)]
    head, tail = count_shared_ends(replaced, new)
    return start + head, end - tail, new[head : len(new) - tail]


def _encode(reference: Reference, new: str) -> str:
    """The new name as the text around it wants it; the document adds its own quoting."""
    if reference.coding == "plain":
        return new
    if reference.coding == "percent":
        return percent_encode_like(new, reference.text[reference.start : reference.end])
    if reference.coding == "command":
        return quote_part(new, quote_at(reference.text, reference.start))
    return new


def quote_at(command: str, at: int) -> str:
    """The quote that is open at that character of a command; a space for none."""
    from workbench.card.command_words import split_command

    for word in split_command(command):
        if at in word.starts:
            return word.quotes[word.starts.index(at)]
    return " "


def _expect(document: Document, changed: Iterable[Changed]) -> dict[str, Value]:
    """What the edited document has to hold, by pointer, where keys have their new names."""
    renamed: dict[tuple[str, ...], str] = {}
    values: dict[str, str] = {}
    for node, text in changed:
        if node.role in ("key", "section"):
            renamed[split_pointer(node.pointer)] = text
        elif not _is_set_again(document, node):
            values[node.pointer] = text
    if not renamed:
        return dict(values)
    depths = sorted({len(pointer) for pointer in renamed})
    places = [(split_pointer(pointer), text) for pointer, text in values.items()]
    expect: dict[str, Value] = {_rename_tokens(place, renamed, depths): text for place, text in places}
    pointers = (*renamed, *(place for place, _ in places))
    above = {pointer[:depth] for pointer in pointers for depth in depths if depth < len(pointer)}
    for pointer in renamed:
        if pointer not in above:
            # Its value may name the entry too: then that is what it has to hold.
            new = _rename_tokens(pointer, renamed, depths)
            if new not in expect:
                expect[new] = document.get(join_pointer(pointer))
    return expect


def _is_set_again(document: Document, node: Node) -> bool:
    """Whether a later line may give the place another value: its pointer means the last then."""
    if document.format == "shell":
        return node.role == "assignment"
    return document.format in ("ini", "keyvalue") and document.get(node.pointer) != node.text


def _rename_tokens(
    pointer: tuple[str, ...], renamed: Mapping[tuple[str, ...], str], depths: Sequence[int]
) -> str:
    tokens = list(pointer)
    for depth in depths:
        if depth <= len(pointer):
            tokens[depth - 1] = renamed.get(pointer[:depth], tokens[depth - 1])
    return join_pointer(tokens)
