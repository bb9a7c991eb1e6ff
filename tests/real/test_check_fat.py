"""Mending on kernel vfat: one change, clean under fsck, and every byte back."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import practice_cards
import pytest
from fat_machine import FatMachine

pytestmark = pytest.mark.real


def test_mending_on_vfat(fat: Callable[..., FatMachine], tmp_path: Path) -> None:
    """Larkspur with dead lines, a gap, a script that a PC saved, and litter: mended, checked, taken back."""
    broken = tmp_path / "broken"
    shutil.copytree(practice_cards.FIXTURES / "cards/larkspur", broken)
    with (broken / "data/house/lately.txt").open("a", encoding="utf-8") as file:
        file.write("\nGone Away\n")
    begin = broken / "data/shelf/Boats/begin"
    begin.write_bytes(begin.read_bytes().replace(b"\n", b"\r\n"))
    (broken / "data/house/motion/river/3.png").unlink()
    (broken / "data/.DS_Store").write_bytes(b"x" * 5000)
    card = fat(practice_cards.roles("larkspur"))
    card.fill(broken)
    before = card.read_tree()
    profile = ("--profile", str(practice_cards.profile_path("larkspur")))
    printed = card.run(
        [
            card.command("check", "/mnt/card", *profile),
            card.command("check", "/mnt/card", "--mend", "--yes", *profile),
            card.command("check", "/mnt/card", *profile),
        ]
    )
    exits = [line for line in printed.replace("\r", "").splitlines() if line.startswith("EXIT ")]
    assert exits == ["EXIT 4", "EXIT 0", "EXIT 0"], printed
    card.check_clean()
    assert card.read_tree() != before
    card.run([card.command("undo", "/mnt/card", "--yes", *profile)])
    assert card.read_tree() == before
    card.check_clean()
