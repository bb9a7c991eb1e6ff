"""The look at raw bytes before parsing: it may say yes too often, never no where a name is."""

from __future__ import annotations

import json
import random
import unicodedata
from urllib.parse import quote

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbench.card.needle import Needle

NAMES = st.text(
    st.characters(blacklist_categories=["Cs", "Cc", "Cn"], blacklist_characters="/"), min_size=1, max_size=8
)
SEEDS = st.integers(0, 2**32)


def _case(text: str, picks: random.Random) -> str:
    return "".join(
        char.swapcase() if picks.random() < 0.3 and len(char.swapcase()) == 1 and _folds(char) else char
        for char in text
    )


def _folds(char: str) -> bool:
    """Whether both cases are one letter to FAT, which up-cases single characters up to U+FFFF."""
    return char <= "\uffff" and char.swapcase().upper() == char.upper() and len(char.upper()) == 1


def _form(text: str, picks: random.Random) -> str:
    return unicodedata.normalize(picks.choice(["NFC", "NFD"]), text)


def _in_json(text: str, picks: random.Random) -> bytes:
    pieces = [json.dumps(char, ensure_ascii=picks.random() < 0.5)[1:-1] for char in text]
    units = [
        "".join(f"\\u{unit.hex()}" for unit in _units(char)) if picks.random() < 0.3 else piece
        for char, piece in zip(text, pieces, strict=True)
    ]
    return "".join(units).encode()


def _units(char: str) -> list[bytes]:
    raw = char.encode("utf-16-be")
    return [raw[n : n + 2] for n in range(0, len(raw), 2)]


def _in_xml(text: str, picks: random.Random) -> bytes:
    plain = {"&": "&amp;", "<": "&lt;", '"': "&quot;"}
    return "".join(
        picks.choice([f"&#{ord(char)};", f"&#x{ord(char):X};", plain.get(char, char)]) for char in text
    ).encode()


def _in_address(text: str, picks: random.Random) -> bytes:
    return "".join(quote(char, safe="") if picks.random() < 0.5 else char for char in text).encode()


def _in_shell(text: str, picks: random.Random) -> bytes:
    def one(char: str) -> str:
        if char == "'":
            return picks.choice(['"\'"', "\\'"])
        return picks.choice(
            [f"'{char}'", f"\\{char}"] if not char.isalnum() else [f"'{char}'", char, f"{char}''"]
        )

    return "".join(map(one, text)).encode()


WAYS = {"json": _in_json, "toml": _in_json, "xml": _in_xml, "lines": _in_address, "shell": _in_shell}


@pytest.mark.parametrize("format", WAYS)
@settings(deadline=None)
@given(NAMES, SEEDS)
def test_never_no_where_the_name_is(format, name, seed):
    """Any case, any form, any encoding of the format: the name is seen."""
    picks = random.Random(seed)
    raw = b"some " + WAYS[format](_case(_form(name, picks), picks), picks) + b" text"
    assert Needle(name, "fat").could_name(raw, format)


@pytest.mark.parametrize("format", WAYS)
@settings(deadline=None)
@given(NAMES, SEEDS)
def test_never_no_where_case_counts(format, name, seed):
    """On a device that minds case, the exact name in any encoding is seen."""
    raw = b"some " + WAYS[format](name, random.Random(seed)) + b" text"
    assert Needle(name, "exact").could_name(raw, format)


@settings(deadline=None)
@given(NAMES, NAMES, NAMES, SEEDS)
def test_texts_never_no(before, name, after, seed):
    """A decoded text that holds the name is seen."""
    picks = random.Random(seed)
    assert Needle(name, "fat").could_be_in(f"{before} {_case(name, picks)} {after}")


def test_a_character_that_composing_replaces():
    """A name that its composed form would spell otherwise is seen as it is, encoded too (UAX 15)."""
    name = "\U0002f800x"
    assert unicodedata.normalize("NFC", name) != name
    assert Needle(name, "fat").could_name(json.dumps([name]).encode(), "json")
    assert Needle(name, "fat").could_name(json.dumps(["\u4e3dX"]).encode(), "json")


def test_most_files_are_told_apart():
    """It does say no: a manifest full of other names is not opened."""
    raw = json.dumps([f"shelf/Entry {n}/x" for n in range(500)]).encode()
    assert not Needle("Boats", "fat").could_name(raw, "json")
    assert not Needle("Café", "fat").could_name(raw, "json")
    assert not Needle("Boats", "fat").could_name(b'cd "$STORE/shelf/Kites"; run "${X}" 100%', "shell")


@pytest.mark.parametrize(
    ("script", "wanted"),
    [
        (b'A=/x/Bo\necho "${A}ats/y"', True),
        (b'A=ats\necho "/x/Bo$A"', True),
        (b"A=Bo B=ats; echo /x/$A$B", True),
        (b'A=/x; echo "$A/Kites"', False),
    ],
)
def test_names_that_variables_build(script, wanted):
    """A name in two parts is seen where a variable could join them."""
    assert Needle("Boats", "fat").could_name(script, "shell") is wanted


# Words as Unicode letters and digits bound them; the escapes are those of RFC 8259 and RFC 3986.
WORDS = [
    (b"Boats", 1),
    (b"Boats2 SpeedBoats xBoats Boatsx", 0),
    ("éBoats Boatsé".encode(), 0),
    (b"Boats_s.png /Boats/ (Boats) 'Boats'", 4),
    (b"a\\nBoats", 1),
    (b"a\\\\nBoats", 0),
    (b"%20Boats%20", 1),
    (b"%41Boats", 0),
    (b"boats BOATS", 0),
]


@pytest.mark.parametrize(("raw", "count"), WORDS)
def test_words(raw, count):
    """A mention is a word of its own, spelled exactly so."""
    assert len(list(Needle("Boats", "fat").find_words(raw, "json"))) == count


@pytest.mark.parametrize("name", ["Boats 2", "Bo'ats", "Bööts"])
def test_quoted_texts_are_held_possible_only_where_the_name_is(name: str) -> None:
    """A quote somewhere in a text is no reason to look closer; one within the name is."""
    needle = Needle(name, "fat")
    quoted = f"play \"{name[:3]}\"'{name[3:].upper()}'" if "'" not in name else f'play "{name}"'
    assert needle.could_be_in(quoted)
    assert needle.could_be_in(f"play /a/{name.replace(' ', chr(92) + ' ')} now")
    assert needle.could_be_in(f'"other"\nplay "{name}"\n"more"')
    assert not needle.could_be_in('play "something" \'else\' a\\ b "Böats"')


PARTS = st.sampled_from([*"Boat'\"\\ %é\n", "Boats", "BOATS", "bo'ats", "aa", "a'a", "ı", "ß", "\udc80"])


@settings(max_examples=300, deadline=None)
@given(st.sampled_from(["Boats", "aa", "Bo'ats", "'a", "is", "é"]), st.lists(PARTS, max_size=8).map("".join))
def test_places_miss_nothing(name, text):
    """Whatever part of a text could name it holds one of the places.

    A quote that the name starts with may be cut off in front: such a part cannot name it, though it looks so.
    """
    needle = Needle(name, "fat")
    places = needle.places(text)
    cut = int(name[0] == "'")
    for start in range(len(text)) if places is not None else ():
        for end in range(start + 1, len(text) + 1):
            part = text[start:end]
            if needle.could_be_in(part) and "ß" not in part:  # Python's upper case alone makes SS of it
                assert any(start - cut <= place < end for place in places), (part, places)
