"""What a change's own edits replaced, with enough of what stands around them to find their places again.

It stands in plan.json beside the edits, so that they can be taken back out of a manifest after the kept
copies were let go. A place counts only where its pattern is the only one, then and now.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from workbench.manifests.document import Edit
from workbench.values import dataclass

_SIZES = (1, 2, 4, 8, 16, 32, 64, 128, 256)
_LEAST_ONE_SIDED = 8
"""Context on one side alone has to be this long to count."""


@dataclass(frozen=True, slots=True)
class Span:
    """One edit's old text and its surroundings in the edited content."""

    old: bytes
    left: bytes = b""
    right: bytes = b""
    sure: tuple[tuple[int, int], ...] = ()
    """Lengths (left, right) of context that make the place the only one; none where nothing does."""

    def to_json(self) -> list[Any]:
        return [self.old.hex(), self.left.hex(), self.right.hex(), [list(one) for one in self.sure]]

    @classmethod
    def from_json(cls, found: Any) -> Span:
        old, left, right, sure = found
        return cls(
            bytes.fromhex(old),
            bytes.fromhex(left),
            bytes.fromhex(right),
            tuple((one[0], one[1]) for one in sure),
        )

    def patterns(self, new: bytes) -> Iterator[tuple[bytes, int]]:
        """What to look for, and how far into it the edit's new text starts."""
        for left, right in self.sure:
            head = self.left[len(self.left) - left :]
            yield head + new + self.right[:right], left


def describe_spans(before: bytes, after: bytes, edits: Iterable[Edit]) -> tuple[Span, ...]:
    """The spans of edits that made `after` of `before`, in the order of their places."""
    places = place_edits(edits)
    return tuple(_describe(before[edit.start : edit.end], after, start, end) for edit, start, end in places)


def place_edits(edits: Iterable[Edit]) -> Iterator[tuple[Edit, int, int]]:
    """Each edit with where its new text stands in the edited content, in order."""
    shift = 0
    for edit in sorted(edits):
        start = edit.start + shift
        yield edit, start, start + len(edit.new)
        shift += len(edit.new) - (edit.end - edit.start)


def reverse_edits(edits: Iterable[Edit], spans: Sequence[Span]) -> tuple[Edit, ...]:
    """Edits that make the old content of exactly what the change left."""
    taken: list[Edit] = []
    for (_, start, end), span in zip(place_edits(edits), spans, strict=True):
        join_edit(taken, Edit(start, end, span.old))
    return tuple(taken)


def join_edit(taken: list[Edit], edit: Edit) -> None:
    """Add an edit that follows the others; one that touches the last becomes one with it.

    Two that put something in at one place would else have no order between them.
    """
    if taken and taken[-1].end == edit.start:
        last = taken.pop()
        edit = Edit(last.start, edit.end, last.new + edit.new)
    taken.append(edit)


def take_back_spans(now: bytes, edits: Iterable[Edit], spans: Sequence[Span]) -> tuple[Edit, ...] | None:
    """Edits on a content that changed since, which undo `edits`; None where one has no sure place."""
    taken: list[Edit] = []
    for edit, span in zip(sorted(edits), spans, strict=True):
        found = _find(now, edit.new, span)
        if found is None or (taken and found < taken[-1].end):
            return None
        join_edit(taken, Edit(found, found + len(edit.new), span.old))
    return tuple(taken)


def _describe(old: bytes, after: bytes, start: int, end: int) -> Span:
    sure = []
    for left_side, right_side in ((1, 1), (1, 0), (0, 1)):
        least = _LEAST_ONE_SIDED if left_side + right_side == 1 else 0
        for size in (size for size in _SIZES if size >= least):
            left, right = min(size, start) * left_side, min(size, len(after) - end) * right_side
            if left + right >= least and count_text(after, after[start - left : end + right]) == 1:
                sure.append((left, right))
                break
    most_left = max((left for left, _ in sure), default=0)
    most_right = max((right for _, right in sure), default=0)
    return Span(old, after[start - most_left : start], after[end : end + most_right], tuple(sure))


def _find(now: bytes, new: bytes, span: Span) -> int | None:
    for pattern, head in span.patterns(new):
        if count_text(now, pattern) == 1:
            return now.index(pattern) + head
    return None


def count_text(text: bytes, pattern: bytes) -> int:
    """How often the pattern stands there, overlapping ones counted; at most 2."""
    first = text.find(pattern)
    if first < 0 or not pattern:
        return 0
    return 1 if text.find(pattern, first + 1) < 0 else 2
