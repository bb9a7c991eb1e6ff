"""Any picture to a given size and turn: contain, cover, stretch, centre, on a background."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, get_args

from workbench.media.colours import Colour

if TYPE_CHECKING:
    from PIL.Image import Image

Fit = Literal["contain", "cover", "stretch", "centre"]
FITS: tuple[str, ...] = get_args(Fit)

_REDUCING_GAP = 3.0
"""Pillow's own figure for a shrink in two steps that cannot be told from one."""


def fit_picture(
    image: Image, width: int, height: int, fit: Fit = "contain", background: Colour = (0, 0, 0)
) -> Image:
    """The picture as RGB of exactly `width` × `height`, what is see-through filled with the background.

    contain: all of it, bars where the shape differs. cover: no bars, the overhang cut off evenly.
    stretch: the shape gives way. centre: not scaled, cut or framed.
    """
    solid = flatten(image, background)
    if solid.size == (width, height):
        return solid
    if fit == "stretch":
        return _scale(solid, (width, height))
    if fit == "cover":
        return _scale(solid, (width, height), _middle(solid.size, (width, height)))
    placed = _scale(solid, contained(solid.size, (width, height))) if fit == "contain" else solid
    return _frame(placed, (width, height), background)


def fit_clear(image: Image, width: int, height: int, fit: Fit = "contain") -> Image:
    """As `fit_picture`, as RGBA with nothing behind it: bars and what is see-through stay clear."""
    from PIL import Image as images

    clear = image.convert("RGBA")
    if clear.size == (width, height):
        return clear
    if fit == "stretch":
        return _scale(clear, (width, height))
    if fit == "cover":
        return _scale(clear, (width, height), _middle(clear.size, (width, height)))
    placed = _scale(clear, contained(clear.size, (width, height))) if fit == "contain" else clear
    framed = images.new("RGBA", (width, height), (0, 0, 0, 0))
    framed.paste(placed, ((width - placed.width) // 2, (height - placed.height) // 2))
    return framed


def flatten(image: Image, background: Colour = (0, 0, 0)) -> Image:
    """RGB, with what is see-through mixed with the background."""
    from PIL import Image as images

    if image.mode != "RGBA":
        return image.convert("RGB")
    ground = images.new("RGBA", image.size, (*background, 255))
    return images.alpha_composite(ground, image).convert("RGB")


def contained(size: tuple[int, int], room: tuple[int, int]) -> tuple[int, int]:
    """The largest size of the same shape within the room, at least one pixel each way."""
    (width, height), (wide, high) = size, room
    if width * high > height * wide:
        return wide, max(1, round(height * wide / width))
    return max(1, round(width * high / height)), high


def turn_clockwise(image: Image, degrees: int) -> Image:
    """A quarter, half or three-quarter turn without loss; 0 is the picture itself."""
    from PIL.Image import Transpose

    # Pillow counts turns the other way round.
    turns = {90: Transpose.ROTATE_270, 180: Transpose.ROTATE_180, 270: Transpose.ROTATE_90}
    return image.transpose(turns[degrees % 360]) if degrees % 360 else image


def turned_size(size: tuple[int, int], degrees: int) -> tuple[int, int]:
    """The size after that turn."""
    return size[::-1] if degrees % 180 else size


def _scale(
    image: Image, size: tuple[int, int], box: tuple[float, float, float, float] | None = None
) -> Image:
    from PIL.Image import Resampling

    return image.resize(size, Resampling.LANCZOS, box, _REDUCING_GAP)


def _middle(size: tuple[int, int], shape: tuple[int, int]) -> tuple[float, float, float, float]:
    """The largest middle part of that shape."""
    (width, height), (wide, high) = size, shape
    scale = min(width / wide, height / high)
    left, top = (width - wide * scale) / 2, (height - high * scale) / 2
    return max(0.0, left), max(0.0, top), min(width, left + wide * scale), min(height, top + high * scale)


def _frame(image: Image, size: tuple[int, int], background: Colour) -> Image:
    from PIL import Image as images

    framed = images.new("RGB", size, background)
    framed.paste(image, ((size[0] - image.width) // 2, (size[1] - image.height) // 2))
    return framed
