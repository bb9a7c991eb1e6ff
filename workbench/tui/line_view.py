"""Widgets that are drawn line by line: what they share, and the one that only shows a few lines."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, cast

from rich.style import Style
from textual.geometry import Region, Size
from textual.strip import Strip
from textual.widget import Widget

from workbench.tui.lines import Line, strip_of
from workbench.tui.tones import Tone, tone_styles

if TYPE_CHECKING:
    from workbench.tui.app import Workbench


class Toned(Widget):
    """A widget that draws `Line`s in the theme's tones."""

    _base: Style | None = None

    @property
    def tones(self) -> dict[Tone, Style]:
        """The theme's tones."""
        variables = self.app.theme_variables
        known = cast("Workbench", self.app).__dict__.get("cw_tones")
        if known is None or known[0] is not variables:
            # Kept with the app: they are the same for every widget until the theme changes.
            known = self.app.__dict__["cw_tones"] = (
                variables,
                tone_styles(variables, no_color=self.app.no_color),
            )
        found: dict[Tone, Style] = known[1]
        return found

    @property
    def base(self) -> Style:
        """The widget's own style, worked out once until a style sheet says otherwise."""
        if self._base is None:
            self._base = self.rich_style
        return self._base

    def notify_style_update(self) -> None:
        self._base = None
        super().notify_style_update()

    def refresh_row(self, y: int) -> None:
        """Ask for one row to be painted again."""
        self.refresh(Region(0, y, self.size.width, 1))


class LineView(Toned):
    """Shows the lines it was last given; asks for repainting only where they differ."""

    def __init__(
        self, lines: Iterable[Line] = (), *, id: str | None = None, classes: str | None = None
    ) -> None:
        super().__init__(id=id, classes=classes)
        self.lines: tuple[Line, ...] = tuple(lines)

    def show(self, lines: Iterable[Line]) -> None:
        """Show these lines; rows that stay as they are stay untouched on the terminal."""
        before, self.lines = self.lines, tuple(lines)
        if len(before) != len(self.lines) and self.styles.auto_dimensions:
            self.refresh(layout=True)
            return
        for y in range(max(len(before), len(self.lines))):
            if before[y : y + 1] != self.lines[y : y + 1]:
                self.refresh_row(y)

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:  # noqa: ARG002 - Textual's signature
        return len(self.lines)

    def render_line(self, y: int) -> Strip:
        width = self.size.width
        if y >= len(self.lines):
            return Strip.blank(width, self.base)
        return strip_of(self.lines[y], width, self.base, self.tones)
