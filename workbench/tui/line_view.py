"""A few lines of text that do not scroll, drawn line by line."""

from __future__ import annotations

from collections.abc import Iterable

from rich.style import Style
from textual.geometry import Region, Size
from textual.strip import Strip
from textual.widget import Widget

from workbench.tui.lines import Line, strip_of
from workbench.tui.tones import Tone, tone_styles


class Toned(Widget):
    """A widget that draws `Line`s in the theme's tones."""

    _tones: dict[Tone, Style] | None = None

    @property
    def tones(self) -> dict[Tone, Style]:
        """The theme's tones, looked up once for each theme."""
        if self._tones is None:
            self._tones = tone_styles(self.app.theme_variables)
        return self._tones

    def notify_style_update(self) -> None:
        self._tones = None
        super().notify_style_update()


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
                self.refresh(Region(0, y, self.size.width, 1))

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:  # noqa: ARG002 - Textual's signature
        return len(self.lines)

    def render_line(self, y: int) -> Strip:
        width = self.size.width
        if y >= len(self.lines):
            return Strip.blank(width, self.rich_style)
        return strip_of(self.lines[y], width, self.rich_style, self.tones)
