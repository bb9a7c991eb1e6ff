"""Set, insert, delete and rename in an XML document, in the style of the neighbours.

Every function answers changes `(start, end, new)` in the view (one character a byte); they never overlap.
Comment lines right above an element belong to it, and so does a comment behind it on its line.
"""

from __future__ import annotations

from workbench.errors import ManifestError
from workbench.manifests.document import Value
from workbench.manifests.json_style import indentation
from workbench.manifests.positions import count_lines, line_end, line_start, refused
from workbench.manifests.xml_judge import Aside, Element, XmlText
from workbench.manifests.xml_style import (
    XmlStyle,
    checked_name,
    normalise,
    read_style,
    scalar_text,
    starts_line,
    style_beside,
    write_attribute,
    write_element,
)
from workbench.manifests.xml_text import WHITE, encode_content, encode_text
from workbench.manifests.xml_walk import Attribute, attribute_text, name_end, read_attributes, texts_of

Change = tuple[int, int, str]


def element_data(xml: XmlText, element: Element) -> dict[str, Value]:
    """An element as plain data: `@attr` and `#text` are texts, child elements are lists."""
    data: dict[str, Value] = {f"@{a.name}": attribute_text(xml, a) for a in read_attributes(xml, element)}
    texts = [run.text for run in texts_of(xml, element)]
    if texts:
        data["#text"] = " ".join(texts)
    for child in element.children:
        data.setdefault(child.name, []).append(element_data(xml, child))
    return data


def set_attribute(xml: XmlText, attribute: Attribute, value: Value) -> list[Change]:
    """Write another value between the quotes that are there."""
    text = scalar_text(value)
    if text == attribute_text(xml, attribute):
        return []
    start, end = attribute.value.start, attribute.value.end
    return [(start, end, encode_text(text, xml.codec, "attribute", xml.view[start - 1]))]


def set_text(xml: XmlText, element: Element, value: Value, path: str) -> list[Change]:
    """Write another text in place of the element's only one; a CDATA section stays one."""
    text, runs = scalar_text(value), texts_of(xml, element)
    if text == " ".join(run.text for run in runs):
        return []
    start, end = runs[0].start, runs[0].end
    contexts = {
        segment.context for segment in runs[0].segments if segment.end > start and segment.start < end
    }
    if len(runs) > 1 or runs[0].has_asides:
        raise _refuse(xml, path, start, "this text is in several parts", "edit the parts one by one")
    if contexts == {"cdata"} and len(runs[0].segments) == 1 and text:
        return [(start, end, encode_text(text, xml.codec, "cdata", newline=read_style(xml).newline))]
    if contexts != {"text"}:
        start, end = _whole_sections(xml, start, end)
    return [(start, end, encode_content(text, xml.codec, read_style(xml).newline))]


def _whole_sections(xml: XmlText, start: int, end: int) -> tuple[int, int]:
    opening, closing = "<![CDATA[", "]]>"
    before = xml.view.rfind(opening, 0, start)
    if before >= 0 and xml.view.find(closing, before) >= start:
        start = before
    after = xml.view.find(closing, end)
    if after >= 0 and opening in xml.view[start:end] and opening not in xml.view[end:after]:
        end = after + len(closing)
    return start, end


def set_element(xml: XmlText, element: Element, value: Value, path: str) -> list[Change]:
    """Set an element part by part where the shape stays, else write it anew."""
    wanted = normalise(value)
    present = element_data(xml, element)
    if wanted == present:
        return []
    if not _has_shape(wanted, present) or len(texts_of(xml, element)) > 1:
        indent = indentation(xml.view, element.start)
        style = style_beside(read_style(xml), xml, element)
        return [(element.start, element.end, write_element(element.name, wanted, style, indent))]
    changes = [c for a in read_attributes(xml, element) for c in set_attribute(xml, a, wanted[f"@{a.name}"])]
    if "#text" in wanted:
        changes += set_text(xml, element, wanted["#text"], path)
    rest = {name: iter(items) for name, items in wanted.items() if isinstance(items, list)}
    for child in element.children:
        changes += set_element(xml, child, next(rest[child.name]), path)
    return changes


def _has_shape(wanted: dict[str, Value], present: dict[str, Value]) -> bool:
    if wanted.keys() != present.keys() or not wanted.get("#text", "x"):
        return False
    pairs = [(wanted[key], present[key]) for key in wanted if isinstance(present[key], list)]
    return all(len(one) == len(other) for one, other in pairs)


def insert_attribute(xml: XmlText, element: Element, name: str, value: Value, path: str) -> list[Change]:
    """Add an attribute behind the last one, with the same white space before it."""
    attributes, style = read_attributes(xml, element), read_style(xml)
    if any(attribute.name == name for attribute in attributes):
        raise _refuse(xml, path, element.start, f"the attribute {name!r} is there already", "set it instead")
    gap, place = " ", name_end(xml, element)
    if attributes:
        last = attributes[-1]
        gap, place = xml.view[last.gap : last.start], last.end
    return [(place, place, gap + write_attribute(name, scalar_text(value), style))]


def insert_text(xml: XmlText, element: Element, value: Value, path: str) -> list[Change]:
    """Give an element a text that has none."""
    if texts_of(xml, element):
        raise _refuse(xml, path, element.start, "this element has a text already", "set it instead")
    text = encode_content(scalar_text(value), xml.codec, read_style(xml).newline)
    if not text:
        raise _refuse(xml, path, element.start, "an empty text is none", "give a text")
    return _fill(xml, element, text) if element.is_empty else [(element.inner, element.inner, text)]


def insert_element(
    xml: XmlText, parent: Element, name: str, index: int | None, value: Value, path: str
) -> list[Change]:
    """Add an element among its siblings of that name; None stands for the end."""
    same = [child for child in parent.children if child.name == name]
    if index is not None and index > len(same):
        advice = f"give an index from 0 to {len(same)}, or '-' for the end"
        raise _refuse(xml, path, parent.start, f"there are {len(same)} elements {name!r} here", advice)
    neighbours = same or parent.children
    style = style_beside(read_style(xml), xml, same[-1] if same else None)
    wanted = normalise(value)
    if not neighbours:
        return _insert_only_child(xml, parent, name, wanted, style)
    if index is not None and index < len(same):
        sibling = same[index]
        item = write_element(name, wanted, style, indentation(xml.view, sibling.start))
        place, gap = sibling.start, ""
        if starts_line(xml, sibling):
            place = _owned_start(xml, parent, sibling)
            gap = style.newline + indentation(xml.view, place)
        return [(place, place, item + gap)]
    sibling = neighbours[-1]
    item = write_element(name, wanted, style, indentation(xml.view, sibling.start))
    lead = style.newline + indentation(xml.view, sibling.start) if starts_line(xml, sibling) else ""
    place = _owned_end(xml, parent, sibling)
    return [(place, place, lead + item)]


def _insert_only_child(
    xml: XmlText, parent: Element, name: str, value: Value, style: XmlStyle
) -> list[Change]:
    indent = indentation(xml.view, parent.start)
    is_spread = style.is_spread and starts_line(xml, parent) and not texts_of(xml, parent)
    item = write_element(name, value, style, indent + style.unit if is_spread else indent)
    lead = style.newline + indent if is_spread else ""
    body = lead + style.unit * is_spread + item
    if parent.is_empty:
        return _fill(xml, parent, body + lead)
    last = parent.pieces[-1].end if parent.pieces else parent.inner
    if parent.pieces and not isinstance(parent.pieces[-1], Aside):
        last += len("]]>")
    if xml.view[last : parent.close].strip(WHITE):
        last = parent.close
    if is_spread and count_lines(xml.view, last, parent.close):
        return [(last, last, body)]
    return [(last, parent.close, body + lead)]


def _fill(xml: XmlText, element: Element, body: str) -> list[Change]:
    """Open an element that is one tag."""
    start = len(xml.view[: element.inner - 2].rstrip(WHITE))
    name = xml.view[element.start + 1 : name_end(xml, element)]
    return [(start, element.inner, f">{body}</{name}>")]


def delete_attribute(attribute: Attribute) -> list[Change]:
    """Take an attribute out with the white space before it."""
    return [(attribute.gap, attribute.end, "")]


def delete_text(xml: XmlText, element: Element, path: str) -> list[Change]:
    """Take an element's text out."""
    changes: list[Change] = []
    for run in texts_of(xml, element):
        start, end = run.start, run.end
        if run.has_asides:
            raise _refuse(xml, path, start, "comments stand in this text", "edit it by hand")
        if any(segment.context == "cdata" for segment in run.segments):
            start, end = _whole_sections(xml, start, end)
        changes.append((start, end, ""))
    return changes


def delete_element(xml: XmlText, parent: Element, element: Element) -> list[Change]:
    """Take an element out, with its lines and comments where it has lines of its own."""
    view = xml.view
    start, end = _owned_start(xml, parent, element), _owned_end(xml, parent, element)
    top, bottom = line_start(view, start), line_end(view, end)
    if view[top:start].strip(" \t") or view[end:bottom].strip(" \t") or bottom == len(view):
        return [(element.start, element.end, "")]
    return [(top, bottom + (2 if view.startswith("\r\n", bottom) else 1), "")]


def rename_element(xml: XmlText, element: Element, name: str) -> list[Change]:
    """Give an element another name, in both its tags."""
    new = checked_name(name, xml.codec)
    changes = [(element.start + 1, name_end(xml, element), new)]
    if not element.is_empty:
        start = element.close + 2
        changes.append((start, start + name_end(xml, element) - element.start - 1, new))
    return changes


def rename_attribute(
    xml: XmlText, element: Element, attribute: Attribute, name: str, path: str
) -> list[Change]:
    """Give an attribute another name."""
    if any(other.name == name for other in read_attributes(xml, element)):
        raise _refuse(
            xml, path, element.start, f"the attribute {name!r} is there already", "choose another name"
        )
    length = len(attribute.name.encode(xml.codec))
    return [(attribute.start, attribute.start + length, checked_name(name, xml.codec))]


def _owned_start(xml: XmlText, parent: Element, element: Element) -> int:
    """Where the element starts, the comment lines right above it included."""
    owned = element.start
    if not starts_line(xml, element):
        return owned
    for piece in reversed(parent.pieces[: parent.pieces.index(element)]):
        is_comment = isinstance(piece, Aside) and xml.view.startswith("<!--", piece.start)
        gap = xml.view[piece.end : owned]
        if not is_comment or gap.strip(WHITE) or count_lines(gap, 0, len(gap)) != 1:
            break
        if xml.view[line_start(xml.view, piece.start) : piece.start].strip(" \t"):
            break
        owned = piece.start
    return owned


def _owned_end(xml: XmlText, parent: Element, element: Element) -> int:
    """Where the element ends, the comments that follow on its line included if nothing else does."""
    end = element.end
    for piece in parent.pieces[parent.pieces.index(element) + 1 :]:
        if not isinstance(piece, Aside) or xml.view[end : piece.start].strip(" \t"):
            break
        end = piece.end
    return end if not xml.view[end : line_end(xml.view, end)].strip(" \t") else element.end


def _refuse(xml: XmlText, path: str, index: int, problem: str, advice: str) -> ManifestError:
    return refused(path, 1 + count_lines(xml.view, 0, index), problem, advice)
