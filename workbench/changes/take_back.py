"""Takes edits back out of a manifest that has changed since, by where they stand in it.

An edit's place is found by aligning what the change left with what is there now, line by line, and within
changed lines by its context. Each has to be found exactly once, else it is not taken back at all.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence

from workbench.manifests.document import Edit

_MOST_CONTEXT = 256
_LEAST_ONE_SIDED = 6
"""Context on one side alone has to be this long to count."""


def take_back_edits(
    before: bytes, after: bytes, now: bytes, edits: Sequence[Edit]
) -> tuple[Edit, ...] | None:
    """Edits on `now` that undo `edits` (which made `after` of `before`); None where one has no sure place."""
    blocks = list(_align(after, now))
    taken: list[Edit] = []
    shift = 0
    for edit in sorted(edits):
        start = edit.start + shift
        end = start + len(edit.new)
        shift += len(edit.new) - (edit.end - edit.start)
        found = _map_span(blocks, start, end, len(after), len(now))
        if found is None:
            found = _search(after, start, end, now)
        if found is None or (taken and found < taken[-1].end):
            return None
        taken.append(Edit(found, found + len(edit.new), before[edit.start : edit.end]))
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
            if _count(after, pattern) == 1 and _count(now, pattern) == 1:
                return now.index(pattern) + len(head)
        size += 1 if size < 16 else size // 2
    return None


def _count(text: bytes, pattern: bytes) -> int:
    """How often the pattern stands there, overlapping ones counted; at most 2."""
    first = text.find(pattern)
    if first < 0 or not pattern:
        return 0
    return 1 if text.find(pattern, first + 1) < 0 else 2
