"""A module that is imported ahead is there when the work is done, and nothing else has changed."""

from __future__ import annotations

import sys

import pytest

from workbench.cli.ahead import importing_ahead


@pytest.fixture
def ours(tmp_path, monkeypatch):
    """A folder for modules of this test, gone from the interpreter after it."""
    monkeypatch.syspath_prepend(str(tmp_path))
    yield tmp_path
    sys.modules.pop("imported_ahead", None)


def test_it_is_there_at_the_end(ours):
    """The thread has ended with the context, however long the import takes."""
    (ours / "imported_ahead.py").write_text("total = sum(range(200000))\nvalue = 3\n")
    with importing_ahead("imported_ahead"):
        pass
    assert sys.modules["imported_ahead"].value == 3


def test_its_errors_are_for_whoever_needs_it(ours):
    """A module that cannot be imported is no matter until somebody imports it."""
    (ours / "imported_ahead.py").write_text("raise RuntimeError('broken')\n")
    with importing_ahead("imported_ahead"):
        pass
    with pytest.raises(RuntimeError, match="broken"):
        __import__("imported_ahead")


def test_an_error_of_the_work_waits_for_it(ours):
    """Nothing is left behind where the work itself fails."""
    (ours / "imported_ahead.py").write_text("value = 4\n")
    with pytest.raises(KeyError), importing_ahead("imported_ahead"):
        raise KeyError
    assert sys.modules["imported_ahead"].value == 4
