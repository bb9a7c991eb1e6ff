"""A decoded picture on its way out of a child process: one line of JSON, then the pixels.

Run as a module it decodes the file that its arguments name and hands over that, or why it could not.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from workbench.errors import MediaError
from workbench.media.limits import check_pixels
from workbench.media.picture import read_picture

if TYPE_CHECKING:
    from PIL.Image import Image


def hand_over(path: Path, wanted: tuple[int, int]) -> bytes:
    """The decoded picture, or the error's sentence, as bytes."""
    try:
        image = read_picture(path, wanted)
    except MediaError as error:
        return json.dumps({"error": error.message}).encode() + b"\n"
    head = {"mode": image.mode, "width": image.width, "height": image.height}
    return json.dumps(head).encode() + b"\n" + image.tobytes()


def take_over(handed: bytes, path: Path) -> Image:
    """The picture that a child handed over.

    Raises:
        MediaError: the child's own, or what it wrote is no picture.
    """
    from PIL import Image as images

    line, _, pixels = handed.partition(b"\n")
    try:
        head = json.loads(line)
        if "error" in head:
            raise MediaError(str(head["error"]), path=str(path))
        mode, width, height = str(head["mode"]), int(head["width"]), int(head["height"])
        check_pixels(str(path), width, height)
        return images.frombytes(mode if mode == "RGBA" else "RGB", (width, height), pixels)
    except (ValueError, TypeError, KeyError) as error:
        raise MediaError(f"{path} is not used: its reader failed on it", path=str(path)) from error


if __name__ == "__main__":
    sys.stdout.buffer.write(hand_over(Path(sys.argv[1]), (int(sys.argv[2]), int(sys.argv[3]))))
