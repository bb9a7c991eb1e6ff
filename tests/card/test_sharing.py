"""Work that two processes share comes out as if one had done it, in order, whatever becomes of the other."""

from __future__ import annotations

import os
import threading

import pytest
from small_card import MENU, SmallCard, rule

from workbench.card import part_search, sharing
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
    """Two do it, each some of it, and nothing twice: neither goes on until the other has begun."""
    here, ours, theirs, met = os.getpid(), os.pipe(), os.pipe(), []

    def work(number):
        if not met:
            mine, other = (ours, theirs) if os.getpid() == here else (theirs, ours)
            os.write(mine[1], b".")
            met.append(os.read(other[0], 1))
        return os.getpid(), number

    done = share(range(300), work)
    assert [number for _, number in done] == [*range(300)]
    assert len({worker for worker, _ in done}) == 2
    for end in (*ours, *theirs):
        os.close(end)
    with pytest.raises(ChildProcessError):
        os.waitpid(-1, os.WNOHANG)


@usefixtures
@pytest.mark.parametrize("way", ["ends", "fails", "tells what nobody can read"])
def test_what_a_child_leaves_undone_is_done_here(way):
    """A child that is killed, stumbles or has no plain values to tell."""
    here, (asked, into) = os.getpid(), os.pipe()

    def work(number):
        if os.getpid() == here:
            if not waited:
                waited.append(os.read(asked, 1))
        else:
            os.write(into, b".")
            if way == "ends":
                os._exit(0)
            if way == "fails":
                raise RuntimeError
            return object()
        return number

    waited = []
    assert share(range(100), work) == [*range(100)]
    for end in (asked, into):
        os.close(end)


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


@pytest.mark.parametrize("way", ["two", "killed", "raises", "no process to be had", "some are left"])
def test_a_plan_is_the_same(way, tmp_path, monkeypatch):
    """Writes, refusals and mentions of a rename, each in its place, whatever becomes of the other process."""
    files = {f"data:lists/{number:03d}.txt": f"Boats\nKites {number}\n" for number in range(90)}
    files |= {f"data:more/{number}.json": '{"a": "Boats", "Boats": 1}' for number in range(9)}
    files["data:more/4.json"] = '{"Boats": 1, "Sails": 2}'
    files["data:more/5.json"] = '{"Boats": 1, "Boats": 2}'
    files["data:more/6.json"] = '{"Boats": '
    files["data:lists/007.txt"] = "Boats\nto the Boats\n"
    files["data:lists/070.txt"] = "Boats\nto the Boats \n"
    files["data:lists/080.txt"] = b"\0" * (9 * 1024 * 1024)
    rules = rule("data:lists/*.txt", "lines") + rule("data:more/*.json", "json", "", "/{entry}")
    card = SmallCard(tmp_path, {"data:shelf/Boats/": "", **files}, MENU + rules)

    def plan():
        tree = card.tree
        menu, entry = locate_entry(tree, card.profile, "Boats")
        return plan_rename(tree, card.profile, menu, entry, "Sails")

    monkeypatch.setattr(sharing, "can_fork", lambda: False)
    alone = plan()
    monkeypatch.setattr(sharing, "can_fork", lambda: True)
    if way == "no process to be had":
        monkeypatch.setattr(os, "fork", _no_fork)
    if way in ("killed", "raises"):
        here, plain = os.getpid(), part_search.Gathering.take_ruled
        monkeypatch.setattr(
            part_search.Gathering,
            "take_ruled",
            lambda *args, **words: plain(*args, **words) if os.getpid() == here else _end(way),
        )
    if way == "some are left":
        every = part_search.PartSearch._do
        monkeypatch.setattr(
            part_search.PartSearch,
            "_do",
            lambda self, ruled: None if ruled.at.path[-5] in "38." else every(self, ruled),
        )
    assert plan() == alone
    refused = ["more/6.json", "more/5.json", "more/4.json"]
    assert len(alone.steps) == 89 + 6 + 1 and [one.at.path for one in alone.conflicts] == refused
    mentioned = [f"more/{number}.json" for number in (0, 1, 2, 3, 7, 8)]
    assert [one.at.path for one in alone.unruled] == ["lists/007.txt", "lists/070.txt", *mentioned]


def _no_fork():
    raise OSError


def _end(way):
    if way == "killed":
        os.kill(os.getpid(), 9)
    raise KeyError(way)


def test_beside_other_threads_nothing_forks(monkeypatch):
    """As in the workbench: a thread may hold what a child would need."""
    end, forks = threading.Event(), []
    monkeypatch.setattr(os, "fork", lambda: forks.append(1) or 1)
    other = threading.Thread(target=end.wait)
    other.start()
    try:
        assert share(range(300), _double) == [*map(_double, range(300))] and not forks
    finally:
        end.set()
        other.join()


def test_a_whole_plan_is_the_same(tmp_path, monkeypatch):
    """As a program would read it: every byte of it, where most files name the entry."""
    files = {f"data:lists/{number:03d}.txt": f"Boats\nKites {number}\n" * 3 for number in range(200)}
    card = SmallCard(tmp_path, {"data:shelf/Boats/": "", **files}, MENU + rule("data:lists/*.txt", "lines"))
    plans = []
    for is_shared in (False, True):
        monkeypatch.setattr(sharing, "can_fork", lambda is_shared=is_shared: is_shared)
        tree = card.tree
        plans.append(plan_rename(tree, card.profile, *locate_entry(tree, card.profile, "Boats"), "Sails"))
    assert repr(plans[0]) == repr(plans[1]) and len(plans[0].steps) == 201
