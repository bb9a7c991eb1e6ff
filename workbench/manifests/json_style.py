"""How a JSON document is laid out, and new JSON written the same way."""

from __future__ import annotations

import json
from collections import Counter
from itertools import pairwise

from workbench.errors import ManifestError
from workbench.late_pattern import late_pattern
from workbench.manifests.document import Value
from workbench.manifests.json_quoting import quote_json, writes_escapes
from workbench.manifests.json_walk import Container, after_space, read_container
from workbench.manifests.positions import line_start, newline_of
from workbench.values import dataclass, replace

_LEAD = late_pattern(r"[ \t]*")


@dataclass(frozen=True, slots=True)
class Style:
    """The habits of one document, or of one place in it."""

    newline: str
    unit: str
    """Indentation of one level."""
    colon: str
    """Between key and value, the colon included."""
    comma: str
    """Between members on one line."""
    pad: str
    """Inside the braces of an object on one line."""
    is_escaped: bool
    """Whether characters beyond ASCII are written as escapes."""
    is_spread: bool = False
    """Whether a container puts each member on a line of its own."""


def read_style(text: str, clean: str) -> Style:
    """The habits of the whole document, read off its outermost container."""
    style = Style(newline_of(text), "  ", ": ", ", ", "", writes_escapes(text))
    start = after_space(clean, 0)
    if clean[start] not in "{[":
        return style
    root = read_container(clean, start)
    if root.members and is_spread(clean, root):
        lead = indentation(text, root.members[0].start)
        style = replace(style, unit=lead[len(indentation(text, start)) :], is_spread=True)
    return refine_style(style, text, clean, root)


def refine_style(style: Style, text: str, clean: str, near: Container) -> Style:
    """The style as the members of one container show it."""
    members = near.members
    style = replace(style, is_spread=is_spread(clean, near) if members else style.is_spread)
    colons = Counter(clean[m.key_end : m.value] for m in members if m.key is not None)
    for gap, _ in colons.most_common(1):
        if "\n" not in gap and "\r" not in gap:
            style = replace(style, colon=gap)
    gaps = [text[a.end : b.start] for a, b in pairwise(members)]
    inline = Counter(gap for gap in gaps if not gap.strip(", \t"))
    if inline:
        style = replace(style, comma=inline.most_common(1)[0][0])
    elif style.colon == ":":
        style = replace(style, comma=",")
    return style


def style_of_children(style: Style, text: str, clean: str, near: Container, bracket: str) -> Style | None:
    """How the last container of that bracket among the members is laid out; None where all are empty."""
    for member in reversed(near.members):
        if clean[member.value] == bracket:
            child = read_container(clean, member.value)
            if child.members:
                refined = refine_style(style, text, clean, child)
                gap = clean[child.open + 1 : child.members[0].start]
                return replace(refined, pad=gap if child.is_object and not gap.strip(" ") else style.pad)
    return None


def is_spread(clean: str, container: Container) -> bool:
    """Whether the first member starts a line of its own."""
    gap = clean[container.open + 1 : container.members[0].start]
    return "\n" in gap or "\r" in gap


def indentation(text: str, index: int) -> str:
    """The white space that the line of `index` starts with."""
    return _LEAD.match(text, line_start(text, index))[0]  # type: ignore[index]


def write_value(value: Value, style: Style, indent: str) -> str:
    """A value as JSON; `indent` is the indentation of the line it starts on.

    Raises:
        ManifestError: JSON has no such value.
    """
    if isinstance(value, str):
        return quote_json(value, style.is_escaped)
    if isinstance(value, dict):
        pairs = [
            quote_json(_checked_key(key), style.is_escaped)
            + style.colon
            + write_value(item, style, indent + style.unit)
            for key, item in value.items()
        ]
        return _enclose("{", pairs, "}", style, indent)
    if isinstance(value, list):
        return _enclose(
            "[", [write_value(item, style, indent + style.unit) for item in value], "]", style, indent
        )
    try:
        return json.dumps(value, allow_nan=False)
    except (TypeError, ValueError) as error:
        raise ManifestError(f"JSON has no way to write {value!r}. Choose another value.") from error


def _checked_key(key: object) -> str:
    if isinstance(key, str):
        return key
    raise ManifestError(f"the key {key!r} is no text; JSON keys are. Write it in quotes.")


def _enclose(opening: str, items: list[str], closing: str, style: Style, indent: str) -> str:
    if not items:
        return opening + closing
    if style.is_spread:
        lead = style.newline + indent + style.unit
        return opening + lead + f",{lead}".join(items) + style.newline + indent + closing
    pad = style.pad if opening == "{" else ""
    return opening + pad + style.comma.join(items) + pad + closing
