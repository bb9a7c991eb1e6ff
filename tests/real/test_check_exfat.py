"""The check on a real exFAT (exfat-fuse, loop device): its health, mending, fsck and the way back."""

from __future__ import annotations

import contextlib
import io
import json
import os
import shutil
from pathlib import Path
from typing import Any

import practice_cards
import pytest
from exfat_mount import ExfatMount

from workbench.card.mounts import read_mounts
from workbench.cli.main import main

pytestmark = pytest.mark.real


def run(codes: set[int], *words: str) -> dict[str, Any]:
    printed = io.StringIO()
    with contextlib.redirect_stdout(printed):
        code = main([*words, "--json"])
    assert code in codes, printed.getvalue()
    answer: dict[str, Any] = json.loads(printed.getvalue())
    return answer


def contents(folder: Path) -> dict[str, bytes | None]:
    return {
        name: content if kind == "file" else None
        for name, (kind, _, content) in practice_cards.tree_bytes(folder).items()
    }


def break_it(root: Path) -> None:
    """A dead line of each sort, a gap between frames, and what a desktop leaves."""
    seen = root / "almanac/seen.toml"
    seen.write_bytes(
        seen.read_bytes()
        .replace(b"held = [", b"held = [ 'Nobody',")
        .replace(b"[places]", b"[places]\nNobody = 3")
    )
    (root / "motion/comet/plate002.png").unlink()
    (root / ".DS_Store").write_bytes(b"x" * 5000)
    (root / "sky/._Moon").write_bytes(b"\x00\x05\x16\x07\x00\x02\x00\x00")
    (root / "FOUND.000").mkdir()
    (root / "FOUND.000/FILE0000.CHK").write_bytes(b"lost")


def test_mending_on_exfat(exfat: ExfatMount) -> None:
    """Everything that can be is mended in one change; fsck finds nothing; an undo brings every byte back."""
    source = practice_cards.FIXTURES / "cards/orrery/disk"
    shutil.copytree(source, exfat.root, copy_function=shutil.copyfile, dirs_exist_ok=True)
    break_it(exfat.root)
    exfat.remount()
    before = contents(exfat.root)
    card, profile = str(exfat.root), ("--profile", str(practice_cards.profile_path("orrery")))
    found = run({4}, "check", card, *profile)["findings"]
    assert {"dangling-reference", "frame-gap", "host-litter", "lost-pieces"} <= {one["rule"] for one in found}
    mended = run({0}, "check", card, "--mend", "--yes", *profile)
    assert mended["change"] == 1 and mended["left"] == []
    exfat.check_clean()
    left = run({0, 4}, "check", card, *profile)["findings"]
    assert not [one for one in left if one["mendable"]]
    assert (exfat.root / "FOUND.000/FILE0000.CHK").read_bytes() == b"lost"
    run({0}, "undo", card, "--yes", *profile)
    exfat.check_clean()
    assert contents(exfat.root) == before


def test_the_health_of_an_exfat(exfat: ExfatMount) -> None:
    """exfat-fuse marks what it has mounted for writing: no false alarm, and the reason is said."""
    mount = next(one for one in read_mounts() if one.point == os.path.realpath(exfat.root))
    source = practice_cards.FIXTURES / "cards/orrery/disk"
    shutil.copytree(source, exfat.root, copy_function=shutil.copyfile, dirs_exist_ok=True)
    exfat.remount()
    profile = ("--profile", str(practice_cards.profile_path("orrery")))
    (volume,) = run({0}, "check", str(exfat.root), *profile)["volumes"]
    assert (volume["cleanness"], volume["larger_than_device"]) == ("unknown", False), (volume, mount)
    assert "mounted for writing" in volume["because"]


def test_a_whole_card_is_as_large_as_its_device(exfat: ExfatMount) -> None:
    """What the first sector states, what sysfs states, and what we make of both."""
    from workbench.card.discovery import open_card
    from workbench.card.health import read_health

    card = open_card(str(exfat.root), [])
    (whole,) = read_health(card).volumes
    assert whole.device_bytes is not None and not whole.is_larger_than_device
    assert whole.stated_bytes == whole.device_bytes
    size = Path("/sys/class/block") / Path(exfat.device).name / "size"
    assert int(size.read_text()) * 512 == whole.device_bytes
