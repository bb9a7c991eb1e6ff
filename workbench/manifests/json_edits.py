"""Set, insert, delete and rename in a JSON text, in the style of the neighbours.

Every function answers changes `(start, end, new)` in characters of the text; they never overlap and no two
start at one place. A comment line right above a member belongs to it, and so does a comment behind it on
its line; a comment set off by a blank line belongs to nobody and stays.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from itertools import pairwise

from workbench.manifests.document import Value
from workbench.manifests.json_judge import JsonText
from workbench.manifests.json_quoting import quote_json
from workbench.manifests.json_style import (
    Style,
    indentation,
    is_spread,
    read_style,
    refine_style,
    style_of_children,
    write_value,
)
from workbench.manifests.json_walk import INDEX, Container, locate, read_container, value_end
from workbench.manifests.positions import count_lines, line_end, line_start, newline_of, refused
from workbench.values import replace

Change = tuple[int, int, str]


def set_value(judged: JsonText, tokens: tuple[str, ...], value: Value, present: Value) -> list[Change]:
    """Replace the value under these tokens; of the same shape, part by part."""
    if is_same(present, value):
        return []
    if isinstance(present, dict) and isinstance(value, dict) and present.keys() == value.keys():
        return [
            change
            for key in present
            for change in set_value(judged, (*tokens, key), value[key], present[key])
        ]
    if isinstance(present, list) and isinstance(value, list) and len(present) == len(value):
        pairs = enumerate(zip(value, present, strict=True))
        return [change for i, pair in pairs for change in set_value(judged, (*tokens, str(i)), *pair)]
    start = _place(judged, tokens)
    style = _style_of_value(judged, tokens, start, value)
    return [
        (start, value_end(judged.clean, start), write_value(value, style, indentation(judged.text, start)))
    ]


def is_same(one: Value, other: Value) -> bool:
    """Equal as JSON data: `1`, `1.0` and `true` are three values, the order of keys is none."""
    if isinstance(one, dict) and isinstance(other, dict):
        return one.keys() == other.keys() and all(is_same(item, other[key]) for key, item in one.items())
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(is_same, one, other))
    return type(one) is type(other) and bool(one == other)


def insert_member(
    judged: JsonText, parent: tuple[str, ...], token: str, value: Value, path: str
) -> list[Change]:
    """Add a member to the object or array under `parent`.

    Raises:
        ManifestError: the key is there already, the index is past the end, or `parent` holds no members.
    """
    text, clean = judged.text, judged.clean
    start = _place(judged, parent)
    if clean[start] not in "{[":
        raise _refuse(judged, path, start, "this value holds no members", "name an object or array")
    container = read_container(clean, start)
    index = _insertion_index(judged, container, token, path)
    if not container.members:
        return _fill_empty(judged, parent, container, token, value)
    style = refine_style(read_style(text, clean), text, clean, container)
    gap = _gap(text, clean, container, style)
    near = container.members[min(index, len(container.members) - 1)]
    below = _style_below(style, judged, container, isinstance(value, dict))
    indent = gap.rpartition("\n")[2].replace(",", "") if "\n" in gap else indentation(text, near.start)
    item = _write_member(container, token, value, below, indent)
    if index < len(container.members):
        place = _owned_start(judged, container, index)
        return [(place, place, item + gap)]
    return _append(judged, container, gap, item)


def delete_member(judged: JsonText, tokens: tuple[str, ...]) -> list[Change]:
    """Take the member out with what belongs to it and one comma."""
    container = read_container(judged.clean, _place(judged, tokens[:-1]))
    index = _index_of(container, tokens[-1])
    if len(container.members) == 1 and not _foreign_comments(judged, container):
        return [(container.open + 1, container.close, "")]
    lines = _own_lines(judged, container, index)
    if lines is None:
        return _delete_within_line(judged, container, index)
    inside = range(*lines)
    before, after = (
        _comma_before(judged, container, index),
        _comma_after(judged, container.members[index].end),
    )
    comma = after if before is None else before
    if comma is None or before in inside or after in inside:
        return [(*lines, "")]
    return [(comma, comma + 1, ""), (*lines, "")]


def rename_key(judged: JsonText, tokens: tuple[str, ...], key: str) -> list[Change]:
    """Write another key in place of the member's own."""
    container = read_container(judged.clean, _place(judged, tokens[:-1]))
    member = container.members[_index_of(container, tokens[-1])]
    return [(member.start, member.key_end, quote_json(key, read_style(judged.text, judged.clean).is_escaped))]


def _place(judged: JsonText, tokens: tuple[str, ...]) -> int:
    start = locate(judged.clean, tokens)
    assert start is not None, "the document has looked already"
    return start


def _index_of(container: Container, token: str) -> int:
    if not container.is_object:
        return int(token)
    return next(i for i, member in enumerate(container.members) if member.key == token)


def _insertion_index(judged: JsonText, container: Container, token: str, path: str) -> int:
    count = len(container.members)
    if container.is_object:
        for member in container.members:
            if member.key == token:
                raise _refuse(
                    judged, path, member.start, f"the key {token!r} is there already", "set it instead"
                )
        return count
    if token == "-":
        return count
    if not INDEX.fullmatch(token) or int(token[:10]) > count:
        advice = f"give an index from 0 to {count}, or '-' for the end"
        raise _refuse(judged, path, container.open, f"{token!r} is no place in this array", advice)
    return int(token)


def _refuse(judged: JsonText, path: str, index: int, problem: str, advice: str) -> Exception:
    return refused(path, 1 + count_lines(judged.text, 0, index), problem, advice)


# How the new text looks


def _style_of_value(judged: JsonText, tokens: tuple[str, ...], start: int, value: Value) -> Style:
    text, clean = judged.text, judged.clean
    style = read_style(text, clean)
    if clean[start] in "{[":
        own = read_container(clean, start)
        if own.members:
            return refine_style(style, text, clean, own)
    if not tokens:
        return style
    parent = read_container(clean, _place(judged, tokens[:-1]))
    return _style_below(refine_style(style, text, clean, parent), judged, parent, isinstance(value, dict))


def _style_below(style: Style, judged: JsonText, container: Container, is_object: bool) -> Style:
    below = style_of_children(style, judged.text, judged.clean, container, "{" if is_object else "[")
    if below is None:
        return style
    return replace(below, colon=style.colon if container.is_object else below.colon)


def _write_member(container: Container, token: str, value: Value, style: Style, indent: str) -> str:
    key = quote_json(token, style.is_escaped) + style.colon if container.is_object else ""
    return key + write_value(value, style, indent)


def _gap(text: str, clean: str, container: Container, style: Style) -> str:
    """What stands between two members, the comma included: the commonest such gap without a comment."""
    members = container.members
    pairs = pairwise(members)
    gaps = Counter(gap for a, b in pairs if not (gap := text[a.end : b.start]).strip(", \t\r\n"))
    if gaps:
        return gaps.most_common(1)[0][0]
    if is_spread(clean, container):
        return f",{style.newline}{indentation(text, members[0].start)}"
    return style.comma


def _append(judged: JsonText, container: Container, gap: str, item: str) -> list[Change]:
    text, last = judged.text, container.members[-1]
    comma = _comma_after(judged, last.end)
    base = last.end if comma is None else comma + 1
    place = _end_of_comments(judged, base)
    if "\n" not in gap and "\r" not in gap and place != base:
        gap = f",{newline_of(text)}{indentation(text, last.start)}"
    lead = gap.replace(",", "")
    if place != base:
        lead = lead.lstrip(" \t")
    if comma is not None:
        return [(place, place, f"{lead}{item},")]
    if place == base:
        place = _end_of_blocks(judged, base)
        return [(place, place, gap + item)]
    if gap.lstrip(" \t").startswith(","):
        return [(base, base, ","), (place, place, lead + item)]
    return [(place, place, gap.lstrip(" \t") + item)]


def _fill_empty(
    judged: JsonText, tokens: tuple[str, ...], container: Container, token: str, value: Value
) -> list[Change]:
    text, clean = judged.text, judged.clean
    style, spread = read_style(text, clean), True
    if tokens:
        parent = read_container(clean, _place(judged, tokens[:-1]))
        style = _style_below(refine_style(style, text, clean, parent), judged, parent, container.is_object)
        spread = style.is_spread
    inside = text[container.open + 1 : container.close]
    style = replace(style, is_spread=spread or "\n" in inside or "\r" in inside)
    indent = indentation(text, container.open)
    below = indent + style.unit if style.is_spread else indent
    item = _write_member(container, token, value, style, below)
    start, end = container.open + 1, container.close
    comments = [span for span in judged.comments if start <= span[0] < end]
    if comments:
        place = comments[-1][1]
        is_open = text[place:end].strip(" \t") != ""
        return [(place, place, (style.newline + below if is_open else " ") + item)]
    if style.is_spread:
        return [(start, end, style.newline + below + item + style.newline + indent)]
    pad = style.pad if container.is_object else ""
    return [(start, end, pad + item + pad)]


# What belongs to a member


def _extras(judged: JsonText, index: int) -> Iterator[tuple[int, str]]:
    """White space, comments and commas from an index on: where each ends, and its first character."""
    ends = dict(judged.comments)
    while index < len(judged.text):
        char = judged.text[index]
        if char not in " \t\r\n,/":
            return
        index = ends.get(index, index + 1)
        yield index, char


def _comma_after(judged: JsonText, index: int) -> int | None:
    """The comma that follows a value, a trailing one included."""
    return next((end - 1 for end, char in _extras(judged, index) if char == ","), None)


def _comma_before(judged: JsonText, container: Container, index: int) -> int | None:
    return _comma_after(judged, container.members[index - 1].end) if index else None


def _end_of_comments(judged: JsonText, index: int) -> int:
    """Where the comments end that follow on this line, if nothing else does; else the index itself."""
    last = index
    for end, char in _extras(judged, index):
        if char in "\r\n":
            return last
        if char == ",":
            return index
        if char == "/":
            last = end
    return index


def _end_of_blocks(judged: JsonText, index: int) -> int:
    """Where the block comments end that follow a value on its line."""
    last = index
    for end, char in _extras(judged, index):
        if char in "\r\n,":
            break
        if char == "/":
            last = end
    return last


def _owned_start(judged: JsonText, container: Container, index: int) -> int:
    """Where the member starts, the comments right above it or right before it included."""
    text, start = judged.text, container.members[index].start
    comma = _comma_before(judged, container, index)
    floor = container.open + 1 if comma is None else comma + 1
    on_one_line = not count_lines(text, floor, start)
    owned = start
    for first, last in reversed([span for span in judged.comments if floor <= span[0] < start]):
        starts_line = count_lines(text, floor, first) > 0
        if count_lines(text, last, owned) > 1 or not (starts_line or on_one_line):
            break
        owned = first
    return owned


def _owned_end(judged: JsonText, container: Container, index: int) -> int:
    """Where the member ends, its comma and the comment behind it on its line included."""
    end = container.members[index].end
    comma = _comma_after(judged, end)
    if comma is not None and not count_lines(judged.text, end, comma):
        end = comma + 1
    return _end_of_comments(judged, end)


def _own_lines(judged: JsonText, container: Container, index: int) -> tuple[int, int] | None:
    """The whole lines that the member has to itself, the last line ending included; None if it shares one."""
    text, start = judged.text, _owned_start(judged, container, index)
    end = _owned_end(judged, container, index)
    top, bottom = line_start(text, start), line_end(text, end)
    comma = _comma_before(judged, container, index)
    before = text[top:start]
    if comma is not None and comma >= top:
        if _comma_after(judged, container.members[index].end) in range(start, end):
            return None
        before = before.replace(",", "", 1)
    if before.strip(" \t") or text[end:bottom].strip(" \t") or bottom == len(text):
        return None
    return top, bottom + (2 if text.startswith("\r\n", bottom) else 1)


def _delete_within_line(judged: JsonText, container: Container, index: int) -> list[Change]:
    members = container.members
    member, before = members[index], _comma_before(judged, container, index)
    after = _comma_after(judged, member.end)
    owned = _owned_start(judged, container, index)
    is_last = index == len(members) - 1
    if before is not None and not judged.text[before + 1 : owned].strip():
        return [(before, member.end if after is None else after, "")]
    if not is_last:
        return [(owned, _owned_start(judged, container, index + 1), "")]
    end = member.end if after is None else after + 1
    if before is None or after is not None:
        return [(owned, end, "")]
    return [(before, before + 1, ""), (owned, end, "")]


def _foreign_comments(judged: JsonText, container: Container) -> bool:
    """Whether comments stand in the container that do not belong to its only member."""
    start, end = _owned_start(judged, container, 0), _owned_end(judged, container, 0)
    inside = range(container.open, container.close)
    return any(span[0] in inside and not start <= span[0] < end for span in judged.comments)
