"""A clip opened for reading, whatever it is: a video, an animated picture, or a folder of numbered pictures.

Every sort tells its facts, when its last picture ends, and its pictures in the order of their times. A
picture costs little until it is drawn: those that no frame shows are never scaled.
"""

from __future__ import annotations

import os
from collections.abc import Generator
from fractions import Fraction
from pathlib import Path
from typing import Protocol

from workbench.errors import MediaError
from workbench.media.clip_facts import ClipFacts
from workbench.media.frame_pixels import Pixels
from workbench.media.render_order import RenderOrder


class Shot(Protocol):
    """One picture of a clip."""

    @property
    def at(self) -> Fraction:
        """Seconds since the clip's first picture."""

    def draw(self) -> Pixels:
        """Cropped, fitted to the panel and turned as the order says."""


class Clip(Protocol):
    """An open source."""

    facts: ClipFacts
    origin: Fraction
    """What the source's own clock says at its first picture, in seconds; sound goes by the same clock."""
    slack: Fraction
    """How far its times may have been rounded up."""

    def find_end(self) -> Fraction:
        """Seconds from the first picture to the end of the last."""

    def count_pictures(self, start: Fraction, stop: Fraction) -> int:
        """How many of its pictures begin between these times."""

    def shots(self, start: Fraction) -> Generator[Shot, None, None]:
        """The pictures in order, from the one shown at `start` or an earlier one; to be closed."""

    def remarks(self) -> tuple[str, ...]:
        """Sentences on what was met while reading, once it was read."""


def open_clip(order: RenderOrder) -> Clip:
    """Open the order's source.

    Raises:
        MediaError: no such file, nothing in it that can be shown, or a package is missing that reads it.
    """
    path = order.source
    try:
        return _open(path, order)
    except MediaError as error:
        if error.path is not None:
            raise
        raise MediaError(
            f"{path} is not used: {error.message}. Nothing was made; choose another clip", path=str(path)
        ) from error


def _open(path: Path, order: RenderOrder) -> Clip:
    from workbench.media.animated_picture import AnimatedPicture, is_picture
    from workbench.media.clip_folder import PictureFolder

    try:
        if path.is_dir():
            return PictureFolder(path, order)
        with open(path, "rb") as file:
            beginning = file.read(64)
            size = os.fstat(file.fileno()).st_size
    except OSError as error:
        raise MediaError(f"it could not be read ({error.strerror or error})") from error
    if not size:
        raise MediaError("the file is empty")
    if is_picture(beginning):
        return AnimatedPicture(path, order)
    from workbench.media.clip_video import VideoClip

    return VideoClip(path, order)
