"""Finished renders are found again, and go when they take too much."""

from __future__ import annotations

import json
import os

import pytest

from workbench.host import render_folders
from workbench.host.folders import cache_folder
from workbench.host.render_folders import find_folder, keep_folder, making_folder, sweep_folders
from workbench.host.renders import waiting_folder


def make(key, size=10, age=0):
    with making_folder() as folder:
        (folder / "0.png").write_bytes(bytes(size))
        kept = keep_folder(folder, key)
    os.utime(kept, (os.stat(kept).st_mtime - age,) * 2)
    return kept


def test_a_finished_render_is_found_again():
    """By its key, with its files."""
    assert find_folder("ab") is None
    assert make("ab") == find_folder("ab")
    assert (find_folder("ab") / "0.png").stat().st_size == 10


def test_an_unfinished_one_leaves_nothing():
    """Whatever stopped it."""
    with pytest.raises(ZeroDivisionError), making_folder() as folder:
        (folder / "0.png").write_bytes(b"x")
        raise ZeroDivisionError
    assert list((cache_folder() / "animations").iterdir()) == []


def test_the_oldest_go_first(monkeypatch):
    """Only as many as the room asks for; the newest stays."""
    monkeypatch.setattr(render_folders, "KEPT_BYTES", 25)
    for age, key in enumerate(["new", "mid", "old", "oldest"]):
        make(key, age=age * 100)
    sweep_folders()
    assert {key for key in ("new", "mid", "old", "oldest") if find_folder(key)} == {"new", "mid"}


def test_what_a_waiting_plan_needs_stays(monkeypatch):
    """Whatever its age and size."""
    monkeypatch.setattr(render_folders, "KEPT_BYTES", 0)
    make("needed", age=10**9)
    waiting_folder().mkdir(parents=True)
    (waiting_folder() / "x.json").write_text(json.dumps({"renders": ["0.png", "needed"]}))
    make("other")
    sweep_folders()
    assert find_folder("needed") and not find_folder("other")
