"""The host's case rule is probed without writing."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from workbench.card.case_probe import probe_case


def test_a_name_in_another_case_that_is_not_there_tells(tmp_path: Path) -> None:
    """On a file system that tells case apart the swapped name is missing."""
    (tmp_path / "Boats").touch()
    assert probe_case(str(tmp_path), "vfat") == ("exact", True)
    assert os.listdir(tmp_path) == ["Boats"]


def test_a_name_found_under_another_case_tells(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A host that finds the swapped name ignores case."""
    (tmp_path / "Boats").touch()
    monkeypatch.setattr(os.path, "lexists", lambda path: os.path.basename(path).lower() == "boats")
    assert probe_case(str(tmp_path), "ext4") == ("fat", True)


def test_both_spellings_side_by_side_tell(tmp_path: Path) -> None:
    """Two names that differ by case alone cannot be on FAT."""
    (tmp_path / "boats").touch()
    (tmp_path / "BOATS").touch()
    assert probe_case(str(tmp_path), "") == ("exact", True)


def test_a_folder_below_may_tell(tmp_path: Path) -> None:
    """Where the root has only digits, one folder down is looked at."""
    (tmp_path / "2024" / "Boats").mkdir(parents=True)
    assert probe_case(str(tmp_path), "vfat") == ("exact", True)


@pytest.mark.parametrize(
    ("filesystem", "rule"),
    [
        ("vfat", "fat"),
        ("exfat", "fat"),
        ("fuseblk", "fat"),
        ("msdos", "fat"),
        ("ext4", "exact"),
        ("", "exact"),
    ],
)
def test_an_empty_volume_falls_back_on_its_type(tmp_path: Path, filesystem: str, rule: str) -> None:
    """Nothing to ask: the type decides, and it is said that nothing was probed."""
    assert probe_case(str(tmp_path), filesystem) == (rule, False)
