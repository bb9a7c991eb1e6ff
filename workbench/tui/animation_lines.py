"""A boot animation in lines: in the list of all, and all that is known of one."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.tui.costs import count_words
from workbench.tui.lines import BLANK, Line, Piece, wrap

if TYPE_CHECKING:
    from workbench.jobs.animation import AnimationFacts
    from workbench.media.flash_verdict import FlashVerdict

NOT_EXAMINED = "flashing: not examined yet"
SCREENING = "a screening by published thresholds, not a medical or legal clearance"


def animation_line(facts: AnimationFacts) -> Line:
    """One line of the list: what plays at start is told by words."""
    one = facts.animation
    right: list[Piece] = []
    if facts.problems:
        right.append((f"! {count_words(len(facts.problems), 'problem', 'problems')}  ", "problem"))
    length = f"{float(facts.length):.2f} s" if facts.length is not None else "pace unknown"
    frames = count_words(len(one.frames), "frame", "frames")
    right.append((f"{frames}  {length}  {show_bytes(facts.bytes)}", "muted"))
    start: Piece = ("  plays at start", "good") if one.is_chosen else ("", "plain")
    return Line.of((one.name, "strong"), start, right=right)


def facts_lines(facts: AnimationFacts, verdict: FlashVerdict | None, width: int) -> list[Line]:
    """Everything that is known of one."""
    one = facts.animation
    said = [("lies in", str(one.folder))]
    if facts.size is not None:
        said.append(("frames", facts.kind))
    if one.pace is not None:
        said.append(("pace", f"{float(one.pace.delay * 1000):g} ms a frame; settings: {one.pace.describe()}"))
    if facts.sound_length is not None:
        said.append(("sound", f"{float(facts.sound_length):.2f} s"))
    extra = (
        ("shown as", one.label),
        ("by", one.author),
        ("plays", f"{one.loops} times" if one.loops else ""),
    )
    said += [(word, text) for word, text in extra if text]
    lines = [line for word, text in said for line in _told(word, text, width)]
    lines += flash_lines(verdict, width)
    for problem in facts.problems:
        lines.append(BLANK)
        key = _KEYS.get(problem.remedy, "")
        text = f"! {problem.at.name}: {problem.message}{f'  ({key} mends it)' if key else ''}"
        lines += [Line.of((part, "problem")) for part in wrap(text, width, indent="  ")]
    return lines


_KEYS = {"retime": "t", "resize": "z", "renumber": "u", "mend": "m"}


def flash_lines(verdict: FlashVerdict | None, width: int) -> list[Line]:
    """The verdict in words, and what it is worth."""
    if verdict is None:
        return [Line.of(("flashing ", "muted"), "? not examined yet (", ("x", "key"), " examines it)")]
    from workbench.jobs.animate.report import show_flash

    sign = "" if verdict.passes else "! "
    said = wrap(sign + show_flash(verdict), width, indent="  ")
    tone: Piece = ("", "good" if verdict.passes else "problem")
    return [Line.of((part, tone[1])) for part in said] + [
        Line.of((part, "muted")) for part in wrap(SCREENING, width)
    ]


def show_bytes(size: int) -> str:
    """Bytes for a person."""
    from workbench.jobs.animate.report import show_size

    return show_size(size)


def _told(word: str, text: str, width: int) -> list[Line]:
    """A word, and what there is to say of it, one below the other where it is long."""
    parts = wrap(text, max(10, width - 9))
    return [Line.of((f"{'' if number else word:<9}", "muted"), part) for number, part in enumerate(parts)]
