"""The sweep finds the same files in a child, without one, and where the child fails."""

from __future__ import annotations

import os

import pytest
from small_card import MENU, SmallCard

from workbench.card import sweep as sweeping
from workbench.card.contents import Contents
from workbench.card.sweep import Sweep

NAMES = ["a", "b", "c é", "d\udcff"]
WANTED = [("data", "x/a"), ("data", "x/d\udcff"), ("data", "big")]


@pytest.fixture
def contents(tmp_path):
    card = SmallCard(tmp_path, {"data:x/a": "it holds Boats", "data:x/b": "no", "data:x/c é": b"\0"}, MENU)
    with open(os.fsencode(tmp_path / "data/x") + b"/d\xff", "wb") as file:
        file.write(b"Boats")
    (tmp_path / "data/x/link").symlink_to("a")
    card.write("data:big", b"x" * (8 * 1024 * 1024 + 1))
    return Contents(card.tree)


FOLDERS = [("data", "x", [*NAMES, "link", "gone"]), ("data", "", ["big"])]


def _sweep(contents):
    with Sweep(contents, FOLDERS, (b"Boats",)) as sweep:
        return sweep.finish()


def test_without_a_child(contents, monkeypatch):
    """Few files, other threads or one processor: it is done here."""
    monkeypatch.setattr(sweeping, "_can_fork", lambda: False)
    assert _sweep(contents) == WANTED


def test_in_a_child(contents, monkeypatch):
    """The child answers the same, names that are no text included, and is gone afterwards."""
    monkeypatch.setattr(sweeping, "_can_fork", lambda: True)
    monkeypatch.setattr(sweeping, "_WORTH_A_CHILD", 1)
    started = []
    fork = os.fork
    monkeypatch.setattr(os, "fork", lambda: started.append(fork()) or started[-1])
    assert _sweep(contents) == WANTED
    assert len(started) == 1
    with pytest.raises(ChildProcessError):
        os.waitpid(started[0], 0)


def test_a_child_that_fails_is_made_good(contents, monkeypatch):
    """Where the child comes to a bad end, the files are looked through here."""
    monkeypatch.setattr(sweeping, "_can_fork", lambda: True)
    monkeypatch.setattr(sweeping, "_WORTH_A_CHILD", 1)
    monkeypatch.setattr(Sweep, "_answer", lambda *_: os._exit(1))
    assert _sweep(contents) == WANTED


def test_leaving_early_leaves_no_child(contents, monkeypatch):
    """An error in the meantime takes the child along."""
    monkeypatch.setattr(sweeping, "_can_fork", lambda: True)
    monkeypatch.setattr(sweeping, "_WORTH_A_CHILD", 1)
    with pytest.raises(RuntimeError), Sweep(contents, FOLDERS, (b"Boats",)):
        raise RuntimeError
    with pytest.raises(ChildProcessError):
        os.waitpid(-1, os.WNOHANG)
