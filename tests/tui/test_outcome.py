"""What plans come to: chains counted once, in verbs."""

from __future__ import annotations

from workbench.card.paths import VolumePath
from workbench.changes.plan import Listing, MakeFolder, Move, Plan, Remove, Write, digest
from workbench.tui.costs import cost_words, size_words
from workbench.tui.outcome import outcome_of
from workbench.tui.plan_lines import plan_lines
from workbench.tui.waiting import Waiting


def at(path: str) -> VolumePath:
    return VolumePath("data", path)


def test_a_chain_of_moves_counts_once() -> None:
    """A to B to C is one thing moved from A."""
    outcome = outcome_of(Plan("x", (Move(at("m/A"), at("m/B")), Move(at("m/B"), at("m/C")))))
    assert outcome.moved == {at("m/C"): at("m/A")}
    assert outcome.origin(at("m/C/inside")) == at("m/A/inside")


def test_there_and_back_is_nothing_moved() -> None:
    """The place at the start is the place at the end."""
    outcome = outcome_of(Plan("x", (Move(at("A"), at("B")), Move(at("B"), at("A")))))
    assert outcome.moved == {} and cost_words(outcome) == "nothing to do"


def test_a_file_written_twice_counts_once_and_follows_its_folder() -> None:
    """Its last content is what is written."""
    steps = (
        Write(at("m/A/f"), b"1", digest(b"0")),
        Move(at("m/A"), at("m/B")),
        Write(at("m/B/f"), b"123", digest(b"1")),
    )
    outcome = outcome_of(Plan("x", steps))
    assert outcome.changed == {at("m/B/f"): 3}
    assert cost_words(outcome) == "1 moved, 1 changed; 3 bytes to write"


def test_a_file_moved_within_a_moved_folder_came_from_the_first_place() -> None:
    """Its start is where it was before either moved."""
    steps = (Move(at("m/A"), at("m/B")), Move(at("m/B/f"), at("m/B/g")))
    assert outcome_of(Plan("x", steps)).moved[at("m/B/g")] == at("m/A/f")


def test_a_thing_keeps_its_key_while_a_plan_grows() -> None:
    """Even where something new takes the place that another has left."""
    away, made = Move(at("m/A"), at("m/B")), MakeFolder(at("m/A"))
    then = outcome_of(Plan("x", (away, made)))
    assert then.key(at("m/B")) == outcome_of(Plan("x", ())).key(at("m/A")) != then.key(at("m/A"))
    later = outcome_of(Plan("x", (away, made, Move(at("m/A"), at("m/C")))))
    assert later.key(at("m/C")) == then.key(at("m/A"))


def test_a_folder_put_in_order_is_counted() -> None:
    """Its names go out and come back, so nothing else would tell of it."""
    out, back = Move(at("m/A"), at(".cardwright/aside/1")), Move(at(".cardwright/aside/1"), at("m/A"))
    plan = Plan("x", (out, back), listings=(Listing(at("m"), ("A", "B")),))
    assert cost_words(outcome_of(plan)) == "1 folder put in order"


def test_each_verb_has_its_line() -> None:
    """Moved, new, changed and put away, in words and never in signs."""
    steps = (
        MakeFolder(at("n")),
        Write(at("n/f"), b"12", None),
        Write(at("g"), b"1", digest(b"0")),
        Move(at("a"), at("b")),
        Remove(at("z")),
    )
    said = [line.text for line in plan_lines(Plan("x", steps))]
    assert [line.split()[0] for line in said] == ["moved", "to", "changed", "new", "new", "put"]
    assert not any(line.lstrip().startswith(("+", "-", "~")) for line in said)


def test_wishes_grow_and_are_dropped_from_the_end() -> None:
    """Dropping the last leaves what was there before it."""
    one, two = Plan("one", (Move(at("A"), at("B")),)), Plan("two", (Move(at("B"), at("C")),))
    waiting = Waiting().grown(one).grown(two)
    assert waiting.plan.title == "one; two" and len(waiting.plan.steps) == 2
    assert waiting.without_last() == Waiting((one,)) and not Waiting()


def test_sizes_are_said_in_binary_units() -> None:
    """1 KiB is 1,024 bytes (IEC 80000-13)."""
    assert [size_words(n) for n in (0, 1, 1023, 1024, 1536, 32768, 10**9)] == [
        "0 bytes", "1 byte", "1023 bytes", "1 KiB", "1.5 KiB", "32 KiB", "954 MiB",
    ]  # fmt: skip
