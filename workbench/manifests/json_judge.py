"""Judges JSON (RFC 8259). The standard library decides; comments and trailing commas that a file already
has are blanked to spaces of equal length first, so that every index fits the original text too.
"""

from __future__ import annotations

import re
from itertools import accumulate

from workbench.late_pattern import late_pattern
from workbench.manifests.document import MAX_DEPTH, Value
from workbench.manifests.json_scanner import read_document
from workbench.manifests.positions import decode_utf8, malformed, refused
from workbench.typed import TYPE_CHECKING, NamedTuple, NoReturn
from workbench.values import dataclass

if TYPE_CHECKING:
    from json import JSONDecodeError

_STRING = r'"(?:[^"\\\r\n]|\\.)*+"?'
_COMMENT = late_pattern(rf"{_STRING}|(//[^\r\n]*|/\*(?s:.*?)(?:\*/|\Z))")
_COMMA = late_pattern(rf"{_STRING}|[\[{{,:](?:[ \t\r\n]*,)+|(,)(?=[ \t\r\n]*[\]}}])")
_STRINGS = late_pattern(_STRING)
_KEYS = late_pattern(rf"{_STRING}([ \t\r\n]*:)?")
_VISIBLE = late_pattern(r"[^\r\n]")
_NOT_BRACKETS = bytes(set(range(256)) - set(b"[]{}"))
_STEPS = bytes.maketrans(b"[{]}", b"\x02\x02\x00\x00")

_PROBLEMS = {
    "Expecting value": "a value is missing here",
    "Expecting property name": "a key in double quotes is expected here",
    "Expecting ':'": "a colon is missing before this",
    "Expecting ','": "a comma or a closing bracket is missing before this",
    "Unterminated string": "the text that starts here is never closed with a double quote",
    "Invalid control character": "a text holds a line end or control character; perhaps a quote is missing",
    "Invalid \\": "JSON does not know this escape",
    "Extra data": "more follows after the end of the document",
    "Illegal trailing comma": "a comma stands before a closing bracket",
}


@dataclass(frozen=True, slots=True)
class JsonText:
    """A well-formed JSON text."""

    text: str
    """Without the BOM."""
    clean: str
    """The same length, with comments and trailing commas as spaces: strict JSON."""
    data: Value
    head: int
    """Bytes of the BOM."""
    comments: tuple[tuple[int, int], ...]
    """Spans of comments, in characters; a line comment ends before its line ending."""
    has_duplicates: bool
    """Whether an object holds one key twice (RFC 8259, 4: what a reader makes of it is unpredictable)."""


def judge_json(raw: bytes, path: str) -> JsonText:
    """Decode and judge.

    Raises:
        ManifestError: malformed, in another encoding, or nested deeper than `MAX_DEPTH`.
    """
    text, head = decode_utf8(raw, path)
    if _is_deep(text) and _is_deep(blank_extras(text)[0]):
        raise too_deep(path)
    data = _read(text, path)
    if not isinstance(data, _Fault):
        return JsonText(text, text, data, head, (), _has_duplicates(text, data))
    clean, comments = blank_extras(text)
    if clean != text:
        data = _read(clean, path)
    if isinstance(data, _Fault):
        _raise_malformed(path, text, data.error)
    return JsonText(text, clean, data, head, comments, _has_duplicates(clean, data))


class _Fault(NamedTuple):
    """Where a text stops being JSON."""

    error: JSONDecodeError


def _read(clean: str, path: str) -> Value | _Fault:
    try:
        return read_document(clean, _refuse_constant)
    except RecursionError as error:
        raise too_deep(path) from error
    except _ConstantError as error:
        index = next(m.start() for m in re.finditer(rf"{_STRING}|(-?{error.args[0]})", clean) if m[1])
        raise malformed(path, clean, index, f"{error.args[0]} is no JSON value") from error
    except ValueError as error:
        from json import JSONDecodeError

        if isinstance(error, JSONDecodeError):
            return _Fault(error)
        # Python's own limit on digits
        raise refused(
            path, None, "it holds a number of thousands of digits", "shorten that number"
        ) from error


def _has_duplicates(clean: str, data: Value) -> bool:
    """Whether an object holds one key twice: then the text has more keys than the data.

    Each key has a colon behind it, and there is no other colon outside of strings.
    """
    members = _count_members(data)
    if clean.count(":") == members:
        return False
    return sum(1 for found in _KEYS.finditer(clean) if found[1]) != members


def _count_members(data: Value) -> int:
    count, waiting = 0, [data]
    for value in waiting:
        kind = type(value)
        if kind is dict:
            count += len(value)
            waiting += value.values()
        elif kind is list:
            waiting += value
    return count


class _ConstantError(Exception):
    pass


def _refuse_constant(name: str) -> NoReturn:
    raise _ConstantError(name.lstrip("-"))


def _raise_malformed(path: str, text: str, error: JSONDecodeError) -> NoReturn:
    if not text.strip():
        raise malformed(path, text, 0, "the file is empty, which is no JSON") from error
    problem = next((ours for theirs, ours in _PROBLEMS.items() if error.msg.startswith(theirs)), error.msg)
    raise malformed(path, text, min(error.pos, len(text)), problem) from error


def too_deep(path: str) -> Exception:
    """The error for nesting beyond `MAX_DEPTH`."""
    problem = f"it is nested deeper than {MAX_DEPTH} levels and is not taken as a manifest"
    return refused(path, None, problem, "look at what wrote it")


def _is_deep(text: str) -> bool:
    if text.count("[") + text.count("{") <= MAX_DEPTH:
        return False
    brackets = _STRINGS.sub("", text).encode().translate(_STEPS, _NOT_BRACKETS)
    return max(accumulate(step - 1 for step in brackets), default=0) > MAX_DEPTH


def blank_extras(text: str) -> tuple[str, tuple[tuple[int, int], ...]]:
    """The text with comments and trailing commas as spaces, and the comments' spans."""
    comments: list[tuple[int, int]] = []

    def blank_comment(match: re.Match[str]) -> str:
        comment = match[1]
        if comment is None or (
            comment.startswith("/*") and not (len(comment) > 3 and comment.endswith("*/"))
        ):
            return match[0]
        comments.append(match.span())
        return _VISIBLE.sub(" ", comment)

    clean = _COMMENT.sub(blank_comment, text)
    clean = _COMMA.sub(lambda match: " " if match[1] else match[0], clean)
    return clean, tuple(comments)
