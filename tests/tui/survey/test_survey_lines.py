"""Findings and evidence as lines: what tells them apart is in sight, and text from a card is data."""

from __future__ import annotations

from pathlib import Path

import pytest

from workbench.card.paths import VolumePath
from workbench.jobs.survey.findings import Evidence, Finding, Line
from workbench.jobs.survey.sheet import read_sheet
from workbench.tui.survey_draft import Existing, fault_of, typed_value, value_text
from workbench.tui.survey_lines import describe, finding_line, finding_lines, line_text


def finding(table: tuple[str, ...], **values: object) -> Finding:
    return Finding(
        ".".join((*table, "x")), table, tuple(Line(key, value, "") for key, value in values.items()), "", 0.9
    )


@pytest.mark.parametrize(
    ("table", "values", "said"),
    [
        (("menus", "m"), {"id": "m", "root": "data:m"}, ("menu m", "data:m")),
        (("menus", "m", "references"), {"file": "data:a/b.txt"}, (" in", "b.txt")),
        (("menus", "m", "references"), {"file": "d:b.ini", "at": "/{entry}"}, (" in", "/{entry} of b.ini")),
        (
            ("menus", "m", "references"),
            {"file": "d:b.xml", "at": "/a/0/b/{row}/@id"},
            (" in", "…/b/{row}/@id of b.xml"),
        ),
        (
            ("menus", "m", "pictures"),
            {"kind": "icon", "path": "d:{entry}.png", "size": [4, 3]},
            (" icon", "4×3 d:{entry}.png"),
        ),
        (("panel",), {"width": 4, "height": 3, "rotate": 90}, ("panel", "4×3, pictures turned by 90°")),
        (("variables",), {"STORE": "/mnt"}, ("variable STORE", "/mnt")),
        (("splash",), {"moment": "start", "file": "d:a.bmp"}, ("splash start", "d:a.bmp")),
    ],
)
def test_a_finding_is_said_in_words(
    table: tuple[str, ...], values: dict[str, object], said: tuple[str, str]
) -> None:
    """What it is, and what it says."""
    assert describe(finding(table, **values)) == said


def test_what_a_person_made_of_it_and_guesses_are_words() -> None:
    """No colour alone."""
    one = finding(("splash",), moment="start", file="d:a.bmp")
    guess = Finding(one.id, one.table, one.lines, "", 0.3)
    assert finding_line(guess).text.endswith("? guess")
    assert finding_line(one, is_silent=True).text.endswith("! nothing")
    for standing in ("taken", "corrected", "dropped"):
        done = Finding(one.id, one.table, one.lines, "", 0.3, (), (), standing)  # type: ignore[arg-type]
        assert finding_line(done).text.endswith(standing)


def test_control_characters_of_a_card_are_shown_as_signs() -> None:
    """In its name, its lines and its reason."""
    one = Finding(
        "menus.x", ("menus", "x"), (Line("id", "\x1b[2J", "\x07"), Line("root", "d:\u202e", "")), "\x9b", 0.9
    )
    lines = [finding_line(one), *finding_lines(one, (), 30)]
    assert all(line.text.isprintable() for line in lines)


@pytest.mark.parametrize(
    ("raw", "line", "words", "text"),
    [
        (b"one\ntwo\n", 2, "two", "two"),
        (b"one\r\n  two\r\n", 2, "two", "two"),
        (b"one\n", 7, "gone", "gone"),
        (b"\xff\xfe", 1, "x", "\ufffd\ufffd"),
        (b"a" * 500 + b"Boats" + b"b" * 500, 1, "Boats", "… " + "a" * 60 + "Boats" + "b" * 500),
    ],
)
def test_the_text_of_a_line_is_what_stands_there(raw: bytes, line: int, words: str, text: str) -> None:
    """Of a long one, what stands around the words; where the file changed, what stood there."""
    assert line_text(raw, Evidence(VolumePath("d", "f"), line, words)) == text


@pytest.mark.parametrize("value", ["data:a b", 'say "x"', 5, True, ["a", "b"], {"a": 1, "b": "c"}, [1, 2]])
def test_a_value_that_nobody_touched_comes_back_as_it_was(value: object) -> None:
    """Texts as they are, anything else as TOML."""
    assert typed_value(value_text(value), value) == value


@pytest.mark.parametrize("typed", ["", "x", "1\nother = 2", "[1", "1 2"])
def test_what_is_no_value_is_refused(typed: str) -> None:
    """A second key cannot be smuggled in."""
    with pytest.raises(ValueError, match=r".+"):
        typed_value(typed, 5)


def test_a_draft_that_would_not_load_says_why() -> None:
    """In the words of whoever reads profiles."""
    import practice_cards

    place = practice_cards.profile_path("larkspur")
    draft = Existing(read_sheet(place.read_bytes(), Path("p.toml")), None)  # type: ignore[arg-type]
    order = next(one for one in draft.findings if one.id == "menus.shelf.order")
    assert fault_of(draft) is None
    fault = fault_of(draft.amend(order, {"order": "byte"}, ""))
    assert fault is not None and "'bytes'" in fault
