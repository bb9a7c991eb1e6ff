"""Arithmetic on all cells of a panel at once: by numpy where it is installed, else by Pillow, with equal
results.

A cell is 1/160 of the panel's longer side: on a hand-held screen at reading distance about 0.1 degree, the
size under which WCAG 2.x exempts a fine balanced pattern. Its value is the average of its pixels (the rule
for dithered pictures). A formula is written once, with operators, and works on either kind of operand.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, Protocol

CELLS_ACROSS = 160

Operand = Any
"""A numpy array (one number for each cell), or an operand of Pillow's ImageMath."""
Plane = Any
"""What is kept between two frames: a numpy array, or a Pillow picture."""


class Cells(Protocol):
    """What both kinds of arithmetic offer. Masks hold 0 and 1; counts go up to 255."""

    total: int
    """How many cells the panel has."""

    def reduce(self, frame: Any) -> tuple[Plane, Plane, Plane]:
        """Red, green and blue of every cell, from a frame of the panel's size."""

    def look_up(self, plane: Plane, table: Any) -> Plane: ...

    def make_table(self, values: Sequence[int] | Sequence[float]) -> Any: ...

    def fill(self, value: int | float) -> Plane:
        """A plane of one whole number or float in every cell."""

    def run(self, formula: Callable[..., Sequence[Operand]], *planes: Plane) -> list[Plane]:
        """`formula(ops, *operands)`.

        ops has `max`, `as_float` for masks and whole numbers, and `as_mask`, which every comparison of floats
        has to go through.
        """

    def extremes(self, plane: Plane) -> tuple[float, float]: ...

    def share(self, mask: Plane) -> int:
        """In how many cells the mask is set."""

    def no_counts(self) -> Plane: ...

    def count(self, counts: Plane, mask: Plane, sign: int) -> Plane: ...

    def tally(self, counts: Plane) -> list[int]:
        """How many cells have the count 0, 1, 2 …"""

    def may_be_red(self, red: Plane, green: Plane, blue: Plane) -> bool:
        """False where a quick look tells that no cell is a saturated red."""


def cell_size(width: int, height: int) -> int:
    """Pixels along one side of a cell, 4 on a panel of 640×480."""
    return max(1, round(max(width, height) / CELLS_ACROSS))


def open_cells(width: int, height: int, *, plain: bool = False) -> Cells:
    """Numpy's arithmetic for this panel, or Pillow's where numpy is not installed (or `plain`)."""
    if not plain:
        try:
            from workbench.media.flash_arrays import ArrayCells
        except ImportError:
            pass
        else:
            return ArrayCells(width, height)
    from workbench.media.flash_images import ImageCells

    return ImageCells(width, height)
