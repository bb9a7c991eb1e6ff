"""Pillow's tag tables wait until they are asked for, and then are whole."""

from __future__ import annotations

import subprocess
import sys

CODE = """
import sys
from workbench.media.tag_tables import postpone_tag_tables
postpone_tag_tables()
from PIL import Image, ImageFile
table = sys.modules["PIL.ExifTags"]
is_waiting = type(table).__name__ == "_LazyModule"
exif = Image.Exif()
exif[0x0112] = 6
photo = Image.new("RGB", (2, 1))
photo.save("photo.jpg", exif=exif)
with Image.open("photo.jpg") as read:
    print(is_waiting, read.getexif()[0x0112], table.TAGS[0x0112], type(table).__name__)
postpone_tag_tables()
"""


def test_they_wait_and_then_are_whole(tmp_path):
    """A fresh interpreter: first unread, then a photo's turn is written and read back by them."""
    words = [sys.executable, "-W", "error", "-c", f"import sys; sys.path[:] = {sys.path!r}\n{CODE}"]
    done = subprocess.run(words, capture_output=True, text=True, check=True, cwd=tmp_path)
    assert done.stdout.split() == ["True", "6", "Orientation", "module"]
