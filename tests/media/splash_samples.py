"""Pictures and kinds for the tests of this folder."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from workbench.media.kind import SplashKind
from workbench.media.kind_reader import kind_from_hint

BMP_LAYOUTS: tuple[dict[str, Any], ...] = tuple(
    {"container": "bmp", "bits": bits, **({"masks": masks} if masks else {}), "header": header, "rows": rows}
    for bits, masks in (
        (8, ""),
        (16, ""),
        (16, "565"),
        (16, "555"),
        (24, ""),
        (32, ""),
        (32, "888"),
        (32, "8888"),
    )
    for header in (40, 108, 124)
    for rows in ("bottom-up", "top-down")
    if not (masks == "8888" and header == 40)
)
RAW_LAYOUTS: tuple[dict[str, Any], ...] = (
    {"container": "raw", "bits": 16},
    {"container": "raw", "bits": 16, "masks": "555"},
    {"container": "raw", "bits": 24},
    {"container": "raw", "bits": 32},
)


def layout_name(layout: dict[str, Any]) -> str:
    return "-".join(str(value) for value in layout.values())


def kind(layout: dict[str, Any], width: int, height: int, **more: Any) -> SplashKind:
    return kind_from_hint({**layout, "width": width, "height": height, **more})


def ramp(width: int, height: int) -> Image.Image:
    """Every pixel another colour, in all three channels."""
    pixels = bytes(
        value
        for y in range(height)
        for x in range(width)
        for value in ((x * 7 + y) % 256, (x + y * 5) % 256, (x * 3 + y * 11) % 256)
    )
    return Image.frombytes("RGB", (width, height), pixels)


def photo(width: int, height: int) -> Image.Image:
    """Something with soft and hard parts, the same each time."""
    bands = [
        Image.linear_gradient("L").resize((width, height)),
        Image.radial_gradient("L").resize((width, height)),
        Image.linear_gradient("L").rotate(90).resize((width, height)),
    ]
    return Image.merge("RGB", bands)


def run(command: str, *words: str, given: bytes | None = None) -> bytes:
    """Another program's answer on standard output, or a skip that names it."""
    found = shutil.which(command)
    if found is None:
        pytest.skip(f"{command} is not installed")
    return subprocess.run([found, *words], input=given, capture_output=True, check=True, timeout=60).stdout


def magick_pixels(path: Path, kind_of_file: str = "bmp") -> bytes:
    """The file's pixels as ImageMagick reads them: R, G, B of 8 bits, rows from the top."""
    for command in ("convert-im6.q16", "magick", "convert"):
        if shutil.which(command):
            return run(command, f"{kind_of_file}:{path}", "-alpha", "off", "-depth", "8", "rgb:-")
    pytest.skip("ImageMagick is not installed")


def netpbm_pixels(path: Path) -> bytes:
    """The BMP's pixels as netpbm reads them: R, G, B of 8 bits, rows from the top."""
    answer = run("bmptopnm", str(path))
    if not answer.startswith(b"P6"):
        answer = run("ppmtoppm", given=answer)
    return answer.split(b"\n", 3)[3]
