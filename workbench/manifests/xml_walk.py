"""Finds its way in a judged XML document: attributes, texts and elements with their spans and pointers.

A pointer reads element → list → `@attr` or `#text`: `/menu/0/item/2/@id` is the `id` of the third `item`
in the root element `menu`. An element's index counts its siblings of the same name.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence

from workbench.late_pattern import late_pattern
from workbench.manifests.selector import Selector, Token, bind
from workbench.manifests.xml_judge import Aside, Element, XmlText
from workbench.manifests.xml_text import WHITE, Segment, Unit, decode_segment
from workbench.typed import NamedTuple
from workbench.values import dataclass, field

_ATTRIBUTE = late_pattern(r"(\s*)([^\s=/>\"']+)\s*=\s*(\"[^\"]*\"|'[^']*')", re.ASCII)
_NAME = late_pattern(r"<[^\s/>]+", re.ASCII)


class Attribute(NamedTuple):
    """One attribute of a start tag."""

    name: str
    gap: int
    """Where the white space before it starts."""
    start: int
    value: Segment
    """Between the quotes; the quote stands right before it."""

    @property
    def end(self) -> int:
        return self.value.end + 1


@dataclass(frozen=True, slots=True)
class Run:
    """The text between two tags: plain text and CDATA sections, comments and instructions left out."""

    segments: tuple[Segment, ...]
    has_asides: bool
    text: str
    """Without the white space that only lays the document out."""
    start: int
    end: int
    """Where that text stands."""


class Found(NamedTuple):
    """One place that holds a text."""

    pointer: str
    role: str
    """`key`, `attribute` or `text`."""
    text: str
    start: int
    end: int
    bindings: dict[str, str]
    detail: Element | Attribute | Run


def read_attributes(xml: XmlText, element: Element, only: str | None = None) -> Sequence[Attribute]:
    """The attributes of an element's start tag, in order; with `only`, just the one of that name."""
    attributes: Sequence[Attribute] | None = element.attributes
    if attributes is None:
        found = _ATTRIBUTE.finditer(xml.view, name_end(xml, element), element.inner)
        attributes = element.attributes = [_make_attribute(xml, match) for match in found]
    if only is None:
        return attributes
    return [attribute for attribute in attributes if attribute.name == only]


def _make_attribute(xml: XmlText, match: re.Match[str]) -> Attribute:
    value = Segment("attribute", match.start(3) + 1, match.end() - 1)
    return Attribute(decode_name(xml, match[2]), match.start(), match.start(2), value)


def name_end(xml: XmlText, element: Element) -> int:
    """Where the name in the start tag ends."""
    if element.name.isascii():
        return element.start + 1 + len(element.name)
    return _NAME.match(xml.view, element.start).end()  # type: ignore[union-attr]


def decode_name(xml: XmlText, name: str) -> str:
    """A name of the view in its true letters."""
    return name if name.isascii() else name.encode("latin-1").decode(xml.codec)


def attribute_text(xml: XmlText, attribute: Attribute) -> str:
    """An attribute's value, decoded."""
    value = xml.view[attribute.value.start : attribute.value.end]
    if value.isascii() and "&" not in value and value.isprintable():
        return value
    return "".join(unit.char for unit in decode_segment(xml.view, xml.codec, attribute.value))


def read_runs(xml: XmlText, element: Element) -> Iterator[Run | Element]:
    """The element's children and, between them, the texts that are not blank; in document order."""
    segments: list[Segment] = []
    has_asides, index = False, element.inner
    for piece in [*element.pieces, None]:
        is_cdata = isinstance(piece, Segment)
        start = element.close if piece is None else piece.start
        end = piece.end if piece is not None else start
        if is_cdata:
            start, end = start - len("<![CDATA["), end + len("]]>")
        if index < start:
            segments.append(Segment("text", index, start))
        index = end
        if isinstance(piece, Segment):
            segments.append(piece)
        elif isinstance(piece, Aside):
            has_asides |= bool(segments)
        else:
            run = _make_run(xml, segments, has_asides)
            if run:
                yield run
            segments, has_asides = [], False
            if piece is not None:
                yield piece


def _make_run(xml: XmlText, segments: list[Segment], has_asides: bool) -> Run | None:
    if len(segments) == 1 and segments[0].context == "text":
        start, end = segments[0].start, segments[0].end
        spelling = xml.view[start:end]
        body = spelling.strip(WHITE)
        if not body:
            return None
        if "&" not in body and "\r" not in body:
            start += len(spelling) - len(spelling.lstrip(WHITE))
            end = start + len(body)
            return Run(tuple(segments), has_asides, decode_name(xml, body), start, end)
    units = _kept_units(xml, segments)
    if not units:
        return None
    text = "".join(unit.char for unit in units)
    return Run(tuple(segments), has_asides, text, units[0].start, units[-1].end)


def run_units(xml: XmlText, run: Run) -> list[Unit]:
    """The characters of a run's text, each with its bytes."""
    return _kept_units(xml, run.segments)


def _kept_units(xml: XmlText, segments: Sequence[Segment]) -> list[Unit]:
    units = [
        unit
        for number, segment in enumerate(segments)
        for unit in decode_segment(xml.view, xml.codec, segment, number)
    ]
    first = next((i for i, unit in enumerate(units) if not unit.is_blank), len(units))
    last = next((i for i in range(len(units), first, -1) if not units[i - 1].is_blank), first)
    return units[first:last]


def texts_of(xml: XmlText, element: Element) -> list[Run]:
    """The element's own texts."""
    if not element.pieces:
        if element.inner == element.close:
            return []
        only = _make_run(xml, [Segment("text", element.inner, element.close)], False)
        return [only] if only is not None else []
    return [run for run in read_runs(xml, element) if isinstance(run, Run)]


def locate_element(xml: XmlText, tokens: tuple[str, ...]) -> Element | None:
    """The element under `/name/index/name/index…`; None where there is none."""
    if not tokens or len(tokens) % 2:
        return None
    element = None
    for name, index in zip(tokens[::2], tokens[1::2], strict=True):
        same = element.named(name) if element is not None else [xml.root] if xml.root.name == name else []
        is_index = index.isdecimal() and index.isascii() and (index[0] != "0" or index == "0")
        if not is_index or int(index[:10]) >= len(same):
            return None
        element = same[int(index)]
    return element


def find_texts(xml: XmlText, at: Selector, could_match: Callable[[str], bool]) -> list[Found]:
    """Attributes and texts that the selector matches and, where its last token has a placeholder, names.

    Args:
        could_match: false for texts that nobody asks for.
    """
    if not at.tokens:
        return []
    search = _Search(xml, at.tokens, could_match)
    search.walk(Element("", 0, 0, pieces=[xml.root]), 0, "", {})
    return search.found


@dataclass(slots=True)
class _Search:
    xml: XmlText
    tokens: tuple[Token, ...]
    could_match: Callable[[str], bool]
    found: list[Found] = field(default_factory=list)

    def walk(self, parent: Element, depth: int, pointer: str, bindings: dict[str, str]) -> None:
        """Find what matches in one element, from this token on."""
        if depth == len(self.tokens) - 1:
            self._take(parent, pointer, bindings)
            return
        if depth + 2 == len(self.tokens):
            return
        by_name, by_number = self.tokens[depth], self.tokens[depth + 1]
        counts: dict[str, int] = {}
        for child in parent.children:
            name = child.name
            number = counts[name] = counts.get(name, -1) + 1
            found = bind(by_name, name, bindings)
            if found is not None:
                found = bind(by_number, str(number), found)
                if found is not None:
                    self.walk(child, depth + 2, f"{pointer}/{name}/{number}", found)

    def _take(self, parent: Element, pointer: str, bindings: dict[str, str]) -> None:
        """What the last token matches in one element: attributes and texts, names of elements."""
        token = self.tokens[-1]
        if parent.name:
            self.found += [
                own
                for own in _own_texts(self.xml, parent, pointer, token, bindings)
                if self.could_match(own.text)
            ]
        if token.name is None:
            return
        counts: dict[str, int] = {}
        for child in parent.children:
            number = counts[child.name] = counts.get(child.name, -1) + 1
            found = bind(token, child.name, bindings)
            if found is not None and self.could_match(child.name):
                end = name_end(self.xml, child)
                below = f"{pointer}/{child.name}/{number}"
                self.found.append(Found(below, "key", child.name, child.start + 1, end, found, child))


def _own_texts(
    xml: XmlText, element: Element, pointer: str, token: Token, bindings: dict[str, str]
) -> list[Found]:
    """The element's attributes (name, then value) and texts whose last token fits."""
    places: list[Found] = []
    only = token.before[1:] if token.name is None else None
    for attribute in read_attributes(xml, element) if token.before[:1] in ("@", "") else ():
        if only is not None and attribute.name != only:
            continue
        found = bind(token, f"@{attribute.name}", bindings)
        if found is not None:
            here, end = f"{pointer}/@{attribute.name}", attribute.value.start - 1
            if token.name is not None:
                name_stop = attribute.start + len(xml.view[attribute.start : end].rstrip("=" + WHITE))
                places.append(
                    Found(here, "key", attribute.name, attribute.start, name_stop, found, attribute)
                )
            text = attribute_text(xml, attribute)
            places.append(Found(here, "attribute", text, end, attribute.end, found, attribute))
    found = bind(token, "#text", bindings)
    if found is not None:
        here = f"{pointer}/#text"
        places += [
            Found(here, "text", run.text, run.start, run.end, found, run) for run in texts_of(xml, element)
        ]
    return places


def find_all_texts(xml: XmlText) -> Iterator[Found]:
    """Every attribute value and text, in document order."""
    yield from _attribute_values(xml, xml.root, f"/{xml.root.name}/0")
    levels = [(f"/{xml.root.name}/0", read_runs(xml, xml.root), dict[str, int]())]
    while levels:
        pointer, pieces, counts = levels[-1]
        piece = next(pieces, None)
        if piece is None:
            levels.pop()
        elif isinstance(piece, Run):
            yield Found(f"{pointer}/#text", "text", piece.text, piece.start, piece.end, {}, piece)
        else:
            number = counts[piece.name] = counts.get(piece.name, -1) + 1
            below = f"{pointer}/{piece.name}/{number}"
            yield from _attribute_values(xml, piece, below)
            levels.append((below, read_runs(xml, piece), {}))


def _attribute_values(xml: XmlText, element: Element, pointer: str) -> Iterator[Found]:
    for attribute in read_attributes(xml, element):
        text = attribute_text(xml, attribute)
        start = attribute.value.start - 1
        yield Found(f"{pointer}/@{attribute.name}", "attribute", text, start, attribute.end, {}, attribute)
