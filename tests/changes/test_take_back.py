"""Edits are taken out of a text that has changed since, at their own place or not at all."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workbench.changes.take_back import take_back_edits
from workbench.manifests.document import Edit, apply_edits


def take(before: bytes, old: bytes, new: bytes, change: tuple[bytes, bytes]) -> bytes | None:
    """Edit old → new, then by hand `change`, then take the edit back."""
    start = before.index(old)
    edit = Edit(start, start + len(old), new)
    after = apply_edits(before, [edit])
    now = after.replace(*change)
    assert now != after or change[0] == change[1]
    taken = take_back_edits(before, after, now, [edit])
    return None if taken is None else apply_edits(now, taken)


@pytest.mark.parametrize(
    ("before", "old", "new", "change", "wanted"),
    [
        # elsewhere, before and after, on other lines
        (b"a\nboats\nc\n", b"boats", b"ships", (b"a\n", b"aaa\nzz\n"), b"aaa\nzz\nboats\nc\n"),
        (b"a\nboats\nc\n", b"boats", b"ships", (b"c\n", b""), b"a\nboats\n"),
        # on the same line, where everything stands on one
        (b'{"boats":1,"kites":2}', b"boats", b"ships", (b"kites", b"dolls"), b'{"boats":1,"dolls":2}'),
        (b'{"boats":1,"kites":2}', b"kites", b"ships", (b"boats", b"x"), b'{"x":1,"kites":2}'),
        # the same text stands elsewhere too
        (b"ships\nboats\nships\n", b"boats", b"ships", (b"ships\n", b"ships\n"), b"ships\nboats\nships\n"),
        # the edited place itself was changed by hand
        (b"a\nboats\nc\n", b"boats", b"ships", (b"ships", b"hulls"), None),
        # the line was taken away, and its text stands elsewhere
        (b"a boats\nships\n", b"boats", b"ships", (b"a ships\n", b""), None),
        # a deletion and an insertion
        (b"a\nboats\nc\n", b"boats\n", b"", (b"c", b"d"), b"a\nboats\nd\n"),
        (b"a\nc\n", b"", b"new\n", (b"c", b"d"), b"a\nd\n"),
    ],
)  # fmt: skip
def test_an_edit_is_found_at_its_own_place(
    before: bytes, old: bytes, new: bytes, change: tuple[bytes, bytes], wanted: bytes | None
) -> None:
    """Whatever was changed elsewhere stays; a place that is not certain is not touched."""
    assert take(before, old, new, change) == wanted


LINES = st.lists(st.sampled_from([b"one\n", b"two\n", b"three\n", b"a=b\n", b"\n"]), min_size=1, max_size=12)


@given(LINES, st.data())
def test_on_what_the_edits_left_taking_back_is_the_inverse(lines: list[bytes], data: st.DataObject) -> None:
    """With nothing changed since, the bytes before come out."""
    before = b"".join(lines)
    cuts = sorted(data.draw(st.lists(st.integers(0, len(before)), max_size=6, unique=True)))
    pairs = zip(cuts[::2], cuts[1::2], strict=False)
    edits = [
        Edit(start, end, data.draw(st.sampled_from([b"X", b"", b"long\nlong\n"]))) for start, end in pairs
    ]
    after = apply_edits(before, edits)
    taken = take_back_edits(before, after, after, edits)
    if taken is not None:
        assert apply_edits(after, taken) == before
    else:
        assert any(not edit.new for edit in edits), "only a deletion can leave no place to find"


@given(LINES, st.integers(0, 11), st.integers(0, 11))
def test_another_line_changed_since_stays_changed(lines: list[bytes], edited: int, changed: int) -> None:
    """Unique lines: the edit on one is taken back, the hand's change of another is kept."""
    numbered = [b"%d %s" % (number, line) for number, line in enumerate(lines)]
    edited, changed = edited % len(lines), changed % len(lines)
    if edited == changed:
        return
    before = b"".join(numbered)
    start = sum(map(len, numbered[:edited]))
    edit = Edit(start, start + 1, b"EDITED")
    after = apply_edits(before, [edit])
    parts = after.splitlines(keepends=True)
    row = next(number for number, part in enumerate(parts) if part.startswith(b"%d " % changed))
    parts[row] = b"by hand\n"
    taken = take_back_edits(before, after, b"".join(parts), [edit])
    numbered[changed] = b"by hand\n"
    assert taken is not None
    assert apply_edits(b"".join(parts), taken) == b"".join(numbered)
