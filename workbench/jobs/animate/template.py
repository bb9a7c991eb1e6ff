"""Fills the open places of a template (`{name}`, `{label}`, …) so that each text lands inert.

The template is opened as the manifest that it is, and every place is replaced in the quoting that it stands
in. What a text holds is never read as an open place again, nor as anything else of the format.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

from workbench.errors import ManifestError
from workbench.manifests.document import Document, Edit, Format, Node, apply_edits
from workbench.manifests.opening import open_document

WORDS = ("name", "label", "author", "count", "last", "delay", "rate", "loops")
"""What a template may leave open."""

_OPEN = re.compile(r"(?<!\$)\{(" + "|".join(WORDS) + r")\}")
_COMMENTS: dict[Format, tuple[bytes, ...]] = {
    "shell": (b"#",),
    "toml": (b"#",),
    "ini": (b"#", b";"),
    "keyvalue": (b"#", b";"),
}
_LINE_END = "\ue00a"
"""Stands for a line end while a script's quoting is worked out; of the private use area, so in no text."""


def fill_template(text: str, format: Format, words: Mapping[str, str], path: str) -> bytes:
    """The template's bytes with every open place filled in; a missing word is an empty text.

    Raises:
        ManifestError: the template is malformed, or the format cannot hold one of the texts.
    """
    raw = _fill_comments(text.removeprefix("\n").encode(), format, words)
    for number, start, end, word in reversed(_find_open(open_document(raw, format, path))):
        document = open_document(raw, format, path)
        node = list(document.find(None))[number]
        raw = put_part(document, node, start, end, words.get(word, ""), path)
    return raw


def put_part(document: Document, node: Node, start: int, end: int, text: str, path: str = "") -> bytes:
    """The document's bytes with a part of one text replaced, a line end held too where the format can.

    Raises:
        ManifestError: the format cannot hold the text there.
    """
    if "\n" not in text or document.format != "shell":
        edit = document.replace_part(node, start, end, text)
        if edit is None:
            raise _cannot(path, node)
        return apply_edits(document.raw, (edit,))
    return _put_lines(document, node, start, end, text, path)


def fit_text(text: str, format: Format) -> str:
    """The text as the format can hold it: on one line where it knows nothing else."""
    return one_line(text) if format in ("ini", "keyvalue", "lines") else text


def one_line(text: str) -> str:
    """The text without line ends and other controls, for a format that holds none."""
    return " ".join("".join(char if char.isprintable() else " " for char in text).split())


def _find_open(document: Document) -> list[tuple[int, int, int, str]]:
    """Every open place: the number of its node, its span in the node's text, its word.

    A word that only repeats a variable has none of its own.
    """
    return [
        (number, found.start(), found.end(), found[1])
        for number, node in enumerate(document.find(None))
        for found in _OPEN.finditer(node.text)
        if found[0].encode() in document.raw[node.start : node.end]
    ]


def _put_lines(document: Document, node: Node, start: int, end: int, text: str, path: str) -> bytes:
    """A text of several lines in a script: within quotes a line end stands for itself (POSIX XCU 2.2)."""
    wanted = node.text[:start] + text + node.text[end:]
    edit = document.replace_part(node, start, end, text.replace("\n", _LINE_END))
    if edit is not None:
        raw = apply_edits(document.raw, (edit,)).replace(_LINE_END.encode(), b"\n")
        if _reads_as(raw, node, wanted, path):
            return raw
    quoted = b"'" + wanted.encode().replace(b"'", b"'\\''") + b"'"
    raw = apply_edits(document.raw, (Edit(node.start, node.end, quoted),))
    if not _reads_as(raw, node, wanted, path):
        raise _cannot(path, node)
    return raw


def _reads_as(raw: bytes, node: Node, wanted: str, path: str) -> bool:
    """Whether the shell still takes the script, and the place holds exactly that text."""
    document = open_document(raw, "shell", path)
    try:
        check = getattr(document, "check_editable", None)
        if check is not None:
            check()
    except ManifestError:
        return False
    return any(one.pointer == node.pointer and one.text == wanted for one in document.find(None))


def _fill_comments(raw: bytes, format: Format, words: Mapping[str, str]) -> bytes:
    """Open places in comment lines: the text on one line."""
    signs = _COMMENTS.get(format, ())
    lines = raw.split(b"\n")
    for number, line in enumerate(lines):
        if signs and line.lstrip(b" \t").startswith(signs) and not line.startswith(b"#!"):
            text = line.decode("utf-8", "surrogateescape")
            filled = _OPEN.sub(lambda found: one_line(words.get(found[1], "")), text)
            lines[number] = filled.encode("utf-8", "surrogateescape")
    return b"\n".join(lines)


def _cannot(path: str, node: Node) -> ManifestError:
    return ManifestError(
        f"{path or 'the template'}, line {node.line}: nothing can be put in there; nothing was changed. "
        "Let the open place stand in quotes of its own.",
        path=path or None,
        line=node.line,
    )
