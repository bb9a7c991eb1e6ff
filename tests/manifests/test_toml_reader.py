"""What is read here is what the standard library reads, and nothing is taken for TOML that it refuses."""

from __future__ import annotations

import tomllib

import practice_cards
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from workbench.card.needle import Needle
from workbench.manifests.document import anything
from workbench.manifests.plain_data import is_same
from workbench.manifests.selector import Selector
from workbench.manifests.toml_document import TomlDocument
from workbench.manifests.toml_reader import read_plain, read_toml, read_toml_places

PIECES = st.sampled_from(
    [
        *"[]{}=.,#\"'\\-_+ \t\n",
        "\r\n",
        "\r",
        "[[",
        "]]",
        '""',
        '"""',
        "a",
        "b",
        "a.b",
        "é",
        " = ",
        "1",
        "0",
        "01",
        "1.5",
        "-2",
        "true",
        "false",
        "inf",
        "2020-01-02",
        "0x1f",
        "1_0",
        '"x y"',
        "'x\\y'",
        '"\\u00e9"',
        "\n[a]\n",
        "\n[[a]]\n",
        "\n[a.b]\n",
        "\n[[a.b]]\n",
        "\na = 1\n",
        "\nb = [1, 'x', ]\n",
        "\nc = { d = 1, e = [] }\n",
        "\n# note\n",
        "\x00",
        "\x7f",
    ]
)
REFUSED = [
    "[a]\n[a]",
    "[[a]]\n[a]",
    "[a]\n[[a]]",
    "[a.b]\n[[a]]",
    "a = 1\n[a]",
    "a = 1\n[a.b]",
    "a = {}\n[a.b]",
    "a = []\n[[a]]",
    "[a]\nb = 1\n[a.b]",
    "[a.b]\n[a]\nb = 1",
    "a = 1\na = 2",
    "a = { b = 1, b = 2 }",
    "a = { b = 1, }",
    "a = { b = 1\n}",
    "a = 01",
    "a = 1 b = 2",
    "[[a] ]",
    "[a\n]",
    "a = ",
    "= 1",
    "a = 'x\ny'",
]
PLAIN = [
    "a = \"\"\"\n\n'x'\n\"\"\" # y\nb = ['''\\''']",
    "[a.b]\nc = 1\n[a]\nd = 2",
    "[[a]]\n[a.b]\nc=1\n[[a]]\n[a.b]\nc=2",
    "'x y' = [\n1, # one\n2,\n]\n",
]


def _theirs(text: str) -> object:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        return str(error)


@settings(max_examples=600, deadline=None)
@given(st.lists(PIECES, max_size=14).map("".join))
@example("a=''''''")
@example('a=""\nb=""""""')
@example('a="""\n"x"\n"""\nb=\'\'\'\n\ny\'\'\'')
@example('a="""x""""')
@example('a="""x\\\n y"""')
def test_never_more_than_toml(text):
    """Where it is plain to us it is TOML, with the same data of the same kinds."""
    ours = read_plain(text)
    assert ours is None or is_same(ours, _theirs(text))


@pytest.mark.parametrize("text", REFUSED)
def test_faults_are_left_to_the_library(text):
    """What TOML forbids is not plain, and the error is the library's."""
    assert read_plain(text) is None
    with pytest.raises(tomllib.TOMLDecodeError):
        read_toml(text)


@pytest.mark.parametrize("text", PLAIN)
def test_plain_files(text):
    """Tables in any order, arrays of tables and lists over several lines are plain."""
    assert read_plain(text) == tomllib.loads(text)


@pytest.mark.parametrize(
    "file", sorted(practice_cards.FIXTURES.glob("profiles/*.toml")), ids=lambda one: one.stem
)
def test_profiles_are_plain(file):
    """The profiles that come along are read without the library."""
    text = file.read_text(encoding="utf-8")
    assert read_plain(text) == tomllib.loads(text)


@pytest.mark.parametrize("form", ["{} = 1\n", "[{}]\n", "x = {{{} = 1}}\n", "[[{}]]\n"])
def test_dotted_keys_of_a_hundred_thousand_parts_are_refused(form):
    """tomllib would take their square in memory (a loop of tuples of all lengths); 500 parts are read."""
    with pytest.raises(RecursionError):
        read_toml(form.format(".".join(["a"] * 100_000)))
    assert read_toml(form.format(".".join(["a"] * 400)))
    assert read_toml('x = "{}"\n'.format("." * 5000)) == {"x": "." * 5000}


@settings(max_examples=600, deadline=None)
@given(st.lists(PIECES, max_size=14).map("".join))
@example("[[a]]\n[[a.b]]\nc = 1\n[[a.b]]\n[a.b.d]\n'x y' = \"1\" # e\n[[a]]\n[[a.b]]\nc=''")
def test_places_are_those_of_a_scan(text):
    """Keys and texts stand where the scanner of the whole layout finds them, in the same order."""
    read = read_toml_places(text) if _is_toml(text) else None
    if read is None or read.places is None or not text.isascii():
        return
    quick = TomlDocument(text.encode(), "", read)
    whole = TomlDocument(text.encode(), "", read._replace(places=None))
    assert list(quick.find(None)) == list(whole.find(None))
    for at in map(Selector.parse, ("/{row}", "/a/{row}/b", "/a/{entry}", "/{a}/{b}/{b}", "/a/{n}/b/{m}/c")):
        assert list(quick.find(at)) == list(whole.find(at))
    for wanted in (anything, Needle("x", "fat"), lambda found: "b" in found):
        assert list(quick.find_matching(None, wanted)) == list(whole.find_matching(None, wanted))
    quick.check_editable()
    whole.check_editable()


def _is_toml(text: str) -> bool:
    return not isinstance(_theirs(text), str)


@pytest.mark.parametrize(
    "text", ["a = 1\nb = ['x']\n", " a = 'x'\n", "a = 'x'\r\n", "a = 1_0\n", 'a = "\\u00e9"\n']
)
def test_places_that_were_not_all_seen_are_not_told(text):
    """What is not read line by line, or where characters were taken out before, is left to the scanner."""
    assert read_toml_places(text).places is None
