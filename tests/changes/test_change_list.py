"""The marks alone never say that all changes have ended where the records know of one that has not."""

from __future__ import annotations

from changes_card import card_of, make_volume, place
from hypothesis import given, settings
from hypothesis import strategies as st

from workbench.changes.apply import apply
from workbench.changes.change_list import CHANGES, are_all_at_end, list_changes, open_grounds
from workbench.changes.marks import put_mark
from workbench.changes.plan import Plan, Write
from workbench.changes.recover import find_unfinished

STATES = st.sampled_from(["prepared", "begun", "done", "back", "torn", "none"])
SLOT = 64
"""Bytes of one record of the marks; there are eight."""


def _mark(ground, change, state):
    """Write the marks anew: prepared alone, or up to a state, or damaged, or none."""
    marks = ground.root / CHANGES / change / "marks"
    whole = marks.read_bytes()
    blank = b" " * (SLOT - 1) + b"\n"
    marks.write_bytes(b"\xff" * len(whole) if state == "torn" else whole[:SLOT] + blank * 7)
    if state == "none":
        marks.unlink()
    elif state in ("begun", "done", "back"):
        put_mark(ground, f"{CHANGES}/{change}/marks", change, state)


def test_it_agrees_with_the_records(tmp_path):
    """Any states of four changes on two volumes: yes is never wrong, and it is yes where all are done."""
    volumes = [make_volume(tmp_path / role, {"a": b""}, role) for role in ("data", "more")]
    card = card_of(*volumes)
    assert are_all_at_end(card)
    for number in range(4):
        steps = [Write(place(f"{role}:n{number}"), b"x", None) for role in ("data", "more")]
        apply(card, Plan("x", tuple(steps)))
    assert are_all_at_end(card) and find_unfinished(card) is None
    with open_grounds(card.present) as grounds:
        every = [(ground, change) for ground in grounds.values() for change in list_changes(ground)]
        kept = [(ground.root / CHANGES / change / "marks").read_bytes() for ground, change in every]
        assert len(every) == 8 and all(one[:8] == b"prepared" for one in kept)

        @settings(max_examples=40, deadline=None)
        @given(st.lists(STATES, min_size=8, max_size=8))
        def check(states):
            for (ground, change), whole, state in zip(every, kept, states, strict=True):
                (ground.root / CHANGES / change / "marks").write_bytes(whole)
                _mark(ground, change, state)
            if are_all_at_end(card):
                assert find_unfinished(card) is None

        check()
