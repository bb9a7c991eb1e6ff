"""The bottom line: at most six keys, help first, whole at 80 columns."""

from __future__ import annotations

from collections.abc import Iterable

from rich.cells import cell_len

from workbench.tui.actions import FOOTER_LIMIT, Action, key_word
from workbench.tui.line_view import LineView
from workbench.tui.lines import Line, Piece

Key = tuple[Action, bool]
"""An action, and whether it can be done now."""


def footer_line(keys: Iterable[Key]) -> Line:
    """`? help  space take  w (write)`: what cannot be done now stands in brackets, and is muted."""
    pieces: list[Piece] = []
    for action, can in list(keys)[:FOOTER_LIMIT]:
        pieces.append((" " + key_word(action.key_list[0]), "key" if can else "muted"))
        pieces.append((f" {action.word} " if can else f" ({action.word}) ", "plain" if can else "muted"))
    return Line(tuple(pieces))


def footer_width(keys: Iterable[Key]) -> int:
    """Cells that the footer takes."""
    return sum(cell_len(text) for text, _tone in footer_line(keys).left)


class KeyFooter(LineView):
    """Shows the keys that its page gives it."""

    def show_keys(self, keys: Iterable[Key]) -> None:
        """Show these keys."""
        self.show([footer_line(keys)])
