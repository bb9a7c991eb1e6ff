"""A line of text on the screen: pieces in a tone, cut to a width in cells.

Every piece goes through `shown`: text from a card is data, and nothing of it reaches the terminal as a
command or as markup.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from rich.cells import cell_len, set_cell_size
from rich.segment import Segment
from rich.style import Style
from textual.strip import Strip

from workbench.shown import shown
from workbench.tui.tones import Tone
from workbench.values import dataclass

if TYPE_CHECKING:
    from workbench.card.paths import VolumePath

Piece = tuple[str, Tone]
Target = tuple["VolumePath", int | None]


@dataclass(frozen=True, slots=True)
class Line:
    """Pieces from the left, and pieces that keep to the right edge."""

    left: tuple[Piece, ...]
    right: tuple[Piece, ...] = ()
    target: Target | None = None
    """The file that the line speaks of, and the line in it, where it can be gone to."""

    @classmethod
    def of(
        cls, *pieces: str | Piece, right: Iterable[str | Piece] = (), target: Target | None = None
    ) -> Line:
        """A line of plain strings and toned pieces."""
        return cls(tuple(map(_piece, pieces)), tuple(map(_piece, right)), target)

    @property
    def text(self) -> str:
        """What a reader sees, without the room between left and right."""
        return "".join(shown(text) for text, _tone in (*self.left, *self.right))


BLANK = Line(())


def _piece(part: str | Piece) -> Piece:
    return (part, "plain") if isinstance(part, str) else part


def cut(text: str, width: int) -> str:
    """The text within `width` cells, with `…` where something was cut off."""
    if cell_len(text) <= width:
        return text
    return set_cell_size(text, width - 1).rstrip() + "…" if width > 1 else "…"[:width]


def cut_front(text: str, width: int) -> str:
    """The end of the text within `width` cells, with `…` in front where something was cut off."""
    text = shown(text)
    if cell_len(text) <= width:
        return text
    while text and cell_len(text) > width - 1:
        text = text[1:]
    return "…" + text


def strip_of(
    line: Line, width: int, base: Style, tones: Mapping[Tone, Style], over: Style | None = None
) -> Strip:
    """The line as one strip of exactly `width` cells; `over` (a cursor's style) wins over the tones."""
    right = _segments(line.right, width, base, tones, over)
    taken = sum(segment.cell_length for segment in right)
    room = max(0, width - taken - (1 if right else 0))
    left = _segments(line.left, room, base, tones, over)
    gap = width - taken - sum(segment.cell_length for segment in left)
    ground = base + over if over else base
    return Strip([*left, Segment(" " * gap, ground), *right], width)


def _segments(
    pieces: Iterable[Piece], width: int, base: Style, tones: Mapping[Tone, Style], over: Style | None
) -> list[Segment]:
    made: list[Segment] = []
    for text, tone in pieces:
        if width <= 0:
            break
        piece = cut(shown(text), width)
        style = base + tones[tone]
        made.append(Segment(piece, style + over if over else style))
        width -= cell_len(piece)
    return made


def wrap(text: str, width: int, *, indent: str = "") -> list[str]:
    """The text in lines of at most `width` cells, broken at spaces; later lines start with `indent`."""
    lines: list[str] = []
    current = ""
    for word in shown(text).split(" "):
        room = width - (cell_len(indent) if lines else 0)
        candidate = f"{current} {word}" if current else word
        if cell_len(candidate) <= room or not current:
            current = candidate
        else:
            lines.append(current)
            current = word
    lines.append(current)
    return [line if number == 0 else indent + line for number, line in enumerate(lines)]
