"""Takes edits back out of a manifest that has changed since, by where they stand in it.

An edit's place is found by aligning what the change left with what is there now, line by line, and within
changed lines by its context. Each has to be found exactly once, else it is not taken back at all.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence

from workbench.changes.spans import count_text, join_edit, place_edits
from workbench.manifests.document import Edit

_MOST_CONTEXT = 256
_LONGEST_TEXT = 1024 * 1024
_LEAST_ONE_SIDED = 6
"""Context on one side alone has to be this long to count."""


def take_back_edits(
    before: bytes, after: bytes, now: bytes, edits: Sequence[Edit]
) -> tuple[Edit, ...] | None:
    """Edits on `now` that undo `edits` (which made `after` of `before`); None where one has no sure place."""
    blocks = list(_align(after, now))
    taken: list[Edit] = []
    for edit, start, end in place_edits(edits):
        found = _map_span(blocks, start, end, len(after), len(now))
        if found is None:
            found = _search(after, start, end, now)
        if found is None or (taken and found < taken[-1].end):
            return None
        join_edit(taken, Edit(found, found + len(edit.new), before[edit.start : edit.end]))
    return tuple(taken)


Block = tuple[int, int, int]
"""(start in after, start in now, length) of equal bytes."""


def _align(after: bytes, now: bytes) -> Iterator[Block]:
    """Runs of equal lines, in order; the equal head and tail are not searched through."""
    from difflib import SequenceMatcher

    old, new = after.splitlines(keepends=True), now.splitlines(keepends=True)
    head = _count_equal(old, new)
    tail = _count_equal(old[head:][::-1], new[head:][::-1])
    old_at = [0, *itertools.accumulate(map(len, old))]
    new_at = [0, *itertools.accumulate(map(len, new))]
    if head:
        yield 0, 0, old_at[head]
    matcher = SequenceMatcher(None, old[head : len(old) - tail], new[head : len(new) - tail], autojunk=False)
    for block in matcher.get_matching_blocks():
        if block.size:
            start, to = head + block.a, head + block.b
            yield old_at[start], new_at[to], old_at[start + block.size] - old_at[start]
    if tail:
        yield old_at[len(old) - tail], new_at[len(new) - tail], old_at[-1] - old_at[len(old) - tail]


def _count_equal(old: Sequence[bytes], new: Sequence[bytes]) -> int:
    pairs = enumerate(zip(old, new, strict=False))
    return next((number for number, (one, other) in pairs if one != other), min(len(old), len(new)))


def _map_span(blocks: Sequence[Block], start: int, end: int, size: int, now_size: int) -> int | None:
    """Where the span is in `now`, if it lies inside lines that stand there unchanged."""
    for at, to, length in blocks:
        is_inside = at <= start and end <= at + length
        if not is_inside:
            continue
        # An empty span at the edge of a block may belong to what was put in beside it.
        is_edge = start == end and ((start == at and at > 0) or (start == at + length and at + length < size))
        if start == end == size and to + length != now_size:
            return None
        if not is_edge:
            return to + start - at
    return None


def _search(after: bytes, start: int, end: int, now: bytes) -> int | None:
    """Where the span's text stands in `now`, by as little context as makes it the only one in both."""
    size = 1
    while size <= _MOST_CONTEXT:
        for left, right in ((size, size), (size, 0), (0, size)):
            if min(left, right) == 0 and size < _LEAST_ONE_SIDED:
                continue
            head = after[max(0, start - left) : start]
            pattern = head + after[start : end + right]
            if count_text(after, pattern) == 1 and count_text(now, pattern) == 1:
                return now.index(pattern) + len(head)
        size += 1 if size < 16 else size // 2
    return None


def find_changed_line(after: bytes, now: bytes, places: Sequence[tuple[int, int]]) -> int | None:
    """The first line of `now` (from 1) that is not as `after` has it, one with `places` in it first.

    `places`: spans (start, end) in `after`. None where both are alike.
    """
    from difflib import SequenceMatcher

    old, new = after.splitlines(keepends=True), now.splitlines(keepends=True)
    head = _count_equal(old, new)
    tail = min(_count_equal(old[head:][::-1], new[head:][::-1]), len(old) - head, len(new) - head)
    matcher = SequenceMatcher(None, old[head : len(old) - tail], new[head : len(new) - tail], autojunk=False)
    changed = [code for code in matcher.get_opcodes() if code[0] != "equal"]
    touched = {after.count(b"\n", 0, start) - head for start, _ in places}
    own = [code for code in changed if any(code[1] <= row < max(code[2], code[1] + 1) for row in touched)]
    for code in own or changed:
        return min(head + code[3] + 1, max(len(new), 1))
    return None


def is_text(content: bytes) -> bool:
    """Whether a content has lines that a person could look up."""
    return len(content) <= _LONGEST_TEXT and b"\0" not in content
