"""The registry of actions: one source for bindings, help, palette, footer and README."""

from __future__ import annotations

import pytest
from textual.binding import Binding

from workbench.tui.actions import (
    ACTIONS,
    FOOTER_LIMIT,
    PAGES,
    WORDS,
    Action,
    actions_at,
    bindings_for,
    find_clashes,
    footer_actions,
)
from workbench.tui.app import Workbench, make_page
from workbench.tui.dialog import Dialog
from workbench.tui.help_dialog import help_lines
from workbench.tui.key_footer import footer_width
from workbench.tui.line_list import LineList
from workbench.tui.menu_page import MenuPage
from workbench.tui.palette import palette_name

NEVER_ALONE = {f"ctrl+{key}" for key in "hijm[szqab"} | {"ctrl+enter", "f1", "f11"}
"""Keys that terminals disguise or take, or that a multiplexer takes (common practice, no source)."""


def test_no_key_means_two_things_at_once() -> None:
    """Places that are reachable together share no key, and no id is given twice."""
    assert find_clashes() == []


def test_a_clash_is_found() -> None:
    """The check can fail: a list key that a page takes too, and an id given twice."""
    double = Action("x.y", "j", "x", "X", "menu")
    assert find_clashes([*ACTIONS, double]) == ["j means both list.down and x.y"]
    assert "the id x.y is given twice" in find_clashes([double, double])


@pytest.mark.parametrize("action", ACTIONS, ids=lambda action: action.id)
def test_every_action_is_complete(action: Action) -> None:
    """Each has a key that is safe alone, a word and a sentence; a footer word is short."""
    assert action.word and action.sentence and action.where in WORDS
    assert set(action.key_list) - NEVER_ALONE
    assert not any(key.startswith(("alt+", "ctrl+shift+")) for key in action.key_list)
    assert len(action.word) <= 16


@pytest.mark.parametrize("action", ACTIONS, ids=lambda action: action.id)
def test_every_action_has_key_help_and_palette_entry(action: Action) -> None:
    """Each is bound with its id and tooltip, stands in the help, and has a name in the palette."""
    bindings = [one for one in bindings_for(action.where) if isinstance(one, Binding)]
    bound = [one for one in bindings if one.id == action.id]
    assert bound and bound[0].tooltip == action.sentence
    said = " ".join(line.text for line in help_lines("menu", 200))
    assert action.sentence in said and action.shown_keys in said
    assert action.word in palette_name(action)


@pytest.mark.parametrize("page", PAGES)
def test_every_action_of_a_page_can_be_carried_out(page: str) -> None:
    """Each binding leads to a method that is there."""
    target = MenuPage() if page == "menu" else make_page(page)
    for action in actions_at(page):  # type: ignore[arg-type]
        assert hasattr(target, f"action_{action.action.partition('(')[0]}"), action.id


def test_every_general_action_can_be_carried_out() -> None:
    """The same for what is reachable everywhere, in lists and in questions."""
    for where, owner in (("app", Workbench), ("list", LineList), ("dialog", Dialog)):
        for action in actions_at(where):  # type: ignore[arg-type]
            assert hasattr(owner, f"action_{action.action.partition('(')[0]}"), action.id


@pytest.mark.parametrize("page", PAGES)
def test_the_footer_is_whole_at_80_columns(page: str) -> None:
    """At most six keys, help first, none cut off."""
    keys = [(action, can) for can in (False, True) for action in footer_actions(page)]  # type: ignore[arg-type]
    half = len(keys) // 2
    assert half <= FOOTER_LIMIT and keys[0][0].id == "app.help"
    assert max(footer_width(keys[:half]), footer_width(keys[half:])) <= 80
