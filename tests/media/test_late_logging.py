"""Pillow's readers are imported without `logging`, and log all the same where they have something to say."""

from __future__ import annotations

import subprocess
import sys

CODE = """
import sys
from workbench.media.late_logging import load_image_files
load_image_files()
print({"logging", "threading"} & {*sys.modules})
from PIL import Image, ImageFile
print(len(Image.new("RGB", (2, 1)).tobytes()), {"logging"} & {*sys.modules})
ImageFile.logger.warning("%s is said", "this")
import logging
assert ImageFile.logger.name == "PIL.ImageFile" and logging.getLogger("x").name == "x"
load_image_files()
"""


def test_it_comes_when_something_is_logged():
    """A fresh interpreter: pixels are written without it, then a message finds its way."""
    words = [sys.executable, "-c", f"import sys; sys.path[:] = {sys.path!r}\n{CODE}"]
    done = subprocess.run(words, capture_output=True, text=True, check=True)
    assert done.stdout.splitlines() == ["set()", "6 set()"]
    assert done.stderr == "this is said\n"
