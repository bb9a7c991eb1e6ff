"""Lines that hold several fields each: columns between signs, or a record of JSON on every line.

No rule of a profile can reach into such a line; what stands there still tells which folder is a menu.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Any

_SIGNS = "\t|;,"
_ALIKE = 0.9
_LEAST = 3
_LONGEST = 4096
_MOST_FIELDS = 64


def find_fields(lines: Sequence[str]) -> list[list[str]]:
    """The fields of each line; empty where the lines have none in common."""
    if len(lines) < _LEAST or any(len(line) > _LONGEST for line in lines):
        return []
    if all(line[:1] == "{" and line[-1:] == "}" for line in lines):
        return [list(_texts_of(line)) for line in lines]
    for sign in _SIGNS:
        counts = Counter(line.count(sign) for line in lines)
        count, often = counts.most_common(1)[0]
        if 0 < count < _MOST_FIELDS and often >= _ALIKE * len(lines):
            return [[field.strip(" \t\"'") for field in line.split(sign)] for line in lines]
    return []


def is_record_lines(text: str) -> bool:
    """Whether every line is a whole object of JSON, and there are several."""
    lines = [line for line in text.splitlines() if line.strip()]
    return len(lines) > 1 and all(_load(line.strip()) is not None for line in lines)


def _load(line: str) -> dict[str, Any] | None:
    if line[:1] != "{" or line[-1:] != "}":
        return None
    try:
        record = json.loads(line)
    except (ValueError, RecursionError):
        return None
    return record if isinstance(record, dict) else None


def _texts_of(line: str) -> Iterator[str]:
    """The texts and keys of a record, however deep, as many as a record may have."""
    waiting: list[Any] = [_load(line)]
    for _ in range(_MOST_FIELDS):
        if not waiting:
            return
        here = waiting.pop()
        if isinstance(here, str):
            yield here
        elif isinstance(here, dict):
            waiting += [*here, *here.values()]
        elif isinstance(here, list):
            waiting += here
