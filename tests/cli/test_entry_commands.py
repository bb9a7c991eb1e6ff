"""`label`, `icon` and `entry`: shapes, exit codes, words, and that a dry run writes nothing."""

from __future__ import annotations

import pytest
from PIL import Image


@pytest.fixture
def card(practice_card):
    return practice_card("larkspur")


@pytest.fixture
def picture(tmp_path):
    Image.new("RGB", (90, 90), (200, 0, 0)).save(tmp_path / "in.png")
    return tmp_path / "in.png"


WRITING = [
    ("label", "Moss", 'Mossy "thing"'),
    ("icon", "Moss", "put", "PICTURE"),
    ("entry", "add", "Ferns"),
    ("entry", "copy", "Moss", "Ferns"),
    ("entry", "hide", "Moss"),
    ("entry", "remove", "Moss"),
]


def words_for(words, card, picture):
    return [words[0], card, *(picture if word == "PICTURE" else word for word in words[1:])]


@pytest.mark.parametrize("words", WRITING, ids=lambda words: "-".join(words[:3]))
def test_dry_run_then_yes_then_undo(words, card, picture, cardwright, tree_bytes):
    """The dry run prints the plan and writes nothing; `--yes` does that plan; undo brings all back."""
    before, asked = tree_bytes(card), words_for(words, card, picture)
    dry = cardwright(*asked, "--dry-run", "--json")
    assert (dry.code, dry.json["change"], tree_bytes(card)) == (0, None, before)
    assert dry.json.keys() >= {"plan", "unruled", "conflicts", "change"}
    assert all(step.keys() >= {"step", "volume", "path"} for step in dry.json["plan"]["steps"])
    done = cardwright(*asked, "--yes", "--json")
    assert (done.code, done.json["change"], done.json["plan"]) == (0, 1, dry.json["plan"])
    assert tree_bytes(card) != before
    assert cardwright("undo", card, "--yes").code == 0
    assert tree_bytes(card) == before


@pytest.mark.parametrize("words", WRITING, ids=lambda words: "-".join(words[:3]))
def test_nobody_to_ask(words, card, picture, cardwright, tree_bytes):
    """Without a terminal and without `--yes` or `--dry-run`: exit 2, nothing written."""
    before = tree_bytes(card)
    answer = cardwright(*words_for(words, card, picture), "--json")
    assert (answer.code, answer.json["error"]["kind"]) == (2, "usage")
    assert tree_bytes(card) == before


@pytest.mark.parametrize(("words", "code", "told"), [
    (("label", "Nope", "x"), 1, "there is no entry 'Nope'"),
    (("label", "Moss", ""), 1, "Give a text"),
    (("icon", "Moss", "put"), 2, "needs a picture"),
    (("icon", "Moss", "put", "/nowhere.png"), 1, "could not be read"),
    (("icon", "Moss", "put", "/nowhere.png", "--kind", "poster"), 1, "they have: icon, art"),
    (("icon", "Moss", "show", "--kind", "poster"), 1, "it has: icon, art"),
    (("icon", "Moss", "show", "x.png"), 2, "takes no picture"),
    (("entry", "add"), 2, "entry CARD add NAME"),
    (("entry", "copy", "Moss"), 2, "entry CARD copy ENTRY NEW"),
    (("entry", "hide", "Moss", "x"), 2, "entry CARD hide ENTRY"),
    (("entry", "remove", "Moss", "--like", "Boats"), 2, "--like says nothing to entry remove"),
    (("entry", "add", "a:b"), 1, "Try 'a-b'"),
    (("entry", "add", "Ferns", "--label", " "), 2, "can be seen"),
    (("entry", "add", "moss"), 1, "is the same to the device as 'Moss'"),
    (("entry", "add", "Ferns", "--like", "Nope"), 1, "there is no entry 'Nope'"),
    (("entry", "copy", "Moss", "Moss"), 1, "is there already"),
    (("entry", "show", "Moss"), 1, "Nothing is hidden there"),
    (("entry", "hide", "Moss", "--menu", "x"), 1, "there is no menu 'x'"),
])  # fmt: skip
def test_refusals(words, code, told, card, cardwright, tree_bytes):
    """Each refusal has its exit code, its words, its shape, and leaves the card as it was."""
    before = tree_bytes(card)
    answer = cardwright(words[0], card, *words[1:], "--yes", "--json")
    assert answer.code == code
    assert told in answer.json["error"]["message"]
    assert told in answer.err
    assert tree_bytes(card) == before


def test_a_label_is_told(card, cardwright):
    """Without a text: what the device shows now, and whether it is apart from the name."""
    answer = cardwright("label", card, "Boats 2", "--json")
    assert (
        answer.json.items()
        >= {"name": "Boats 2", "label": "Boats, the Second Part", "apart": True, "set": True}.items()
    )
    assert "data:house/register.json" in cardwright("label", card, "Boats 2").out


def test_icon_show(card, cardwright):
    """The facts of each picture, as JSON and, where no terminal is, as lines without a drawing."""
    answer = cardwright("icon", card, "Moss", "show", "--json")
    keys = {"kind", "volume", "path", "missing", "size", "format", "alpha", "wanted", "sentence"}
    assert [one["kind"] for one in answer.json["pictures"]] == ["icon", "art"]
    assert all(one.keys() >= keys for one in answer.json["pictures"])
    lines = cardwright("icon", card, "Moss", "show").out
    assert "64×64 PNG" in lines and "\x1b" not in lines and "▀" not in lines


def test_icon_is_drawn_on_a_terminal(card, cardwright, monkeypatch):
    """On a terminal half blocks are drawn, in 256 colours unless the terminal says that it has more."""
    monkeypatch.setattr("sys.stdout.isatty", lambda: True, raising=False)
    monkeypatch.delenv("COLORTERM", raising=False)
    plain = cardwright("icon", card, "Moss", "show", "--kind", "icon").out
    assert "▀" in plain and "\x1b[38;5;" in plain and ";2;" not in plain
    monkeypatch.setenv("COLORTERM", "truecolor")
    assert "\x1b[38;2;" in cardwright("icon", card, "Moss", "show", "--kind", "icon").out


def test_hidden_ones_are_listed(card, cardwright, tree_bytes):
    """`entry show` without a name lists what is hidden; with one, it comes back as it was."""
    before = tree_bytes(card)
    assert cardwright("entry", card, "show").out == "Nothing is hidden.\n"
    cardwright("entry", card, "hide", "Moss", "--yes")
    hidden = cardwright("entry", card, "show", "--json").json["hidden"]
    assert hidden == [{"menu": "shelf", "name": ".Moss", "shown_name": "Moss"}]
    assert cardwright("entry", card, "show", "moss", "--yes").code == 0
    assert tree_bytes(card) == before


def test_a_menu_has_to_be_said(practice_card, cardwright):
    """A card of several menus: `add` asks which, by `--menu` or `MENU:NAME`; both do the same."""
    card = practice_card("fernway")
    asked = cardwright("entry", card, "add", "New.tune", "--dry-run", "--json")
    assert asked.code == 2 and "parlour/Tunes" in asked.json["error"]["message"]
    by_option = cardwright("entry", card, "add", "New.tune", "--menu", "parlour/Tunes", "--dry-run", "--json")
    by_name = cardwright("entry", card, "add", "parlour/Tunes:New.tune", "--dry-run", "--json")
    assert by_option.json == by_name.json
    assert by_name.json["plan"]["steps"][0]["path"] == "parlour/Tunes/New.tune"


def test_a_broken_manifest_is_offered_a_mend(card, cardwright, tree_bytes):
    """A register with a comma missing stands in the way: exit 1, and the command that mends it."""
    register = card / "data/house/register.json"
    register.write_bytes(register.read_bytes().replace(b'"edition": 3,', b'"edition": 3', 1))
    before = tree_bytes(card)
    for words in (("label", "Moss", "x"), ("entry", "copy", "Moss", "Ferns"), ("entry", "remove", "Moss")):
        answer = cardwright(words[0], card, *words[1:], "--yes", "--json")
        assert answer.code == 1
        assert "manifest" in answer.json["error"]["message"] and "mend" in answer.json["error"]["message"]
        assert answer.json["conflicts"][0]["mendable"]
    assert tree_bytes(card) == before


def test_names_from_a_card_are_shown_not_obeyed(card, cardwright):
    """A label with an escape in it is printed as a mark."""
    cardwright("label", card, "Moss", "a\x1b[31mb", "--yes")
    assert "\x1b" not in cardwright("label", card, "Moss").out
