"""Text after ` ;` or ` #` in a value: a comment to many readers of INI (common practice, no standard)."""

from __future__ import annotations

import configparser

import pytest
from small_card import MENU, SmallCard, rule

RULES = MENU + rule("data:s.ini", "ini", "{entry}", "/a/room") + rule("data:s.ini", "ini", "{path}", "/a/run")


@pytest.mark.parametrize("new", ["Sails", "É [x] $1", "a;b #c"])
def test_a_comment_after_a_value_stays_and_the_name_is_plain(new, tmp_path):
    """A reader that strips comments finds the new name as it is on the card, without backslashes."""
    files = {
        "data:shelf/Boats/": "",
        "data:s.ini": "[a]\nroom = Boats ; the first\nrun = shelf/Boats/begin # now\n",
    }
    card = SmallCard(tmp_path, files, RULES)
    card.rename("Boats", new)
    text = card.path("data:s.ini").read_text(encoding="utf-8")
    assert text == f"[a]\nroom = {new} ; the first\nrun = shelf/{new}/begin # now\n"
    if " #" not in new:
        reader = configparser.ConfigParser(inline_comment_prefixes=(";", "#"), interpolation=None)
        reader.read_string(text)
        assert dict(reader["a"]) == {"room": new, "run": f"shelf/{new}/begin"}


def test_a_name_that_holds_the_sign_is_read_whole(tmp_path):
    """An entry is called so."""
    card = SmallCard(
        tmp_path, {"data:shelf/A #1/": "", "data:shelf/A/": "", "data:s.ini": "[a]\nroom = A #1\n"}, RULES
    )
    card.rename("A", "B")
    assert card.path("data:s.ini").read_text() == "[a]\nroom = A #1\n"
    card.rename("A #1", "C")
    assert card.path("data:s.ini").read_text() == "[a]\nroom = C\n"


def test_a_key_that_stands_twice_is_renamed_line_by_line(tmp_path):
    """Only the line that names the entry changes, though the key's pointer means the last of them."""
    files = {
        "data:shelf/Boats/": "",
        "data:shelf/Cars/": "",
        "data:s.ini": "[a]\nroom = Boats\nroom = Cars\n",
    }
    card = SmallCard(tmp_path, files, RULES)
    card.rename("Boats", "Sails")
    assert card.path("data:s.ini").read_text() == "[a]\nroom = Sails\nroom = Cars\n"
