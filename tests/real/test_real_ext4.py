"""ext4 on a loop device: modes, owners and links survive a rename and its undo; read-only is refused."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import practice_cards
import pytest
from conftest import need

from workbench.cli.main import main

pytestmark = pytest.mark.real

PROFILE = ("--profile", str(practice_cards.profile_path("larkspur")))


@pytest.fixture
def ext4(tmp_path: Path) -> Iterator[Path]:
    """A mounted ext4 volume of 64 MB."""
    missing = [
        tool
        for tool in ("mkfs.ext4", "mount")
        if not shutil.which(tool, path="/usr/sbin:/usr/bin:/sbin:/bin")
    ]
    if os.geteuid() != 0:
        missing.append("root")
    need(missing, "ext4 on a loop device")
    image, root = tmp_path / "ext4.img", tmp_path / "ext4"
    with image.open("wb") as file:
        file.truncate(64 * 1024 * 1024)
    root.mkdir()
    subprocess.run(["mkfs.ext4", "-q", str(image)], check=True)
    if subprocess.run(["mount", "-o", "loop", str(image), str(root)], capture_output=True).returncode:
        need(["a loop device that mounts"], "ext4")
    yield root
    subprocess.run(["umount", str(root)], check=True)


def _fill(root: Path) -> Path:
    card = root / "card"
    practice_cards.lay_out("larkspur", card)
    script = card / "data/shelf/Boats/begin"
    os.chmod(script, 0o750)
    os.chown(script, 1234, 4321)
    os.symlink("../Boats/begin", card / "data/shelf/Boats 2/also")
    return card


def _metadata(card: Path) -> dict[str, tuple[int, int, int, int]]:
    """Mode, owner, group and modification time of everything but the ledger."""
    return {
        str(path.relative_to(card)): (found.st_mode, found.st_uid, found.st_gid, found.st_mtime_ns)
        for path in card.rglob("*")
        if ".cardwright" not in path.parts and not path.is_dir()
        for found in [path.lstat()]
    }


def test_modes_owners_links_and_times_survive(ext4: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A replaced script keeps mode and owner; the times of files that were not written stay."""
    card = _fill(ext4)
    before, described = practice_cards.tree_bytes(card), _metadata(card)
    capsys.readouterr()
    assert main(["rename", str(card), "Boats", "Sails & more", "--dry-run", "--json", *PROFILE]) == 0
    steps = json.loads(capsys.readouterr().out)["plan"]["steps"]
    written = {f"{step['volume']}/{step['path']}" for step in steps if step["step"] == "write"}
    assert main(["rename", str(card), "Boats", "Sails & more", "--yes", *PROFILE]) == 0
    found = (card / "data/shelf/Sails & more/begin").stat()
    assert (found.st_mode & 0o7777, found.st_uid, found.st_gid) == (0o750, 1234, 4321)
    assert (card / "data/shelf/Boats 2/also").is_symlink()
    assert main(["undo", str(card), "--yes", *PROFILE]) == 0
    assert practice_cards.tree_bytes(card) == before
    after = _metadata(card)
    assert {name: found[:3] for name, found in after.items()} == {
        name: found[:3] for name, found in described.items()
    }
    assert {name for name in after if after[name] != described[name]} <= written


def test_a_read_only_mount_is_refused_before_the_first_byte(
    ext4: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit 1 with a sentence; nothing was written."""
    card = _fill(ext4)
    before = practice_cards.tree_bytes(card)
    subprocess.run(["mount", "-o", "remount,ro", str(ext4)], check=True)
    assert main(["rename", str(card), "Boats", "Sails", "--yes", *PROFILE]) == 1
    assert "read-only" in capsys.readouterr().err
    assert practice_cards.tree_bytes(card) == before
    assert not (card / "data/.cardwright").exists()
