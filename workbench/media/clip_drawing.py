"""Pillow's road from a decoded picture to a frame: crop, fit, background, turn."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

from workbench.media.clip_geometry import place
from workbench.media.fitting import flatten, turn_clockwise
from workbench.media.frame_pixels import Pixels
from workbench.media.render_order import RenderOrder

if TYPE_CHECKING:
    from PIL.Image import Image


def draw_picture(image: Image, order: RenderOrder) -> Pixels:
    """A decoded picture (RGB or RGBA) as a frame of that order."""
    from PIL import Image as images

    placement = place(image.size, Fraction(1), order)
    x, y, width, height = placement.cut
    cut = image if (width, height) == image.size else image.crop((x, y, x + width, y + height))
    # Scaled while what is see-through still is, so that edges mix with the background and not with black.
    if cut.size != placement.scaled:
        cut = cut.resize(placement.scaled, images.Resampling.LANCZOS, reducing_gap=3.0)
    solid = flatten(cut, order.background)
    if not placement.fills:
        framed = images.new("RGB", placement.panel, order.background)
        framed.paste(solid, placement.at)
        solid = framed
    return Pixels.of_image(turn_clockwise(solid, order.rotate))
