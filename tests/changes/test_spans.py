"""A change's own edits are found again by what stands around them, without the content they were made on."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workbench.changes.spans import Span, describe_spans, reverse_edits, take_back_spans
from workbench.manifests.document import Edit, apply_edits

BEFORE = b'{"Alpha": 1, "Beta": 2, "Gamma": 3}\n'


def edit_of(raw: bytes, old: bytes, new: bytes) -> Edit:
    start = raw.index(old)
    return Edit(start, start + len(old), new)


def test_edits_are_taken_out_of_what_changed_elsewhere() -> None:
    """What was put in and changed by others stays."""
    edits = (edit_of(BEFORE, b"Alpha", b"Aleph"), edit_of(BEFORE, b"Gamma", b"Gimel"))
    after = apply_edits(BEFORE, edits)
    spans = describe_spans(BEFORE, after, edits)
    now = after.replace(b'"Beta": 2', b'"Beta": 20, "More": 9')
    taken = take_back_spans(now, edits, spans)
    assert taken is not None
    assert apply_edits(now, taken) == BEFORE.replace(b'"Beta": 2', b'"Beta": 20, "More": 9')


@pytest.mark.parametrize("now", [b"", b'{"Aleph": 1}{"Aleph": 1}', b'{"Alif": 1}'])
def test_a_place_that_is_not_the_only_one_is_none(now: bytes) -> None:
    """Gone, twice, or edited over: then nothing is taken back."""
    before = b'{"Alpha": 1}'
    edits = (edit_of(before, b"Alpha", b"Aleph"),)
    spans = describe_spans(before, apply_edits(before, edits), edits)
    assert take_back_spans(now, edits, spans) is None


def test_text_that_repeats_without_end_has_no_sure_place() -> None:
    """Among equal lines no context tells one from the next."""
    before = b"a\n" * 2000
    edits = (Edit(2000, 2001, b"a"),)
    (span,) = describe_spans(before, before, edits)
    assert span.sure == ()
    assert take_back_spans(before, edits, (span,)) is None


def test_edits_that_touch_come_back_in_their_order() -> None:
    """Two texts that were taken out side by side leave one place for both."""
    edits = (Edit(0, 1, b""), Edit(1, 2, b""))
    spans = describe_spans(b"ba!", b"!", edits)
    assert apply_edits(b"!", reverse_edits(edits, spans)) == b"ba!"
    taken = take_back_spans(b"!", edits, spans)
    assert taken is not None and apply_edits(b"!", taken) == b"ba!"


@given(st.data())
def test_what_the_change_left_gives_the_old_content_exactly(data: st.DataObject) -> None:
    """For any edits of any content; and spans come back from JSON as they were."""
    before = data.draw(st.binary(max_size=60))
    cuts = sorted(data.draw(st.lists(st.integers(0, len(before)), max_size=6)))
    pairs = zip(cuts[::2], cuts[1::2], strict=False)
    edits = tuple(Edit(start, end, data.draw(st.binary(max_size=5))) for start, end in pairs)
    after = apply_edits(before, edits)
    spans = describe_spans(before, after, edits)
    assert tuple(Span.from_json(span.to_json()) for span in spans) == spans
    assert apply_edits(after, reverse_edits(edits, spans)) == before
    taken = take_back_spans(after, edits, spans)
    assert taken is None or apply_edits(after, taken) == before
