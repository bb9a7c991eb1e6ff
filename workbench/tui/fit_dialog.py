"""Asks how a picture is fitted into the place that it is for, and what lies behind it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

from textual.widget import Widget

from workbench.tui.dialog import Dialog
from workbench.tui.line_list import LineList
from workbench.tui.line_view import LineView
from workbench.tui.lines import Line
from workbench.values import dataclass, replace

FitWord = Literal["contain", "cover", "stretch", "centre"]
FITS: dict[FitWord, str] = {
    "contain": "the whole picture, with room around it where it needs some",
    "cover": "no room around it; what stands over is cut off",
    "stretch": "the whole picture, pulled out of shape where it needs to be",
    "centre": "as large as it is, in the middle",
}


@dataclass(frozen=True, slots=True)
class Fitting:
    """How a picture is put."""

    fit: FitWord = "contain"
    background: str = ""
    """Behind it: a colour; empty leaves it clear where the format can, black where it cannot."""
    asks_colour: bool = False
    """Whether another background is wanted first."""


class FitDialog(Dialog[Fitting]):
    """One of the ways to fit; `b` asks for a background first."""

    hint = "↑ ↓: choose   enter: plan it   b: another background   esc: back"

    def __init__(self, title: str, fitting: Fitting) -> None:
        super().__init__()
        self.title_text = title
        self._fitting = fitting

    def compose_body(self) -> Iterable[Widget]:
        yield LineView(id="dialog-text")
        yield LineList(id="dialog-list")

    def on_mount(self) -> None:
        super().on_mount()
        self._bindings.bind("b", "colour")
        behind = self._fitting.background or "clear where the format can, else black"
        self.query_one("#dialog-text", LineView).show([Line.of(("background  ", "muted"), behind), Line(())])
        lines = [Line.of((f"{word:<9}", "strong"), said) for word, said in FITS.items()]
        self.query_one("#dialog-list", LineList).show(lines, list(FITS).index(self._fitting.fit))

    @property
    def _chosen(self) -> Fitting:
        at = self.query_one("#dialog-list", LineList).cursor
        return replace(self._fitting, fit=list(FITS)[at], asks_colour=False)

    def on_line_list_chosen(self) -> None:
        self.dismiss(self._chosen)

    def action_colour(self) -> None:
        self.dismiss(replace(self._chosen, asks_colour=True))


def colour_fault(text: str) -> str | None:
    """What is wrong with a colour; an empty one stands for none."""
    from workbench.errors import CardwrightError
    from workbench.media.colours import parse_colour

    try:
        parse_colour(text) if text.strip() else None
    except CardwrightError as error:
        return error.message
    return None
