"""Packs and backups on real exFAT and kernel vfat: every name and byte comes back, fsck is clean."""

from __future__ import annotations

import contextlib
import io
import json
import shutil
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import practice_cards
import pytest
from exfat_mount import ExfatMount
from fat_machine import FatMachine

from workbench.cli.main import main

pytestmark = pytest.mark.real

PROFILE = ("--profile", str(practice_cards.profile_path("larkspur")))


def make_pack(folder: Path) -> Path:
    """An entry with a script, an icon and a text, and another splash."""
    card = practice_cards.FIXTURES / "cards" / "larkspur"
    splash = bytearray((card / "system/greet/hello.bmp").read_bytes())
    splash[-3:] = b"\1\2\3"
    with zipfile.ZipFile(folder / "Foghorn.zip", "w", zipfile.ZIP_DEFLATED) as made:
        made.writestr("shelf/Foghörn/begin", b"#!/bin/sh\nexec leaf tale.txt\n")
        made.writestr("shelf/Foghörn/tale.txt", b"Woo.\n")
        made.writestr("house/small/Foghörn_s.png", (card / "data/house/small/Boats_s.png").read_bytes())
        made.writestr("greet/hello.bmp", bytes(splash))
        made.writestr("shelf/Foghörn/.DS_Store", b"x")
    return folder / "Foghorn.zip"


def run(*words: object) -> dict[str, Any]:
    printed = io.StringIO()
    with contextlib.redirect_stdout(printed):
        code = main([*map(str, words), "--json"])
    assert code == 0, printed.getvalue()
    return json.loads(printed.getvalue())


def contents(folder: Path) -> dict[str, bytes | None]:
    """Without modes, which exFAT does not have."""
    return {
        name: content if kind == "file" else None
        for name, (kind, _, content) in practice_cards.tree_bytes(folder).items()
    }


def test_packs_and_backups_on_exfat(exfat: ExfatMount, tmp_path: Path) -> None:
    """Add, take out, spoil, restore, undo; a pack with names that exFAT takes for one is refused."""
    for role in practice_cards.roles("larkspur"):
        source = practice_cards.FIXTURES / "cards" / "larkspur" / role
        shutil.copytree(source, exfat.root / role, copy_function=shutil.copyfile)
    exfat.remount()
    card, before = exfat.root, contents(exfat.root)
    pack, backup = make_pack(tmp_path), tmp_path / "b.zip"
    taken = run("backup", card, "take", backup, "--all", *PROFILE)
    assert taken["files"] == sum(content is not None for content in before.values())
    run("pack", card, "add", pack, "--yes", *PROFILE)
    exfat.remount()
    seen = practice_cards.read_device("larkspur", card)
    assert "Foghörn" in [entry["name"] for entry in seen["menus"][0]["entries"]]
    assert not [one for one in seen["problems"] if "Fogh" in one]
    for pair in (("shelf/Foghörn/TALE.txt",), ("shelf/Fogho\u0308rn/x",), ("shelf/N/é", "shelf/N/e\u0301")):
        with zipfile.ZipFile(tmp_path / "bad.zip", "w") as made:
            for name in pair:
                made.writestr(name, b"x")
        now = contents(card)
        assert main(["pack", str(card), "add", str(tmp_path / "bad.zip"), "--yes", *PROFILE]) == 1
        assert contents(card) == now
    run("pack", card, "remove", "Foghorn", "--yes", *PROFILE)
    exfat.remount()
    assert contents(card) == before
    (card / "data/house/register.json").write_bytes(b"spoiled")
    (card / "data/keep/Boats.save").unlink()
    shutil.rmtree(card / "data/shelf/Moss")
    run("backup", card, "restore", backup, "--yes", *PROFILE)
    exfat.remount()
    assert contents(card) == before
    exfat.check_clean()


def test_packs_and_backups_on_vfat(fat: Callable[..., FatMachine], tmp_path: Path) -> None:
    """The same under the kernel's own vfat, with a program in a machine of its own."""
    machine = fat(practice_cards.roles("larkspur"))
    machine.fill(practice_cards.FIXTURES / "cards" / "larkspur")
    before = machine.read_tree()
    pack = str(make_pack(tmp_path))
    lines = [
        machine.command("backup", "/mnt/card", "take", "/mnt/b.zip", "--all", *PROFILE),
        machine.command("backup", "/mnt/card", "verify", "/mnt/b.zip"),
        machine.command("pack", "/mnt/card", "add", pack, "--yes", *PROFILE),
        machine.command("pack", "/mnt/card", "list", "--json", *PROFILE),
        machine.command("pack", "/mnt/card", "remove", "Foghorn", "--yes", *PROFILE),
        "echo spoiled > /mnt/card/data/house/register.json; rm -r /mnt/card/data/shelf/Moss",
        machine.command("backup", "/mnt/card", "restore", "/mnt/b.zip", "--yes", *PROFILE),
    ]
    printed = machine.run(lines)
    exits = [line for line in printed.replace("\r", "").splitlines() if line.startswith("EXIT ")]
    assert exits == ["EXIT 0"] * 6, printed
    assert '"name": "Foghorn"' in printed
    assert machine.read_tree() == before
    machine.check_clean()
