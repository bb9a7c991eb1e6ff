"""Cells by numpy: about half a millisecond for a frame of 640×480."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

from workbench.media.flash_cells import cell_size

_FAINT = 20
"""Stored red under which no cell is bright enough to be a saturated red."""


class ArrayCells:
    """Each plane is one array with a number for every cell, line by line."""

    max = staticmethod(np.maximum)

    def __init__(self, width: int, height: int) -> None:
        self.width, self.height, self.side = width, height, cell_size(width, height)
        self.total = -(-width // self.side) * -(-height // self.side)

    @staticmethod
    def as_float(mask: Any) -> Any:
        return mask.astype(np.float32)

    @staticmethod
    def as_mask(compared: Any) -> Any:
        return compared

    def reduce(self, frame: Any) -> tuple[Any, Any, Any]:
        """A picture of Pillow's, or the frame's RGB bytes in any buffer (an array of height × width × 3)."""
        if hasattr(frame, "reduce") and not isinstance(frame, np.ndarray):
            return self._split(frame.convert("RGB").reduce(self.side))
        pixels = np.frombuffer(frame, np.uint8) if not isinstance(frame, np.ndarray) else frame
        pixels = np.ascontiguousarray(pixels).reshape(self.height, self.width, 3)
        if self.side == 1 or self.side > 16 or self.height % self.side or self.width % self.side:
            from PIL import Image

            return self._split(Image.fromarray(pixels).reduce(self.side))
        return self._average(pixels)

    def _average(self, pixels: Any) -> tuple[Any, Any, Any]:
        side = self.side
        rows = pixels.reshape(self.height // side, side, self.width * 3).sum(axis=1, dtype=np.uint16)
        boxes = rows.reshape(self.height // side, self.width // side, side * 3)
        # Rounded as Pillow's `reduce` does it, so that both kinds see the same cells.
        half, factor = side * side // 2, np.uint32(np.float32(2**32) / np.float32(256 * side * side))
        planes = []
        for channel in range(3):
            box = boxes[..., channel] + boxes[..., channel + 3]
            for at in range(2, side):
                box += boxes[..., channel + 3 * at]
            box += np.uint16(half)
            mean = box >> np.uint16(4) if side == 4 else (box * factor) >> np.uint32(24)
            planes.append(mean.astype(np.uint8).ravel())
        return planes[0], planes[1], planes[2]

    def _split(self, small: Any) -> tuple[Any, Any, Any]:
        pixels = np.asarray(small).reshape(-1, 3)
        return pixels[:, 0].copy(), pixels[:, 1].copy(), pixels[:, 2].copy()

    def look_up(self, plane: Any, table: Any) -> Any:
        return table.take(plane)

    def make_table(self, values: Sequence[int] | Sequence[float]) -> Any:
        return np.array(values, np.int32 if isinstance(values[0], int) else np.float32)

    def fill(self, value: Any) -> Any:
        return np.full(self.total, value, np.int32 if isinstance(value, int) else np.float32)

    def run(self, formula: Callable[..., Sequence[Any]], *planes: Any) -> list[Any]:
        return list(formula(self, *planes))

    def extremes(self, plane: Any) -> tuple[Any, Any]:
        return plane.min().item(), plane.max().item()

    def share(self, mask: Any) -> int:
        return int(np.count_nonzero(mask))

    def no_counts(self) -> Any:
        return np.zeros(self.total, np.uint8)

    def count(self, counts: Any, mask: Any, sign: int) -> Any:
        step = mask.view(np.uint8)
        return counts + step if sign > 0 else counts - step

    def tally(self, counts: Any) -> list[int]:
        tally: list[int] = np.bincount(counts).tolist()
        return tally

    def may_be_red(self, red: Any, green: Any, blue: Any) -> bool:
        # R = 4 G in light is R = 1.78 G as stored, or more: in bytes, with two to spare for what is cut off.
        most = (red >> 1) + (red >> 4) + 2
        return bool(((np.maximum(green, blue) <= most) & (red > _FAINT)).any())
