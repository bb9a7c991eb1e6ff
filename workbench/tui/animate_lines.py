"""The form and the report of a boot animation in lines."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.tui.lines import BLANK, Line, wrap
from workbench.tui.tones import Tone

if TYPE_CHECKING:
    from workbench.jobs.animate import AnimateReport
    from workbench.tui.animate_form import FormField

WIDTH = 12
_REMEDIES = {
    "slower": ("s", "show it slower"),
    "dimmed": ("d", "dim it"),
    "shortened": ("x", "cut it short"),
}


def field_line(field: FormField, text: str) -> Line:
    """A line of the form; what holds by itself is in brackets."""
    word = (f"{field.word:<{WIDTH}}", "muted")
    if not text.strip():
        return Line((word, (f"({field.otherwise})", "muted")))  # type: ignore[arg-type]
    return Line((word, (text, "strong")))  # type: ignore[arg-type]


def report_lines(report: AnimateReport, remedy: str | None, width: int) -> list[Line]:
    """The report in sentences, the verdict on flashes and its remedies first where it fails."""
    said = list(report.lines())
    if remedy is not None:
        said.insert(0, f"with the remedy {remedy} (u takes it back)")
    flashes = [one for one in said if one.startswith("flashing:")]
    said = [one for one in said if one not in flashes and not one.startswith("what would help:")]
    lines: list[Line] = []
    if not report.flash.passes:
        lines += [line for one in flashes for line in _fold(f"! {one}", width, "problem")]
        lines += _remedy_lines(report)
        lines.append(BLANK)
    for text in said:
        is_caution = text.startswith("Caution:")
        lines += _fold(text, width, "waiting" if is_caution or text.startswith("traded:") else "plain")
    if report.flash.passes:
        where = next((at for at, line in enumerate(lines) if line.text.startswith("Caution:")), len(lines))
        lines[where:where] = [line for one in flashes for line in _fold(one, width, "good")]
    return lines


def _remedy_lines(report: AnimateReport) -> list[Line]:
    if not report.remedies:
        return [Line.of("  no remedy is known; choose another clip, or another part of it")]
    known = [_REMEDIES[one] for one in report.remedies]
    return [Line.of("  ", (key, "key"), f": {words}, and examine it again") for key, words in known]


def _fold(text: str, width: int, tone: Tone) -> list[Line]:
    return [Line.of((part, tone)) for part in wrap(text, width, indent="  ")]
