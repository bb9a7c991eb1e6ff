"""A backup of 600 files and 20 MB beside `tar | zstd -1`, each as a whole process, side by side."""

from __future__ import annotations

import os
import random
import shutil
import statistics
import subprocess
import sys
import time
from pathlib import Path

import practice_cards
import pytest

pytestmark = [
    pytest.mark.bench,
    pytest.mark.skipif(not (shutil.which("tar") and shutil.which("zstd")), reason="needs tar and zstd"),
]

ROUNDS = 15
ALLOWED = 1.5


def lay_out(card: Path) -> tuple[int, int]:
    """Larkspur's card with more entries: scripts, icons, art, saved games; most bytes are hard to pack."""
    draw = random.Random(1)
    practice_cards.lay_out("larkspur", card)
    for number in range(160):
        name = f"Tale {number:03}"
        files = {
            f"data/shelf/{name}/begin": b"#!/bin/sh\n" + b"echo one more line of a script\n" * 30,
            f"data/house/small/{name}_s.png": draw.randbytes(6_000),
            f"data/house/wide/{name}.png": draw.randbytes(60_000),
        }
        if number < 120:
            save = b"".join(draw.randbytes(32) + bytes(96) for _ in range(560))
            files[f"data/keep/{name}.save"] = save
        for path, content in files.items():
            (card / path).parent.mkdir(parents=True, exist_ok=True)
            (card / path).write_bytes(content)
    kept = [path for path in card.rglob("*") if path.is_file()]
    return len(kept), sum(path.stat().st_size for path in kept)


def test_a_backup_beside_tar_and_zstd(tmp_path: Path) -> None:
    """Wanted: 1.5 times the wall time; medians of rounds taken in turn, as both share the machine."""
    card = tmp_path / "card"
    files, size = lay_out(card)
    profile = practice_cards.profile_path("larkspur")
    target = tmp_path / "backup.zip"
    ours = [
        *(sys.executable, "-m", "workbench", "backup", str(card), "take", str(target), "--all", "--replace"),
        *("--profile", str(profile)),
    ]
    theirs = ["sh", "-c", f"tar cf - -C {card} . | zstd -1 -q -f -o {tmp_path / 'backup.tar.zst'}"]
    times: dict[str, list[float]] = {"ours": [], "theirs": []}
    for turn in range(ROUNDS + 1):
        for name, words in (("ours", ours), ("theirs", theirs)):
            start = time.perf_counter()
            subprocess.run(words, check=True, capture_output=True, env=os.environ)
            if turn:
                times[name].append(time.perf_counter() - start)
    mine, other = statistics.median(times["ours"]), statistics.median(times["theirs"])
    packed = target.stat().st_size, (tmp_path / "backup.tar.zst").stat().st_size
    print(f"\nbackup of {files} files, {size:,} bytes: {mine * 1000:.0f} ms, packed {packed[0]:,} bytes;")
    print(
        f"tar | zstd -1: {other * 1000:.0f} ms, packed {packed[1]:,} bytes; {mine / other:.2f} times "
        f"(wanted at most {ALLOWED})"
    )
