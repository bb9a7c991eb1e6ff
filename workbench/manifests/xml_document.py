"""An XML manifest. Pointers read element → list → `@attr` or `#text`: `/menu/0/item/2/@id`."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from workbench.errors import ManifestError
from workbench.manifests.document import Edit, Format, Node, Role, Value, anything
from workbench.manifests.positions import Positions, named, newline_of, refused
from workbench.manifests.selector import Selector, join_pointer, split_pointer
from workbench.manifests.xml_judge import Element, XmlText, judge_xml
from workbench.manifests.xml_text import Unit, decode_segment, encode_text
from workbench.manifests.xml_walk import (
    Attribute,
    Run,
    attribute_text,
    find_all_texts,
    find_texts,
    locate_element,
    read_attributes,
    run_units,
    texts_of,
)
from workbench.typed import cast


def open_xml(raw: bytes, path: str = "") -> XmlDocument:
    """Judge the bytes and open them.

    Raises:
        ManifestError: malformed XML, with line, column and the line's text.
    """
    return XmlDocument(judge_xml(raw, path), path)


class XmlDocument:
    """A well-formed XML document with its bytes; see `Document` for the contract of each method.

    A document with a DTD is read, entities of its own left as they are written; one whose DTD declares
    something itself is never edited.
    """

    format: Format = "xml"

    def __init__(self, xml: XmlText, path: str) -> None:
        self.raw = xml.raw
        self._xml = xml
        self._path = path
        self._lines = Positions(xml.view)
        self._located: dict[tuple[str, ...], Element] = {}
        """Elements that were asked for: most are asked for by several of their fields."""

    def find(self, at: Selector | None) -> Iterator[Node]:
        """Attributes and texts (without the white space around them) that match.

        Where the last token has a placeholder, names match too (role `key`).
        """
        return self.find_matching(at, anything)

    def find_matching(self, at: Selector | None, could_match: Callable[[str], bool]) -> Iterator[Node]:
        """What `find` yields, without the texts that could not match."""
        places = find_all_texts(self._xml) if at is None else find_texts(self._xml, at, could_match)
        for found in places:
            if at is None and not could_match(found.text):
                continue
            yield Node(
                found.pointer,
                cast(Role, found.role),
                found.text,
                found.start,
                found.end,
                self._lines.line(found.start),
                found.bindings,
                found.detail,
            )

    def get(self, pointer: str) -> Value:
        """Plain data: an attribute or text as str, an element as dict, elements of one name as a list."""
        tokens = split_pointer(pointer)
        if tokens and tokens[-1].startswith("@"):
            return attribute_text(self._xml, self._attribute(tokens)[1])
        if tokens and tokens[-1] == "#text":
            return " ".join([run.text for run in self._texts(tokens)])
        from workbench.manifests import xml_edits

        if not tokens:
            return {self._xml.root.name: [xml_edits.element_data(self._xml, self._xml.root)]}
        if len(tokens) % 2:
            return [xml_edits.element_data(self._xml, element) for element in self._same_named(tokens)]
        return xml_edits.element_data(self._xml, self._element(tokens))

    def line_of(self, pointer: str) -> int:
        """The line where the value at that pointer starts."""
        tokens = split_pointer(pointer)
        if not tokens:
            start = self._xml.root.start
        elif tokens[-1].startswith("@"):
            start = self._attribute(tokens)[1].start
        elif tokens[-1] == "#text":
            start = self._texts(tokens)[0].start
        elif len(tokens) % 2:
            start = self._same_named(tokens)[0].start
        else:
            start = self._element(tokens).start
        return self._lines.line(start)

    def replace_part(self, node: Node, start: int, end: int, text: str) -> Edit | None:
        """Put `text` in place of those characters; None where a comment stands between them.

        The name of an element can only be replaced whole, and the edit then spans the element.
        """
        self.check_editable()
        if not 0 <= start <= end <= len(node.text):
            raise ValueError(f"{start}:{end} lies outside the text {node.text!r}")
        detail = node.detail
        if isinstance(detail, Run):
            return self._replace_in_run(detail, start, end, text)
        if node.role == "key":
            return self._replace_name(node, node.text[:start] + text + node.text[end:])
        units = decode_segment(self._xml.view, self._xml.codec, detail.value)
        first, last = _span(units, start, end, detail.value.start)
        quote = self._xml.view[detail.value.start - 1]
        return self._edit(first, last, encode_text(text, self._xml.codec, "attribute", quote))

    def _replace_in_run(self, run: Run, start: int, end: int, text: str) -> Edit | None:
        units = run_units(self._xml, run)
        first, last = _span(units, start, end, units[0].start)
        left = units[min(start, len(units) - 1)].segment
        right = units[end - 1].segment if end > start else left
        context = run.segments[left].context
        new = encode_text(text, self._xml.codec, context, newline=newline_of(self._xml.view))
        if left != right:
            if run.has_asides:
                return None
            new += {"text": "", "cdata": "]]>"}[context]
            new += {"text": "", "cdata": "<![CDATA["}[run.segments[right].context]
        return self._edit(first, last, new)

    def _replace_name(self, node: Node, name: str) -> Edit:
        from workbench.manifests.xml_style import checked_name

        new = checked_name(name, self._xml.codec)
        element = node.detail
        if isinstance(element, Attribute) or element.is_empty:
            return self._edit(node.start, node.end, new)
        last = element.close + 2 + node.end - node.start
        return self._edit(node.start, last, new + self._xml.view[node.end : element.close + 2] + new)

    def set(self, pointer: str, value: Value) -> Sequence[Edit]:
        """Make `get(pointer)` equal `value`; numbers and truth values become text."""
        from workbench.manifests import xml_edits

        self.check_editable()
        tokens = split_pointer(pointer)
        if not tokens or (len(tokens) % 2 and tokens[-1][0:1] not in ("@", "#")):
            raise self._refuse(pointer, "only one attribute, text or element can be set", "name one of them")
        if tokens[-1].startswith("@"):
            return self._edits(xml_edits.set_attribute(self._xml, self._attribute(tokens)[1], value))
        if tokens[-1] == "#text":
            return self._edits(xml_edits.set_text(self._xml, self._with_text(tokens), value, self._path))
        return self._edits(xml_edits.set_element(self._xml, self._element(tokens), value, self._path))

    def insert(self, pointer: str, value: Value) -> Sequence[Edit]:
        """Add an attribute (`…/@name`), a text (`…/#text`) or an element (`…/name/INDEX`, `…/name/-`)."""
        from workbench.manifests import xml_edits

        self.check_editable()
        xml, path, tokens = self._xml, self._path, split_pointer(pointer)
        if len(tokens) < 3:
            raise self._refuse("", "a document has one root element", "name a place in it")
        if len(tokens) % 2:
            parent = self._element(tokens[:-1])
            if tokens[-1].startswith("@"):
                return self._edits(xml_edits.insert_attribute(xml, parent, tokens[-1][1:], value, path))
            if tokens[-1] == "#text":
                return self._edits(xml_edits.insert_text(xml, parent, value, path))
            return self._edits(xml_edits.insert_element(xml, parent, tokens[-1], None, value, path))
        name, index = tokens[-2:]
        if index != "-" and not (index.isascii() and index.isdigit() and len(index) < 10):
            raise self._refuse("", f"{index!r} is no index", "give a number, or '-' for the end")
        number = None if index == "-" else int(index)
        return self._edits(
            xml_edits.insert_element(xml, self._element(tokens[:-2]), name, number, value, path)
        )

    def delete(self, pointer: str) -> Sequence[Edit]:
        """Take out an attribute, a text, or an element with its own comment lines."""
        from workbench.manifests import xml_edits

        self.check_editable()
        tokens = split_pointer(pointer)
        if len(tokens) < 3 or (len(tokens) % 2 and tokens[-1][0:1] not in ("@", "#")):
            raise self._refuse(
                pointer, "only one attribute, text or element can be deleted", "name one of them"
            )
        if tokens[-1].startswith("@"):
            return self._edits(xml_edits.delete_attribute(self._attribute(tokens)[1]))
        if tokens[-1] == "#text":
            return self._edits(xml_edits.delete_text(self._xml, self._with_text(tokens), self._path))
        element = self._element(tokens)
        return self._edits(xml_edits.delete_element(self._xml, self._element(tokens[:-2]), element))

    def rename_key(self, pointer: str, key: str) -> Sequence[Edit]:
        """Give an attribute or an element another name."""
        from workbench.manifests import xml_edits

        self.check_editable()
        tokens = split_pointer(pointer)
        if tokens and tokens[-1].startswith("@"):
            element, attribute = self._attribute(tokens)
            name = key.removeprefix("@")
            if name == attribute.name:
                return ()
            return self._edits(xml_edits.rename_attribute(self._xml, element, attribute, name, self._path))
        if not tokens or len(tokens) % 2:
            raise self._refuse(pointer, "only an attribute or one element has a name", "name one of them")
        element = self._element(tokens)
        return () if element.name == key else self._edits(xml_edits.rename_element(self._xml, element, key))

    def check_editable(self) -> None:
        """Refuse edits of a document whose DTD declares something itself.

        Raises:
            ManifestError: with the line of the DTD.
        """
        if self._xml.doctype is not None:
            line = self._lines.line(self._xml.doctype)
            raise refused(
                self._path,
                line,
                "its DTD declares things, and such a document is only read",
                "edit it by hand",
            )

    def _element(self, tokens: tuple[str, ...]) -> Element:
        element = self._located.get(tokens)
        if element is None:
            element = locate_element(self._xml, tokens)
            if element is None:
                raise self._missing(tokens)
            self._located[tokens] = element
        return element

    def _same_named(self, tokens: tuple[str, ...]) -> list[Element]:
        children = self._element(tokens[:-1]).children if len(tokens) > 1 else [self._xml.root]
        same = [child for child in children if child.name == tokens[-1]]
        if not same:
            raise self._missing(tokens)
        return same

    def _attribute(self, tokens: tuple[str, ...]) -> tuple[Element, Attribute]:
        element = self._element(tokens[:-1])
        for attribute in read_attributes(self._xml, element):
            if attribute.name == tokens[-1][1:]:
                return element, attribute
        raise self._missing(tokens)

    def _with_text(self, tokens: tuple[str, ...]) -> Element:
        self._texts(tokens)
        return self._element(tokens[:-1])

    def _texts(self, tokens: tuple[str, ...]) -> list[Run]:
        texts = texts_of(self._xml, self._element(tokens[:-1]))
        if not texts:
            raise self._missing(tokens)
        return texts

    def _edit(self, start: int, end: int, new: str) -> Edit:
        return Edit(start, end, new.encode("latin-1"))

    def _edits(self, changes: Sequence[tuple[int, int, str]]) -> tuple[Edit, ...]:
        return tuple(self._edit(*change) for change in sorted(changes))

    def _missing(self, tokens: tuple[str, ...]) -> ManifestError:
        message = (
            f"{named(self._path)} holds nothing at {join_pointer(tokens)!r}. "
            "Look at the manifest for what it holds."
        )
        return ManifestError(message, path=self._path or None)

    def _refuse(self, pointer: str, problem: str, advice: str) -> ManifestError:
        return refused(self._path, self.line_of(pointer) if pointer else None, problem, advice)


def _span(units: list[Unit], start: int, end: int, first: int) -> tuple[int, int]:
    """The bytes of characters `start:end`; `first` is where an empty text would stand."""
    if end > start:
        return units[start].start, units[end - 1].end
    place = units[start].start if start < len(units) else units[-1].end if units else first
    return place, place
