"""Plays pictures in the terminal in half blocks, each at its true time.

The clock leads: when a slow link took too long for a frame, those whose time has passed are left out, and
no frame is ever late. Only rows that have changed are drawn again.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable
from fractions import Fraction
from typing import TYPE_CHECKING

from workbench.media.preview import HALF_BLOCK, Cell, half_blocks
from workbench.shown import shown
from workbench.values import dataclass, field

if TYPE_CHECKING:
    from PIL.Image import Image

    from workbench.jobs.rehearsal import Rehearsal, Scene


_LEAST_SLEEP = 0.0005
"""Seconds: less than any eye sees, more than a clock's rounding."""


@dataclass(slots=True)
class Stage:
    """Where it is played: a terminal, or a test's stand-in."""

    columns: int
    rows: int
    is_true_colour: bool
    write: Callable[[str], None]
    now: Callable[[], float] = time.monotonic
    sleep: Callable[[float], None] = time.sleep
    drawn: dict[int, str] = field(default_factory=dict)
    """What stands in each row."""


def open_stage() -> Stage:
    """The terminal on standard output."""
    try:
        columns, rows = os.get_terminal_size(sys.stdout.fileno())
    except OSError:
        columns, rows = 80, 24
    is_true = os.environ.get("COLORTERM", "") in ("truecolor", "24bit")

    def write(text: str) -> None:
        sys.stdout.write(text)
        sys.stdout.flush()

    return Stage(max(2, columns), max(4, rows), is_true, write)


def play(
    rehearsal: Rehearsal, stage: Stage, picture_of: Callable[[Scene, int], Image | None]
) -> tuple[int, int]:
    """Play it to the last scene; answers how many frames were drawn, and how many were dropped.

    Args:
        picture_of: decodes the frame of a scene at an index.
    """
    stage.write("\x1b[?1049h\x1b[?25l\x1b[2J")
    drawn = dropped = 0
    try:
        began = stage.now()
        for scene in rehearsal.scenes:
            if scene.length is None:
                _draw_lines(stage, scene)
                continue
            shown_, lost = _play_scene(scene, stage, began, picture_of)
            drawn, dropped = drawn + shown_, dropped + lost
    finally:
        stage.write("\x1b[0m\x1b[?25h\x1b[?1049l")
    return drawn, dropped


def _play_scene(
    scene: Scene, stage: Stage, began: float, picture_of: Callable[[Scene, int], Image | None]
) -> tuple[int, int]:
    assert scene.length is not None
    step = scene.delay or scene.length
    count = max(1, int(scene.length / step))
    drawn, last = 0, -1
    while True:
        time_now = Fraction(stage.now() - began) - scene.start
        index = max(0, int(time_now / step))
        if index >= count:
            return drawn, count - drawn
        if index > last:
            last = index
            picture = picture_of(scene, index % max(1, len(scene.frames)) if scene.frames else 0)
            if picture is not None:
                _draw(stage, picture, scene.title)
            drawn += 1
            continue
        wait = float(scene.start + (index + 1) * step) - (stage.now() - began)
        stage.sleep(max(wait, _LEAST_SLEEP))


def _draw(stage: Stage, picture: Image, title: str) -> None:
    cells = half_blocks(picture, stage.columns - 1, stage.rows - 1)
    lines = [_row(line, is_true=stage.is_true_colour) for line in cells]
    _put(stage, [*lines, f"\x1b[0m{shown(title)[: stage.columns - 1]}"])


def _draw_lines(stage: Stage, scene: Scene) -> None:
    lines = [shown(one)[: stage.columns - 1] for one in (scene.title, *scene.lines[: stage.rows - 2])]
    _put(stage, [f"\x1b[0m{line}" for line in lines])


def _put(stage: Stage, lines: list[str]) -> None:
    """Draw the rows that are not as they stand."""
    out = []
    for number in range(max(len(lines), len(stage.drawn))):
        line = lines[number] if number < len(lines) else ""
        if stage.drawn.get(number) != line:
            stage.drawn[number] = line
            out.append(f"\x1b[{number + 1};1H{line}\x1b[0m\x1b[K")
    if out:
        stage.write("".join(out))


def _row(line: list[Cell], *, is_true: bool) -> str:
    """One row of cells; a colour is said only where it changes."""
    out: list[str] = []
    before: Cell | None = None
    for upper, lower in line:
        if before is None or before != (upper, lower):
            out.append(f"\x1b[{_code(38, upper, is_true)};{_code(48, lower, is_true)}m")
            before = (upper, lower)
        out.append(HALF_BLOCK)
    return "".join(out)


def _code(ground: int, colour: tuple[int, int, int], is_true: bool) -> str:
    if is_true:
        return f"{ground};2;{colour[0]};{colour[1]};{colour[2]}"
    red, green, blue = (round(part / 255 * 5) for part in colour)
    return f"{ground};5;{16 + 36 * red + 6 * green + blue}"
