"""One finished frame's pixels, as rows for numpy and as an image for Pillow; each is made when asked for."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy
    from PIL.Image import Image

    Rows = numpy.ndarray[Any, numpy.dtype[numpy.uint8]]


class Pixels:
    """RGB, eight bits a channel. Equal frames share one."""

    def __init__(self, size: tuple[int, int], image: Image | None = None, rows: Rows | None = None) -> None:
        self.size = size
        self._image = image
        self._rows = rows

    @classmethod
    def of_image(cls, image: Image) -> Pixels:
        return cls(image.size, image=image.convert("RGB"))

    @classmethod
    def of_rows(cls, rows: Rows) -> Pixels:
        """From rows of red, green, blue side by side: height × (3 × width)."""
        return cls((rows.shape[1] // 3, rows.shape[0]), rows=rows)

    @property
    def image(self) -> Image:
        if self._image is None:
            import numpy
            from PIL import Image as images

            assert self._rows is not None
            whole = numpy.ascontiguousarray(self._rows)
            self._image = images.frombuffer("RGB", self.size, whole, "raw", "RGB", 0, 1)
        return self._image

    @property
    def rows(self) -> Rows:
        if self._rows is None:
            import numpy

            assert self._image is not None
            flat = numpy.frombuffer(self._image.tobytes(), numpy.uint8)
            self._rows = flat.reshape(self.size[1], 3 * self.size[0])
        return self._rows

    @property
    def held(self) -> Any:
        """Whichever is there already: the image, or else the rows as an array of height × width × 3."""
        if self._image is not None:
            return self._image
        assert self._rows is not None
        return self._rows.reshape(self.size[1], self.size[0], 3)
