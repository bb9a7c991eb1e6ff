"""A really full exFAT card: refused, kept on this computer by --keep-on, undone; letting go frees it."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import practice_cards
import pytest
from exfat_mount import ExfatMount

from workbench.cli.main import main

pytestmark = pytest.mark.real

PROFILE = ("--profile", str(practice_cards.profile_path("larkspur")))


def fill(mount: ExfatMount, leave: int) -> Path:
    """A practice card with so many bytes free."""
    for role in practice_cards.roles("larkspur"):
        shutil.copytree(
            practice_cards.FIXTURES / "cards/larkspur" / role,
            mount.root / role,
            copy_function=shutil.copyfile,
        )
    room = os.statvfs(mount.root)
    size = room.f_bavail * room.f_frsize - leave
    with (mount.root / "filler").open("wb") as filler:
        filler.write((os.urandom(1 << 20) * ((size >> 20) + 1))[:size])
    mount.remount()
    return mount.root


def picture(folder: Path) -> str:
    """One that no compression makes smaller."""
    from PIL import Image

    made = folder / "picture.png"
    Image.frombytes("RGB", (512, 384), os.urandom(512 * 384 * 3)).save(made)
    return str(made)


def contents(root: Path) -> dict[str, bytes | None]:
    return {
        name: content if kind == "file" else None
        for name, (kind, _, content) in practice_cards.tree_bytes(root).items()
    }


def test_a_full_card_keeps_its_copies_on_this_computer(
    exfat: ExfatMount, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Refused without the option; with it put in, and taken back from there, byte for byte; fsck is clean."""
    card = fill(exfat, leave=2_300_000)
    before = contents(card)
    put = ("splash", str(card), "put", picture(tmp_path), "--yes", *PROFILE)
    assert main([*put]) == 1
    assert "--keep-on FOLDER" in capsys.readouterr().err
    on_card = str(card / "data/kept")
    assert main([*put, "--keep-on", on_card]) == 1
    assert "on the card itself" in capsys.readouterr().err and not Path(on_card).exists()
    exfat.remount()
    assert contents(card) == before
    kept = tmp_path / "kept"
    assert main([*put, "--keep-on", str(kept)]) == 0
    assert contents(card) != before and not list(card.glob("*/.cardwright/changes/*/kept.pack"))
    exfat.remount()
    assert main(["undo", str(card), "--yes", "--keep-on", str(kept), *PROFILE]) == 0
    exfat.remount()
    assert contents(card) == before
    exfat.check_clean()


def test_letting_go_makes_room_again(
    exfat: ExfatMount, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The refusal says what letting go would free; afterwards the same command fits, and fsck is clean."""
    card = fill(exfat, leave=6_500_000)
    put = ("splash", str(card), "put", picture(tmp_path), "--yes", *PROFILE)
    count = 0
    while main([*put]) == 0:
        count += 1
        picture(tmp_path)
    said = capsys.readouterr().err
    assert count >= 2 and "Letting go of kept copies of earlier changes would free up to" in said
    free = os.statvfs(card).f_bavail
    assert main(["history", str(card), "--let-go-all-but", "0", "--yes", *PROFILE]) == 0
    assert os.statvfs(card).f_bavail > free
    exfat.remount()
    assert main([*put]) == 0
    assert main(["undo", str(card), "1", "--yes", *PROFILE]) == 1
    assert "its kept copies were let go" in capsys.readouterr().err
    exfat.check_clean()
