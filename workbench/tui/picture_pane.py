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
from workbench.tui.tones import Tone
from workbench.values import dataclass

if TYPE_CHECKING:
    from PIL.Image import Image

Colour = tuple[int, int, int]
Cells = Sequence[Sequence[tuple[Colour, Colour]]]


HALF_BLOCK = "▀"


@dataclass(frozen=True, slots=True)
class Block:
    """A caption, and below it a picture, or a sentence where there is none."""

    caption: Line
    cells: Cells = ()
    sentence: str = ""


class PicturePane(Toned):
    """One picture with its caption, or two, one below the other."""

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:
        super().__init__(id=id, classes=classes)
        self.blocks: tuple[Block, ...] = ()

    def show(self, caption: Line, cells: Cells = (), sentence: str = "") -> None:
        """Show this picture, or say why there is none."""
        self.show_blocks([Block(caption, cells, sentence)])

    def show_blocks(self, blocks: Sequence[Block]) -> None:
        """Show these, from the top."""
        if tuple(blocks) != self.blocks:
            self.blocks = tuple(blocks)
            self.refresh()

    @property
    def cells(self) -> Cells:
        """The first picture that there is."""
        return next((block.cells for block in self.blocks if block.cells), ())

    @property
    def room(self) -> tuple[int, int]:
        """Columns and rows that a picture may take."""
        return self.size.width, max(0, self.size.height - 1)

    def render_line(self, y: int) -> Strip:
        width = self.size.width
        for block in self.blocks:
            said = wrap(block.sentence, width) if block.sentence and not block.cells else []
            if y == 0:
                return strip_of(block.caption, width, self.base, self.tones)
            if y - 1 < len(block.cells):
                return self._picture_line(block.cells[y - 1], width)
            if y - 1 < len(said):
                tone: Tone = "problem" if said[0].startswith("!") else "muted"
                return strip_of(Line.of((said[y - 1], tone)), width, self.base, self.tones)
            y -= 1 + (len(block.cells) or len(said))
        return strip_of(Line(()), width, self.base, self.tones)

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
