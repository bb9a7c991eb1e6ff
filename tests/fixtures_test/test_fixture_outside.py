"""The device readers against judges from outside: sort(1), strcasecmp(3), Pillow's decoders."""

from __future__ import annotations

import ast
import ctypes
import functools
import gzip
import hashlib
import io
import subprocess
import sys

import pytest
from PIL import Image
from practice_cards import FIXTURES, read_device

CARDS = FIXTURES / "cards"


def names(seen, menu_id):
    return [entry["name"] for menu in seen["menus"] if menu["id"] == menu_id for entry in menu["entries"]]


def test_larkspur_sorts_as_sort_does():
    """Byte order: `LC_ALL=C sort` (POSIX sort, C locale)."""
    listed = names(read_device("larkspur", CARDS / "larkspur"), "shelf")
    words = "\n".join(reversed(listed)).encode()
    ended = subprocess.run(["sort"], input=words, env={"LC_ALL": "C"}, capture_output=True, check=True)
    assert ended.stdout.decode().splitlines() == listed


def test_fernway_sorts_as_strcasecmp_does():
    """Letters: strcasecmp of this host's libc, in the POSIX locale that a program starts in."""
    try:
        compare = ctypes.CDLL(None).strcasecmp
    except (OSError, AttributeError):
        pytest.skip("this host's libc has no strcasecmp that ctypes finds")
    by_libc = functools.cmp_to_key(lambda one, other: compare(one.encode(), other.encode()))
    seen = read_device("fernway", CARDS / "fernway")
    for menu in ("rooms", "parlour/Puzzles"):
        listed = names(seen, menu)
        assert sorted(listed, key=by_libc) == listed


def test_larkspur_pixels_are_those_of_pillow():
    """The reader's own decoder of 24-bit bitmaps sees what Pillow's sees."""
    shown = read_device("larkspur", CARDS / "larkspur")["splash"]["start"]
    with Image.open(CARDS / "larkspur/system/greet/hello.bmp") as picture:
        assert picture.size == (shown["width"], shown["height"])
        assert hashlib.sha256(picture.convert("RGB").tobytes()).hexdigest() == shown["sha256"]


def test_fernway_pixels_are_those_of_pillow():
    """The reader's own decoder of packed 5-6-5 sees what Pillow's sees, turned back upright."""
    shown = read_device("fernway", CARDS / "fernway")["splash"]["start"]
    raw = gzip.decompress((CARDS / "fernway/main/hello/first.bmp.gz").read_bytes())
    assert len(raw) == 66 + 480 * 640 * 2
    with Image.open(io.BytesIO(raw)) as stored:
        upright = stored.convert("RGB").transpose(Image.Transpose.ROTATE_270)
    assert upright.size == (shown["width"], shown["height"])
    rgb = upright.tobytes()
    words = b"".join(
        ((r >> 3) << 11 | (g >> 2) << 5 | b >> 3).to_bytes(2, "little")
        for r, g, b in zip(rgb[::3], rgb[1::3], rgb[2::3], strict=True)
    )
    assert hashlib.sha256(words).hexdigest() == shown["sha256"]


def test_orrery_pixels_are_those_of_pillow():
    """The reader takes bytes as B, G, R, A from the top left, as Pillow's raw mode BGRA does."""
    shown = read_device("orrery", CARDS / "orrery")["splash"]["shutdown"]
    raw = (CARDS / "orrery/disk/curtain/fall.bgra").read_bytes()
    picture = Image.frombytes("RGBA", (480, 800), raw, "raw", "BGRA").convert("RGB")
    assert hashlib.sha256(picture.tobytes()).hexdigest() == shown["sha256"]


@pytest.mark.parametrize("reader", sorted((FIXTURES / "readers").glob("*.py")), ids=lambda path: path.stem)
def test_readers_use_the_standard_library_alone(reader):
    """A witness shares no code with what it judges, nor with the other witnesses."""
    tree = ast.parse(reader.read_text())
    names = [alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names]
    names += [node.module or "." for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)]
    assert {name.partition(".")[0] for name in names} <= sys.stdlib_module_names
