"""A picture of the user's, decoded where it can do no harm."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from workbench.errors import MediaError
from workbench.media.picture import decode_bytes, read_picture_file
from workbench.media.plugins import is_common
from workbench.media.png import decode_plain_png

if TYPE_CHECKING:
    from PIL.Image import Image


def read_plain(path: Path) -> Image | None:
    """The picture where it is a plain PNG, which is decoded alike for every size that it is needed for.

    None for any other, and for whatever is wrong with it: `read_safely` knows what.
    """
    try:
        return decode_plain_png(read_picture_file(path))
    except MediaError:
        return None


def read_safely(path: Path, wanted: tuple[int, int]) -> Image:
    """A picture of the user's. The common formats are decoded here, the rest in a child with limits.

    Raises:
        MediaError: no such file, no picture, torn, a bomb.
    """
    raw = read_picture_file(path)
    if is_common(raw):
        return decode_bytes(raw, path, wanted)
    from workbench.host.worker import WorkerError, run_limited
    from workbench.media.handover import take_over

    words = [str(path.absolute()), str(wanted[0]), str(wanted[1])]
    try:
        return take_over(run_limited("workbench.media.handover", words), path)
    except WorkerError as error:
        raise MediaError(
            f"{path} is not used: {error.message}. Nothing was changed; choose another picture",
            path=str(path),
        ) from error
