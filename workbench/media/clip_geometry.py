"""Where on the panel which part of a clip's picture goes: crop, square pixels, fit."""

from __future__ import annotations

from fractions import Fraction

from workbench.errors import MediaError
from workbench.media.fitting import contained
from workbench.media.render_order import RenderOrder
from workbench.values import dataclass

Box = tuple[int, int, int, int]
"""x, y, width, height."""


@dataclass(frozen=True, slots=True)
class Placement:
    """What is cut out of the stored picture, to which size it is scaled, and where on the panel it lies."""

    cut: Box
    """In stored pixels, upright."""
    scaled: tuple[int, int]
    at: tuple[int, int]
    panel: tuple[int, int]

    @property
    def fills(self) -> bool:
        """Whether nothing of the background is seen beside it."""
        return self.scaled == self.panel


def shown_size(size: tuple[int, int], aspect: Fraction) -> tuple[int, int]:
    """The size with square pixels: the width gives way, as players do it (common practice, no source)."""
    return max(1, round(size[0] * aspect)), size[1]


def place(size: tuple[int, int], aspect: Fraction, order: RenderOrder) -> Placement:
    """Lay out pictures of that stored size (upright), whose pixels are `aspect` times as wide as high.

    Raises:
        MediaError: the crop lies outside.
    """
    cut = _cut_asked(size, aspect, order.crop)
    if order.fit == "cover":
        cut = _cut_to_shape(cut, aspect, order.panel)
    if order.fit == "contain":
        # Whole numbers in the same proportion, so that the rounding is that of a plain picture.
        shape = (cut[2] * aspect.numerator, cut[3] * aspect.denominator)
        scaled = contained(shape, order.panel)
    else:
        scaled = order.panel
    at = ((order.panel[0] - scaled[0]) // 2, (order.panel[1] - scaled[1]) // 2)
    return Placement(cut, scaled, at, order.panel)


def _cut_asked(size: tuple[int, int], aspect: Fraction, crop: Box | None) -> Box:
    if crop is None:
        return 0, 0, *size
    shown = shown_size(size, aspect)
    x, y, width, height = crop
    if x < 0 or y < 0 or width < 1 or height < 1 or x + width > shown[0] or y + height > shown[1]:
        raise MediaError(
            f"the crop {width}×{height} at {x},{y} does not lie within the clip, which shows "
            f"{shown[0]}×{shown[1]} pixels. Nothing was made; choose a part of it"
        )
    left, right = round(x / aspect), round((x + width) / aspect)
    return left, y, max(1, min(right, size[0]) - left), height


def _cut_to_shape(cut: Box, aspect: Fraction, panel: tuple[int, int]) -> Box:
    x, y, width, height = cut
    shape = Fraction(panel[0], panel[1]) / aspect
    wide, high = min(width, max(1, round(height * shape))), min(height, max(1, round(width / shape)))
    return x + (width - wide) // 2, y + (height - high) // 2, wide, high
