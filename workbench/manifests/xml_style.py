"""How an XML document is laid out, and new elements written the same way."""

from __future__ import annotations

from workbench.errors import ManifestError
from workbench.late_pattern import late_pattern
from workbench.manifests.document import Value
from workbench.manifests.json_style import indentation
from workbench.manifests.positions import line_start, newline_of
from workbench.manifests.xml_judge import Element, XmlText
from workbench.manifests.xml_text import encode_content, encode_text
from workbench.manifests.xml_walk import read_attributes
from workbench.values import dataclass, replace

_NAME = late_pattern(r"(?:[^\W\d]|[_:])[\w.\-:\u00b7]*")


@dataclass(frozen=True, slots=True)
class XmlStyle:
    """The habits of one document, or of one place in it."""

    codec: str
    newline: str
    unit: str
    """Indentation of one level."""
    quote: str
    closing: str
    """How an element without content ends: `/>` or ` />`."""
    is_spread: bool
    """Whether children stand on lines of their own."""


def read_style(xml: XmlText) -> XmlStyle:
    """The habits of the whole document."""
    root, unit = xml.root, "  "
    children = root.children
    if children and starts_line(xml, children[0]):
        unit = indentation(xml.view, children[0].start)[len(indentation(xml.view, root.start)) :]
    closing = xml.view.find("/>", root.start, root.end)
    return XmlStyle(
        xml.codec,
        newline_of(xml.view),
        unit,
        _quote_of(xml),
        " />" if closing > 0 and xml.view[closing - 1] == " " else "/>",
        starts_line(xml, children[0]) if children else "\n" in xml.view or "\r" in xml.view,
    )


def style_beside(style: XmlStyle, xml: XmlText, sibling: Element | None) -> XmlStyle:
    """The style as a sibling of the new element shows it."""
    if sibling is None or not sibling.children:
        return style
    return replace(style, is_spread=starts_line(xml, sibling.children[0]))


def starts_line(xml: XmlText, element: Element) -> bool:
    """Whether only white space stands before it on its line."""
    return not xml.view[line_start(xml.view, element.start) : element.start].strip(" \t")


def _quote_of(xml: XmlText) -> str:
    open_elements = [xml.root]
    while open_elements:
        element = open_elements.pop()
        attributes = read_attributes(xml, element)
        if attributes:
            return xml.view[attributes[0].value.start - 1]
        open_elements += reversed(element.children)
    return '"'


def normalise(value: Value) -> Value:
    """A value as XML holds it: texts, and dicts of `@attr`, `#text` and lists of elements.

    Numbers and truth values become text (`3`, `true`), None an empty text, a text an element that holds it.
    """
    if isinstance(value, dict):
        return {key: _normalise_member(key, item) for key, item in value.items()}
    return {"#text": scalar_text(value)} if value not in (None, "") else {}


def _normalise_member(key: object, item: Value) -> Value:
    if not isinstance(key, str):
        raise ManifestError(f"{key!r} is no name of an attribute or element. Write it in quotes.")
    if key.startswith("@") or key == "#text":
        return scalar_text(item)
    return [normalise(each) for each in (item if isinstance(item, list) else [item])]


def scalar_text(value: Value) -> str:
    """The text that a plain value becomes.

    Raises:
        ManifestError: a list or dict, where only a text can stand.
    """
    if isinstance(value, str):
        return value
    if isinstance(value, bool):
        return "true" if value else "false"
    if value is None:
        return ""
    if isinstance(value, int | float):
        return repr(value)
    raise ManifestError(f"only a text can stand here, not {value!r}. Give a text.")


def checked_name(name: str, codec: str) -> str:
    """A name of an element or attribute as it is written, in the view.

    Raises:
        ManifestError: XML allows no such name.
    """
    if not _NAME.fullmatch(name):
        raise ManifestError(f"XML allows no element or attribute called {name!r}. Choose another name.")
    try:
        return name.encode(codec).decode("latin-1")
    except UnicodeEncodeError as error:
        raise ManifestError(
            f"the encoding of this document cannot write {name!r}. Choose another name."
        ) from error


def write_attribute(name: str, text: str, style: XmlStyle) -> str:
    """`name="text"`, in the view."""
    value = encode_text(text, style.codec, "attribute", style.quote)
    return f"{checked_name(name, style.codec)}={style.quote}{value}{style.quote}"


def write_element(name: str, value: Value, style: XmlStyle, indent: str) -> str:
    """A normalised element, in the view; `indent` is the indentation of the line it starts on."""
    tag = checked_name(name, style.codec)
    attributes = [write_attribute(key[1:], text, style) for key, text in value.items() if key[0:1] == "@"]
    opening = " ".join((f"<{tag}", *attributes))
    text = encode_content(value.get("#text", ""), style.codec, style.newline)
    children = [
        write_element(child, item, style, indent + style.unit)
        for child, items in value.items()
        if child[0:1] != "@" and child != "#text"
        for item in items
    ]
    if not text and not children:
        return opening + style.closing
    lead = style.newline + indent if style.is_spread and children else ""
    body = text + "".join(lead + style.unit * bool(lead) + child for child in children)
    return f"{opening}>{body}{lead}</{tag}>"
