"""`history --let-go`: previewed, asked for, in both shapes; what it means for undo is said at each turn."""

from __future__ import annotations

import time

import pytest


@pytest.fixture
def changed(practice_card, cardwright):
    """A larkspur card with a rename, and two splashes put in."""
    card = practice_card("larkspur")
    cardwright("rename", card, "Boats", "Sails", "--yes")
    for colour in ("#102030", "#405060"):
        cardwright("splash", card, "blank", "--background", colour, "--yes")
    return card


def copies(card):
    """Changes by number whose kept copies are there."""
    found = [*card.glob("*/.cardwright/changes/*/kept.pack"), *card.glob("*/.cardwright/changes/*/kept/*")]
    return {int(path.relative_to(card).parts[3][:4]) for path in found}


def test_a_dry_run_says_what_would_go_and_removes_nothing(changed, cardwright):
    """For people and as JSON, in the shape of a writing command."""
    dry = cardwright("history", changed, "--let-go", "2", "--dry-run")
    assert dry.code == 0
    assert "can then not be taken back any more (system:greet/hello.bmp)" in dry.out
    assert "Nothing was removed." in dry.out
    shape = cardwright("history", changed, "--let-go", "1,2", "--dry-run", "--json").json
    assert shape.keys() >= {"plan", "unruled", "conflicts", "change"}
    assert shape["change"] is None and shape["done"] is False
    assert {step["step"] for step in shape["plan"]["steps"]} == {"let-go"}
    assert [one["undo"] for one in shape["let_go"]] == ["whole", "none"]
    assert copies(changed) == {1, 2, 3}


@pytest.mark.parametrize(
    ("words", "left"),
    [
        (("--let-go", "2"), {1, 3}),
        (("--let-go", "1-2"), {3}),
        (("--let-go", "1", "--let-go", "3"), {2}),
        (("--let-go-before", "3"), {3}),
        (("--let-go-all-but", "2"), {2, 3}),
        (("--let-go-to-free", "1"), {2, 3}),
        (("--let-go-to-free", "1.5G"), set()),
        (("--let-go-older", "0"), set()),
    ],
)
def test_each_way_to_choose(changed, cardwright, words, left, monkeypatch):
    """What was chosen goes, the others keep their copies, and history says which."""
    now = time.time()
    monkeypatch.setattr("time.time", lambda: now + 60)  # no change is younger than this second
    done = cardwright("history", changed, *words, "--yes", "--json")
    assert done.code == 0 and done.json["done"] and done.json["bytes_freed"] > 0
    assert copies(changed) == left
    listed = cardwright("history", changed, "--json").json["changes"]
    assert {change["number"] for change in listed if not change["let_go"]} == left
    assert "its kept copies were let go" in cardwright("history", changed).out


def test_undo_after_letting_go(changed, cardwright):
    """A rename still comes back whole; of a splash undo says plainly why it cannot."""
    cardwright("history", changed, "--let-go-all-but", "0", "--yes")
    refused = cardwright("undo", changed, "2", "--yes")
    assert refused.code == 1 and "its kept copies were let go" in refused.err
    assert cardwright("undo", changed, "1", "--yes").code == 0
    assert (changed / "data/shelf/Boats").is_dir()


def test_kept_splashes_say_that_they_were_let_go(changed, cardwright):
    """`splash kept` lists them so; restoring one is refused by name, another one is not."""
    cardwright("history", changed, "--let-go", "2", "--yes")
    assert "let go" in cardwright("splash", changed, "kept").out
    kept = cardwright("splash", changed, "kept", "--json").json["kept"]
    assert [one["let_go"] for one in kept] == [True, False]
    refused = cardwright("splash", changed, "restore", "2", "--yes")
    assert refused.code == 1 and "let go" in refused.err
    assert cardwright("splash", changed, "restore", "3", "--yes").code == 0


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (("--let-go", "9", "--yes"), 1, "no change 9"),
        (("--let-go", "x", "--yes"), 2, "no change's number"),
        (("--let-go", "1", "--let-go-before", "2", "--yes"), 2, "give one of"),
        (("--let-go", "1"), 2, "--yes"),
        (("--let-go-before", "1", "--yes"), 1, "no change of this card was chosen"),
        (("--let-go-older", "1", "--yes"), 1, "no change of this card was chosen"),
        (("--let-go-to-free", "much", "--yes"), 2, "is no size"),
        (("--let-go-to-free", "1M", "--let-go-older", "1", "--yes"), 2, "give one of"),
    ],
)
def test_what_cannot_be_meant_is_refused(changed, cardwright, words, code, said):
    """Nothing is removed."""
    answer = cardwright("history", changed, *words)
    assert answer.code == code and said in answer.err
    assert copies(changed) == {1, 2, 3}


def test_an_answer_at_the_terminal_decides(changed, cardwright, monkeypatch):
    """No is no; yes removes."""
    monkeypatch.setattr("sys.stdin.isatty", lambda: True)
    for answer, code, left in (("n", 1, {1, 2, 3}), ("y", 0, {1, 3})):
        monkeypatch.setattr("builtins.input", lambda answer=answer: answer)
        assert cardwright("history", changed, "--let-go", "2").code == code
        assert copies(changed) == left
