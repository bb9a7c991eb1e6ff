"""Completion of a path that is being typed."""

from __future__ import annotations

from pathlib import Path

import pytest

from workbench.host.completion import complete_path


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for name in ("harbour.png", "Harvest", ".hidden", "bad\x1bname"):
        (tmp_path / name).mkdir() if name == "Harvest" else (tmp_path / name).touch()
    return tmp_path


@pytest.mark.parametrize(
    ("typed", "completed"),
    [
        ("har", "harbour.png"),
        ("Ha", "Harvest/"),
        (".h", ".hidden"),
        ("bad", None),
        ("zzz", None),
        ("harbour.png", None),
    ],
)
def test_a_path_is_continued_to_the_first_name_that_fits(
    folder: Path, typed: str, completed: str | None
) -> None:
    """Case counts, hidden names only when asked for, control characters never."""
    found = complete_path(f"{folder}/{typed}")
    assert found == (None if completed is None else f"{folder}/{completed}")


def test_nothing_and_a_missing_folder_have_no_completion(tmp_path: Path) -> None:
    """No text, or a folder that is not there: nothing is offered."""
    assert complete_path("") is None
    assert complete_path(f"{tmp_path}/none/x") is None
