"""What is read without argparse is what argparse reads; all else is left to it."""

from __future__ import annotations

from importlib import import_module

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbench.cli.main import COMMANDS
from workbench.cli.parser import HelpFormatter, Parser
from workbench.cli.plain_words import read_plain
from workbench.errors import UsageError

WORDS = st.sampled_from(
    [
        *("--dry-run", "--yes", "--json", "--no-mentions", "--profile", "--volume", "--moment", "--fit"),
        *("--", "-", "-x", "--dry", "--profile=p", "--after", "--first", "--device", "--partial", "-h"),
        *("CARD", "Boats", "Sails", "a b", "", "-5", "5", "show", "put", "get", "cover", "start", "x=y"),
        *("--order-from", "--number", "--last", "--before", "--strip", "--order", "--style", "letters"),
    ]
)


@pytest.mark.parametrize("name", [*COMMANDS, "workbench"])
@settings(max_examples=150, deadline=None)
@given(words=st.lists(WORDS, max_size=7))
def test_as_argparse_reads_them(name, words):
    """The same values by the same names, and never an answer where argparse refuses."""
    command = import_module(f"workbench.cli.{name}")
    plain = read_plain(command.add_arguments, words)
    if plain is None:
        return
    parser = Parser(prog="x", formatter_class=HelpFormatter)
    command.add_arguments(parser)
    try:
        wanted = vars(parser.parse_words(words))
    except (UsageError, SystemExit):
        pytest.fail(f"argparse refuses {words}")
    assert vars(plain) == wanted


@pytest.mark.parametrize(
    ("words", "is_plain"),
    [
        (["CARD", "Boats", "Sails", "--dry-run"], True),
        (["--profile", "p", "--volume", "a=b", "--volume", "c=d", "CARD", "Boats", "Sails"], True),
        (["CARD", "Boats"], False),
        (["CARD", "Boats", "--", "-x"], False),
        (["CARD", "Boats", "Sails", "--dry"], False),
        (["CARD", "Boats", "Sails", "--profile"], False),
    ],
)
def test_what_is_plain(words, is_plain):
    """Whole words and whole options; mistakes and abbreviations are not."""
    command = import_module("workbench.cli.rename")
    assert (read_plain(command.add_arguments, words) is not None) is is_plain


@pytest.mark.parametrize(
    ("words", "is_plain"),
    [
        (["CARD", "--order-from", "-x"], False),
        (["CARD", "--order-from", "f", "--dry-run"], True),
        (["CARD", "--number"], True),
        (["CARD"], False),
        (["CARD", "--number", "--order-from", "f"], False),
        (["CARD", "--number", "--number"], True),
        (["CARD", "--first", "Boats"], False),
        (["--last", "Boats", "--number", "CARD"], False),
    ],
)
def test_one_wish_of_several_is_plain(words, is_plain):
    """Exactly one where one has to be given; options that take many words are left to argparse."""
    command = import_module("workbench.cli.arrange")
    assert (read_plain(command.add_arguments, words) is not None) is is_plain
