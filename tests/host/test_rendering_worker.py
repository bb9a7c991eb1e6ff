"""A child process is listened to, stopped when asked, and gone however it ends."""

from __future__ import annotations

import os

import pytest

from workbench.host.rendering import StoppedError, run_told
from workbench.host.worker import WorkerError

SAYS = """
import json, sys
for done in (1, 2):
    print(json.dumps({"done": done, "total": 2}), flush=True)
print("noise of a library")
print(json.dumps({"report": sys.argv[1:]}))
"""
WAITS = """
import json, os, pathlib, sys, threading
pathlib.Path(sys.argv[1]).write_text(str(os.getpid()))
print(json.dumps({"done": 1, "total": 9}), flush=True)
threading.Event().wait()
"""
DIES = "import os, signal; os.kill(os.getpid(), signal.SIGSEGV)"
EATS = "x = bytearray(6 << 30)"
SPINS = "while True: pass"


@pytest.fixture
def module(tmp_path, monkeypatch):
    """`module(text)`: the name of a module that the child can import."""
    monkeypatch.syspath_prepend(str(tmp_path))

    def write(text: str) -> str:
        (tmp_path / "child_under_test.py").write_text(text)
        return "child_under_test"

    return write


def test_it_is_listened_to(module):
    """Progress in order, noise passed over, the last object is the answer."""
    told = []
    answer = run_told(module(SAYS), ["a b", "ü"], progress=lambda done, total: told.append((done, total)))
    assert told == [(1, 2), (2, 2)]
    assert answer == {"report": ["a b", "ü"]}


def test_stopping_ends_the_process(module, tmp_path):
    """Asked after its first word; no process is left."""
    told = []
    with pytest.raises(StoppedError):
        run_told(
            module(WAITS),
            [str(tmp_path / "pid")],
            progress=lambda done, _total: told.append(done),
            cancelled=lambda: bool(told),
        )
    with pytest.raises(ProcessLookupError):
        os.kill(int((tmp_path / "pid").read_text()), 0)


def test_one_that_says_nothing_is_stopped(module, tmp_path):
    """A child that hangs is stuck after the silence that is allowed."""
    with pytest.raises(WorkerError, match="nothing was heard of it"):
        run_told(module(WAITS), [str(tmp_path / "pid")], silence=0.3)


@pytest.mark.parametrize(
    ("text", "limits"), [(DIES, {}), (EATS, {"memory": 1 << 30}), (SPINS, {"seconds": 1})]
)
def test_one_that_dies_is_a_sentence(text, limits, module):
    """A crash, too much memory, too much processor time: the caller lives on and says so."""
    with pytest.raises(WorkerError, match="made its reader fail"):
        run_told(module(text), [], **limits)


def test_an_error_of_the_listener_ends_the_child(module, tmp_path):
    """What `progress` raises comes through, and the child does not stay behind."""

    def fail(_done, _total):
        raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        run_told(module(WAITS), [str(tmp_path / "pid")], progress=fail)
    with pytest.raises(ProcessLookupError):
        os.kill(int((tmp_path / "pid").read_text()), 0)
