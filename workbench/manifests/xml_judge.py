"""Judges XML 1.0. Expat decides and says where markup stands; it never gets to see a DTD, so no entity that
a document declares is ever expanded (there is no entity bomb to go off).
"""

from __future__ import annotations

import codecs
import re
from collections.abc import Sequence

from workbench.late_pattern import late_pattern
from workbench.manifests.document import MAX_DEPTH
from workbench.manifests.positions import malformed, refused
from workbench.manifests.xml_text import Segment
from workbench.typed import TYPE_CHECKING, Any, NoReturn
from workbench.values import dataclass, field

if TYPE_CHECKING:
    from pyexpat import XMLParserType

_DECLARED = late_pattern(r"(?:\xef\xbb\xbf)?<\?xml[^>]*?encoding\s*=\s*[\"']([A-Za-z0-9._-]+)", re.ASCII)
_PROLOG = late_pattern(r"(?:\xef\xbb\xbf)?(?:\s++|<\?(?s:.*?)\?>|<!--(?s:.*?)-->)*+(?=<!DOCTYPE)", re.ASCII)
_DOCTYPE = late_pattern(
    r"<!DOCTYPE(?:[^\[>\"']|\"[^\"]*\"|'[^']*')*+"
    r"(\[(?:<!--(?s:.*?)-->|<\?(?s:.*?)\?>|\"[^\"]*\"|'[^']*'|[^\]\"'])*+\]\s*)?>",
    re.ASCII,
)
_OWN_ENTITY = late_pattern(r"&(?!(?:lt|gt|amp|quot|apos);)[^#;\s<&\"']+;", re.ASCII)
_START_TAG = late_pattern(r"<[^\s/>]+(?:[^\"'>]|\"[^\"]*\"|'[^']*')*+>", re.ASCII)
_VISIBLE = late_pattern(r"[^\r\n]")

_PROBLEMS = {
    "not well-formed (invalid token)": "XML does not allow this here",
    "mismatched tag": "this end tag does not belong to the element that is open",
    "no element found": "the document ends before its elements are closed",
    "undefined entity": "this entity is not one that XML knows (perhaps a bare '&')",
    "junk after document element": "more follows after the root element",
    "unclosed token": "what starts here is never closed",
    "duplicate attribute": "this element has an attribute twice",
}


@dataclass(slots=True, eq=False)
class Element:
    """One element with the spans of its tags, in bytes."""

    name: str
    start: int
    inner: int
    """Where its start tag ends."""
    close: int = 0
    """Where its end tag starts; for an element without content, the same as `inner`."""
    end: int = 0
    is_empty: bool = False
    """Written as one tag, `<name/>`."""
    pieces: list[Element | Segment | Aside] = field(default_factory=list)
    """Elements, CDATA sections, comments and instructions in it, in order; plain text lies between."""

    attributes: Sequence[Any] | None = None
    """What `xml_walk` read from its start tag, once it was asked."""
    _named: dict[str, list[Element]] | None = None

    @property
    def children(self) -> list[Element]:
        return [piece for piece in self.pieces if isinstance(piece, Element)]

    def named(self, name: str) -> list[Element]:
        """The children of that name. Sorted out once, so only for an element that is read to its end."""
        if self._named is None:
            self._named = {}
            for child in self.children:
                self._named.setdefault(child.name, []).append(child)
        return self._named.get(name, [])


@dataclass(frozen=True, slots=True)
class Aside:
    """A comment or processing instruction."""

    start: int
    end: int


@dataclass(frozen=True, slots=True)
class XmlText:
    """A well-formed document."""

    raw: bytes
    view: str
    """The bytes as Latin-1: one character a byte, so that every index is a byte offset."""
    codec: str
    root: Element
    doctype: int | None
    """Where a DTD with declarations of its own stands: such a document is read and never edited."""


def judge_xml(raw: bytes, path: str) -> XmlText:
    """Decode and judge.

    Raises:
        ManifestError: malformed, in an encoding that is not edited here, or nested too deeply.
    """
    view = raw.decode("latin-1")
    codec = _codec(raw, view, path)
    prolog = _PROLOG.match(view)
    if prolog is None:
        return XmlText(raw, view, codec, _parse(raw, raw, view, codec, path), None)
    judged, declares = _without_dtd(view, prolog.end(), codec, path)
    root = _parse(judged.encode("latin-1"), raw, view, codec, path)
    return XmlText(raw, view, codec, root, prolog.end() if declares else None)


def _codec(raw: bytes, view: str, path: str) -> str:
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")) or b"\0" in raw[:4]:
        raise refused(path, None, "it is written in UTF-16 or UTF-32", "save it as UTF-8 to edit it here")
    declared = _DECLARED.match(view)
    if not declared:
        return "utf-8"
    try:
        codec = codecs.lookup(declared[1]).name
    except LookupError:
        codec = ""
    if codec not in ("utf-8", "ascii") and not codec.startswith(("iso8859", "cp125")):
        problem = f"it is written in {declared[1]}, which is not edited here"
        raise refused(path, 1, problem, "save it as UTF-8 to edit it here")
    return codec


def _without_dtd(view: str, start: int, codec: str, path: str) -> tuple[str, bool]:
    """The document with its DTD as spaces and its own entities as plain letters, every offset kept.

    With it, whether the DTD declares anything itself; one that only names another file does not.
    """
    found = _DOCTYPE.match(view, start)
    if not found:
        _raise_malformed(view, start, codec, path, "the DTD that starts here is never closed")
    blank = _VISIBLE.sub(" ", found[0])
    body = _OWN_ENTITY.sub(lambda match: "_" * len(match[0]), view[found.end() :])
    return view[:start] + blank + body, found[1] is not None


def _parse(judged: bytes, raw: bytes, view: str, codec: str, path: str) -> Element:
    from xml.parsers import expat

    parser = expat.ParserCreate()
    parser.ordered_attributes = True
    builder = _Builder(parser, view, codec, path)
    parser.StartElementHandler = builder.start
    parser.EndElementHandler = builder.end
    parser.CommentHandler = builder.comment
    parser.ProcessingInstructionHandler = builder.instruction
    parser.StartCdataSectionHandler = builder.cdata
    parser.StartDoctypeDeclHandler = builder.doctype
    try:
        parser.Parse(judged, True)
    except expat.ExpatError as error:
        theirs, index = expat.ErrorString(error.code) or "not well-formed", parser.ErrorByteIndex
        if theirs == "mismatched tag":  # expat points behind the "</"
            index = view.rfind("</", 0, index + 1)
        _raise_malformed(view, min(index, len(raw)), codec, path, _PROBLEMS.get(theirs, theirs))
    except ValueError as error:  # an encoding that expat cannot map
        raise refused(path, 1, "its encoding cannot be read", "save it as UTF-8 to edit it here") from error
    return builder.top.children[0]


class _Builder:
    """Builds the elements from what expat reports."""

    def __init__(self, parser: XMLParserType, view: str, codec: str, path: str) -> None:
        self._parser, self._view, self._codec, self._path = parser, view, codec, path
        self.top = Element("", 0, 0)
        self._open = [self.top]

    def start(self, name: str, _attributes: object) -> None:
        if len(self._open) > MAX_DEPTH:
            problem = f"it is nested deeper than {MAX_DEPTH} levels and is not taken as a manifest"
            raise refused(self._path, None, problem, "look at what wrote it")
        start = self._parser.CurrentByteIndex
        tag = _START_TAG.match(self._view, start)
        if tag is None:
            _raise_malformed(self._view, start, self._codec, self._path, "this tag cannot be followed")
        element = Element(name, start, tag.end(), is_empty=self._view[tag.end() - 2] == "/")
        self._open[-1].pieces.append(element)
        self._open.append(element)

    def end(self, _name: str) -> None:
        element = self._open.pop()
        if element.is_empty:
            element.close = element.end = element.inner
        else:
            element.close = self._parser.CurrentByteIndex
            element.end = self._view.index(">", element.close) + 1

    def comment(self, _text: str) -> None:
        start = self._parser.CurrentByteIndex
        self._open[-1].pieces.append(Aside(start, self._view.index("-->", start + 4) + 3))

    def instruction(self, _target: str, _text: str) -> None:
        start = self._parser.CurrentByteIndex
        self._open[-1].pieces.append(Aside(start, self._view.index("?>", start) + 2))

    def cdata(self) -> None:
        start = self._parser.CurrentByteIndex + len("<![CDATA[")
        self._open[-1].pieces.append(Segment("cdata", start, self._view.index("]]>", start)))

    def doctype(self, *_args: object) -> None:
        index = self._parser.CurrentByteIndex
        _raise_malformed(self._view, index, self._codec, self._path, "a DTD cannot stand here")


def _raise_malformed(view: str, index: int, codec: str, path: str, problem: str) -> NoReturn:
    raise malformed(path, *decoded_with_index(view, index, codec), problem)


def decoded_with_index(view: str, index: int, codec: str) -> tuple[str, int]:
    """The whole document decoded, and the character that a byte offset is."""
    raw = view.encode("latin-1")
    before = raw[:index].decode(codec, "replace").removeprefix("\ufeff")
    return before + raw[index:].decode(codec, "replace"), len(before)
