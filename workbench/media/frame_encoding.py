"""One frame's pixels to the bytes of one file, as the profile asks for it."""

from __future__ import annotations

import io
from typing import Any

from workbench.errors import MediaError
from workbench.media.codec import encode_picture
from workbench.media.frame_palette import encode_indexed
from workbench.media.frame_pixels import Pixels
from workbench.media.frame_png import PngFrames
from workbench.media.kind import SplashKind
from workbench.media.kind_reader import kind_from_hint
from workbench.media.render_order import FrameFormat


class FrameEncoder:
    """Encodes the frames of one animation, all of the same stored size."""

    def __init__(self, form: FrameFormat, size: tuple[int, int]) -> None:
        """Raises:
        MediaError: the format's parts do not go together.
        """
        self._form = form
        self._png = PngFrames()
        self._kind: SplashKind | None = None
        if form.colours is not None and not 2 <= form.colours <= 256:
            raise MediaError(f"{form.colours} colours make no palette; 2 to 256 do. Nothing was made")
        if form.colours is not None and form.container not in ("png", "bmp"):
            raise MediaError(
                f"frames as {form.container} have no palette; PNG and BMP have. Nothing was made"
            )
        if form.container in ("bmp", "raw"):
            self._kind = kind_from_hint(self._hint(size))

    def encode(self, pixels: Pixels) -> bytes:
        """The file's bytes."""
        form = self._form
        if self._kind is not None:
            return encode_picture(pixels.image, self._kind, dither=form.dither)
        if form.container == "jpeg":
            return _encode_jpeg(pixels, form.quality)
        if form.colours is not None:
            return encode_indexed(pixels, form.colours, form.dither)
        return self._png.encode(pixels)

    def _hint(self, size: tuple[int, int]) -> dict[str, Any]:
        form = self._form
        bits = form.bits
        if form.colours is not None:
            bits = next(each for each in (1, 4, 8) if 2**each >= form.colours)
        hint = {
            "container": form.container,
            "width": size[0],
            "height": size[1],
            "bits": bits,
            "masks": form.masks,
            "rows": form.rows,
        }
        return {name: value for name, value in hint.items() if value is not None}


def _encode_jpeg(pixels: Pixels, quality: int) -> bytes:
    """Baseline, which every decoder reads."""
    buffer = io.BytesIO()
    pixels.image.save(buffer, "JPEG", quality=quality)
    return buffer.getvalue()
