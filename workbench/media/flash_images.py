"""Cells by Pillow alone, for animated pictures where numpy is not installed: slower, and equal."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from PIL import Image, ImageChops, ImageMath

from workbench.media.flash_cells import cell_size


class ImageCells:
    """Each plane is a picture with a pixel for every cell: 8 bits for colours and counts, 32 for the rest."""

    def __init__(self, width: int, height: int) -> None:
        self.width, self.height, self.side = width, height, cell_size(width, height)
        self._size = (-(-width // self.side), -(-height // self.side))
        self.total = self._size[0] * self._size[1]

    def reduce(self, frame: Any) -> tuple[Any, Any, Any]:
        """A picture of Pillow's, or the frame's RGB bytes in any buffer."""
        if not isinstance(frame, Image.Image):
            frame = Image.frombuffer("RGB", (self.width, self.height), frame, "raw", "RGB", 0, 1)
        red, green, blue = frame.convert("RGB").reduce(self.side).split()
        return red, green, blue

    def look_up(self, plane: Any, table: Any) -> Any:
        return plane.point(table, "I" if isinstance(table[0], int) else "F")

    def make_table(self, values: Sequence[int] | Sequence[float]) -> Any:
        return list(values)

    def fill(self, value: Any) -> Any:
        return Image.new("I" if isinstance(value, int) else "F", self._size, value)

    def run(self, formula: Callable[..., Sequence[Any]], *planes: Any) -> list[Any]:
        named = {f"plane{number}": plane for number, plane in enumerate(planes)}
        made: Any = ImageMath.lambda_eval(
            lambda args: tuple(formula(_Operators(args), *(args[name] for name in named))), **named
        )
        return [operand.im for operand in made]

    def extremes(self, plane: Any) -> Any:
        return plane.getextrema()

    def share(self, mask: Any) -> int:
        return int(mask.convert("L").histogram()[1])

    def no_counts(self) -> Any:
        return Image.new("L", self._size, 0)

    def count(self, counts: Any, mask: Any, sign: int) -> Any:
        change = ImageChops.add if sign > 0 else ImageChops.subtract
        return change(counts, mask.convert("L"))

    def tally(self, counts: Any) -> list[int]:
        return list(counts.histogram())

    def may_be_red(self, _red: Any, _green: Any, _blue: Any) -> bool:
        return True


class _Operators:
    """The functions among what a formula is given by Pillow."""

    def __init__(self, args: dict[str, Any]) -> None:
        self.max, self.as_float, self.as_mask = args["max"], args["float"], args["int"]
