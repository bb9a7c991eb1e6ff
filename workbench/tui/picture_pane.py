"""A picture in half blocks: U+2580, its foreground the upper pixel, its background the lower.

The pane is given cells and paints them; it decodes nothing. An unchanged colour is not sent again.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from typing import TYPE_CHECKING

from rich.color import Color as RichColor
from rich.segment import Segment
from rich.style import Style
from textual.strip import Strip

from workbench.tui.line_view import Toned
from workbench.tui.lines import Line, strip_of, wrap
from workbench.values import dataclass

if TYPE_CHECKING:
    from PIL.Image import Image

Colour = tuple[int, int, int]
Cells = Sequence[Sequence[tuple[Colour, Colour]]]


@dataclass(frozen=True, slots=True)
class EntryPicture:
    """A picture made ready for the terminal, or a sentence where there is none."""

    title: str
    cells: Cells
    sentence: str = ""


HALF_BLOCK = "▀"


class PicturePane(Toned):
    """A caption of one line, and below it a picture, or a sentence where there is none."""

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:
        super().__init__(id=id, classes=classes)
        self.caption = Line(())
        self.cells: Cells = ()
        self.sentence = ""

    def show(self, caption: Line, cells: Cells = (), sentence: str = "") -> None:
        """Show this picture, or say why there is none."""
        if (caption, cells, sentence) != (self.caption, self.cells, self.sentence):
            self.caption, self.cells, self.sentence = caption, cells, sentence
            self.refresh()

    @property
    def room(self) -> tuple[int, int]:
        """Columns and rows that a picture may take."""
        return self.size.width, max(0, self.size.height - 1)

    def render_line(self, y: int) -> Strip:
        width = self.size.width
        if y == 0:
            return strip_of(self.caption, width, self.base, self.tones)
        if y - 1 < len(self.cells):
            return self._picture_line(self.cells[y - 1], width)
        said = wrap(self.sentence, width) if self.sentence and not self.cells else []
        line = Line.of((said[y - 1], "muted")) if y - 1 < len(said) else Line(())
        return strip_of(line, width, self.base, self.tones)

    def _picture_line(self, row: Sequence[tuple[Colour, Colour]], width: int) -> Strip:
        segments = []
        for (upper, lower), run in groupby(row[:width]):
            style = Style(color=RichColor.from_rgb(*upper), bgcolor=RichColor.from_rgb(*lower))
            # Where both are one colour a space serves, and survives fonts without the block.
            sign = " " if upper == lower else HALF_BLOCK
            segments.append(Segment(sign * len(list(run)), style))
        return Strip(segments).adjust_cell_length(width, self.base)


def picture_bytes(cells: Cells) -> int:
    """About how many bytes these cells cost on a line with 24-bit colours (39 a cell where it changes)."""
    return sum(36 * sum(1 for _ in groupby(row)) + len(row) * 3 + 10 for row in cells)


def fit_cells(image: Image, room: tuple[int, int], most_bytes: int) -> Cells:
    """The picture in the largest half blocks that fit the room and cost at most so many bytes."""
    from workbench.media.preview import half_blocks

    columns, rows = room
    while True:
        cells = half_blocks(image, columns, rows)
        if picture_bytes(cells) <= most_bytes or min(columns, rows) <= 4:
            return cells
        columns, rows = columns * 7 // 8, rows * 7 // 8
