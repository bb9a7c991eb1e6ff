"""Work that two processes share comes out as if one had done it, in order, whatever becomes of the other."""

from __future__ import annotations

import os

import pytest
from small_card import MENU, SmallCard, rule

from workbench.card import sharing
from workbench.card.menu import locate_entry
from workbench.card.sharing import share
from workbench.jobs.rename import plan_rename

usefixtures = pytest.mark.usefixtures("forking")


@pytest.fixture
def forking(monkeypatch):
    """As in a process of its own: the tests' own threads hold nothing that the child would need."""
    monkeypatch.setattr(sharing, "can_fork", lambda: True)


def _double(number):
    return number, f"{number}\udcff" * 2, [number.to_bytes(2, "big")]


@usefixtures
@pytest.mark.parametrize("count", [0, 1, 63, 64, 65, 301])
def test_the_results_are_in_order(count):
    """Few are done here alone, many by two; an odd one too."""
    assert share(range(count), _double) == [*map(_double, range(count))]


@usefixtures
def test_a_second_process_really_works():
    """The later half is done elsewhere."""
    workers = share(range(100), lambda _: os.getpid())
    assert workers[:50] == [os.getpid()] * 50 and os.getpid() not in workers[50:]
    with pytest.raises(ChildProcessError):
        os.waitpid(-1, os.WNOHANG)


@usefixtures
@pytest.mark.parametrize("way", ["ends", "fails", "tells what nobody can read"])
def test_what_a_child_leaves_undone_is_done_here(way):
    """A child that is killed, stumbles or has no plain values to tell."""
    here = os.getpid()

    def work(number):
        if os.getpid() != here and number == 90:
            if way == "ends":
                os._exit(0)
            if way == "fails":
                raise RuntimeError
            return object()
        return number

    assert share(range(100), work) == [*range(100)]


@usefixtures
def test_an_error_leaves_no_child():
    """An error of the work itself is raised here, and the child is gone."""

    def work(number):
        if number == 7:
            raise KeyError(number)
        return number

    with pytest.raises(KeyError):
        share(range(100), work)
    with pytest.raises(ChildProcessError):
        os.waitpid(-1, os.WNOHANG)


def test_a_plan_is_the_same(tmp_path, monkeypatch):
    """Writes and refusals of a rename, each in its place, with one process and with two."""
    files = {f"data:lists/{number:03d}.txt": f"Boats\nKites {number}\n" for number in range(90)}
    files |= {f"data:more/{number}.json": '{"a": "Boats", "Boats": 1}' for number in range(9)}
    files["data:more/4.json"] = '{"Boats": 1, "Sails": 2}'
    rules = rule("data:lists/*.txt", "lines") + rule("data:more/*.json", "json", "", "/{entry}")
    card = SmallCard(tmp_path, {"data:shelf/Boats/": "", **files}, MENU + rules)

    def plan():
        tree = card.tree
        menu, entry = locate_entry(tree, card.profile, "Boats")
        return plan_rename(tree, card.profile, menu, entry, "Sails")

    alone = plan()
    monkeypatch.setattr(sharing, "can_fork", lambda: True)
    assert plan() == alone
    assert len(alone.steps) == 90 + 8 + 1 and [one.at.path for one in alone.conflicts] == ["more/4.json"]
