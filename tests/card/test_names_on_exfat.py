"""Folding of names against the up-case table that a formatting program writes onto exFAT."""

from __future__ import annotations

import shutil
import struct
import subprocess
from pathlib import Path

import pytest

from workbench.card.names import fold_name

MKFS = shutil.which("mkfs.exfat", path="/usr/sbin:/usr/bin:/sbin:/bin")


def read_upcase_table(image: bytes) -> dict[int, int]:
    """The table of a fresh exFAT volume, unpacked (exFAT specification 3.1, 6.2 and 7.2.5)."""
    heap, root = struct.unpack_from("<I", image, 88)[0], struct.unpack_from("<I", image, 96)[0]
    sector = 1 << image[108]
    cluster = sector << image[109]

    def start(number: int) -> int:
        return int(heap) * sector + (number - 2) * cluster

    entry = next(at for at in range(start(root), start(root) + cluster, 32) if image[at] == 0x82)
    first, size = (
        struct.unpack_from("<I", image, entry + 20)[0],
        struct.unpack_from("<Q", image, entry + 24)[0],
    )
    units = struct.unpack_from(f"<{size // 2}H", image, start(first))
    table, code, at = {}, 0, 0
    while at < len(units):
        if units[at] == 0xFFFF and at + 1 < len(units):  # a run that maps to itself
            code, at = code + units[at + 1], at + 2
        else:
            table[code], code, at = units[at], code + 1, at + 1
    return table


@pytest.mark.skipif(MKFS is None, reason="mkfs.exfat is not installed")
def test_names_that_exfat_takes_for_one_fold_alike(tmp_path: Path) -> None:
    """Every pair of characters that the volume's own table makes equal is equal to us too."""
    image = tmp_path / "card.img"
    with image.open("wb") as file:
        file.truncate(8 << 20)
    subprocess.run([str(MKFS), str(image)], check=True, capture_output=True)
    table = read_upcase_table(image.read_bytes())
    assert len(table) > 2000
    apart = [
        chr(code)
        for code, upper in table.items()
        if not 0xD800 <= code < 0xE000 and fold_name(chr(code), "fat") != fold_name(chr(upper), "fat")
    ]
    assert apart == []
