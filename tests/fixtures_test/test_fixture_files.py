"""The practice cards as files: reproducible, legal on FAT, small, and none of it changed by tests."""

from __future__ import annotations

import os
import subprocess
import sys
import unicodedata
from pathlib import Path

import pytest
from PIL import Image
from practice_cards import DEVICES, FIXTURES, tree_bytes

ILLEGAL = set('"*/:<>?\\|') | {chr(code) for code in range(32)}
"""exFAT specification, section 7.7.3, table 35; FAT long names share it."""


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("made")
    subprocess.run([sys.executable, str(FIXTURES / "make_fixtures.py"), str(folder)], check=True, timeout=120)
    return folder


@pytest.mark.parametrize("part", ["cards", "clips", "pictures"])
def test_generator_makes_the_committed_files(part, made):
    """Names, modes and bytes are those of the generator (pixels, where another zlib packs differently)."""
    committed, again = tree_bytes(FIXTURES / part), tree_bytes(made / part)
    assert {name: kept[:1] for name, kept in again.items()} == {
        name: kept[:1] for name, kept in committed.items()
    }
    for name, (kind, mode, content) in again.items():
        assert kind == "folder" or mode & 0o100 == committed[name][1] & 0o100, name
        if content != committed[name][2]:
            assert name.lower().endswith((".gif", ".png", ".jpg", ".gz")), name
            if not name.endswith(".gz"):
                with Image.open(made / part / name) as one, Image.open(FIXTURES / part / name) as other:
                    assert one.tobytes() == other.tobytes(), name


def test_names_are_legal_and_composed():
    """Every name can live on FAT and exFAT, and no two of a folder are equal there."""
    for here, folders, files in os.walk(FIXTURES / "cards"):
        names = folders + files
        for name in names:
            assert not ILLEGAL & set(name) and name == name.strip() and not name.endswith("."), name
            assert unicodedata.is_normalized("NFC", name), name
            assert len(name.encode("utf-16-le")) // 2 <= 64, name
        assert len({name.upper() for name in names}) == len(names), here


def test_cards_are_small():
    """All three together stay under 8 MB."""
    assert sum(len(content) for _, _, content in tree_bytes(FIXTURES / "cards").values()) < 8_000_000


def test_cards_differ_in_their_conventions():
    """No file or folder stands at the same path on two devices, so no code can lean on one of them."""
    paths = [
        {name.partition("/")[2] for name in tree_bytes(FIXTURES / "cards" / device)} - {""}
        for device in DEVICES
    ]
    assert not paths[0] & paths[1] and not paths[1] & paths[2] and not paths[0] & paths[2]
