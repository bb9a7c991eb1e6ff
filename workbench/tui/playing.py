"""Plays pictures in the terminal in half blocks, each at its true time. Knows nothing of Textual.

The clock leads: when a slow link took too long for a frame, those whose time has passed are left out, and
no frame is ever late. So that a link cannot hide what it holds back in its buffers, the terminal is asked
after each frame whether it is there (ECMA-48, 8.3.35 DSR), and the next goes out when it has answered; a
terminal that does not answer is not asked again. Only rows that have changed are drawn again, and a frame
costs at most `MOST_BYTES`.
"""

from __future__ import annotations

import contextlib
import os
import sys
import time
from collections.abc import Callable, Iterator
from fractions import Fraction
from functools import lru_cache
from typing import TYPE_CHECKING

from workbench.media.colours import Colour
from workbench.media.preview import HALF_BLOCK, Cell, half_blocks
from workbench.shown import shown
from workbench.values import dataclass, field

if TYPE_CHECKING:
    from PIL.Image import Image

    from workbench.jobs.rehearsal import Rehearsal, Scene

    PictureOf = Callable[[Scene, int], Image | None]

MOST_BYTES = 64 * 1024
"""Of one frame: what is finer is shown smaller, for the rest of its scene."""
_LEAST_WAIT = 0.0005
"""Seconds: less than any eye sees, more than a clock's rounding."""
_LONG = 3600.0
_ASK, _ANSWER = "\x1b[5n", "\x1b[0n"
_PATIENCE = 0.5
"""Seconds in which a terminal that can answer does."""
_KEYS_AT_END = "any key: end"
_KEYS = "space: stop and go on   , . or ← →: frame by frame   q: end"

_WORDS = {" ": "pause", ".": "on", "\x1b[C": "on", ",": "back", "\x1b[D": "back"}
_TORN = ("\x1b", "\x1b[", "\x1b[0")
"""Beginnings of a sequence whose rest is still to come."""
_ENDS = ("q", "Q", "\x1b", "\x03")


def _sleep(seconds: float) -> str:
    time.sleep(seconds)
    return ""


@dataclass(slots=True)
class Stage:
    """Where it is played: a terminal, or a test's stand-in."""

    columns: int
    rows: int
    is_true_colour: bool
    write: Callable[[str], None]
    now: Callable[[], float] = time.monotonic
    wait: Callable[[float], str] = _sleep
    """Waits so many seconds, or until a key is pressed, and answers that key; empty for none."""
    asks: bool = False
    """Whether it may be asked if it has shown what was sent, and its answers come as keys do."""
    drawn: dict[int, str] = field(default_factory=dict)
    """What stands in each row."""


@contextlib.contextmanager
def open_stage() -> Iterator[Stage]:
    """The terminal on standard output, with the keys of standard input where that is one."""
    try:
        columns, rows = os.get_terminal_size(sys.stdout.fileno())
    except OSError:
        columns, rows = 80, 24
    is_true = os.environ.get("COLORTERM", "") in ("truecolor", "24bit")

    def write(text: str) -> None:
        sys.stdout.write(text)
        sys.stdout.flush()

    stage = Stage(max(2, columns), max(4, rows), is_true, write)
    with _keys() as wait:
        if wait is not None:
            stage.wait, stage.asks = wait, True
        yield stage


@contextlib.contextmanager
def _keys() -> Iterator[Callable[[float], str] | None]:
    """Keys as they are pressed, not line by line; None where no terminal gives any."""
    try:
        import termios
        import tty
    except ImportError:
        yield None
        return
    try:
        descriptor = sys.stdin.fileno()
        before = termios.tcgetattr(descriptor)
        tty.setcbreak(descriptor)
        now = termios.tcgetattr(descriptor)
        now[3] &= ~termios.ISIG  # ctrl-C comes as a key: it ends the playing and nothing else
        termios.tcsetattr(descriptor, termios.TCSADRAIN, now)
    except (OSError, ValueError, termios.error):
        yield None
        return
    try:
        yield lambda seconds: _wait_for_key(descriptor, seconds)
    finally:
        termios.tcsetattr(descriptor, termios.TCSAFLUSH, before)


def _wait_for_key(descriptor: int, seconds: float) -> str:
    import select

    if not select.select([descriptor], [], [], seconds)[0]:
        return ""
    text = os.read(descriptor, 64).decode("ascii", "replace") or "q"
    while text.endswith(_TORN) and select.select([descriptor], [], [], 0.02)[0]:
        text += os.read(descriptor, 64).decode("ascii", "replace")
    return text


def play(
    rehearsal: Rehearsal, stage: Stage, picture_of: PictureOf, *, holds: bool = False
) -> tuple[int, int]:
    """Play it to the last scene; answers how many frames were drawn, and how many were dropped.

    Args:
        picture_of: decodes the frame of a scene at an index.
        holds: whether a last scene that stays is shown until a key is pressed.
    """
    stage.write("\x1b[?1049h\x1b[?25l\x1b[2J")
    player = _Player(rehearsal, stage, picture_of, holds)
    try:
        player.run()
    finally:
        stage.write("\x1b[0m\x1b[?25h\x1b[?1049l")
    return player.drawn, player.dropped


def count_frames(scene: Scene) -> int:
    """How many frames a scene with an end shows, repeats counted."""
    assert scene.length is not None
    return max(1, int(scene.length / (scene.delay or scene.length))) if scene.length else 0


class _Player:
    """One playing, from the first scene to the last."""

    def __init__(self, rehearsal: Rehearsal, stage: Stage, picture_of: PictureOf, holds: bool) -> None:
        self._scenes = [scene for scene in rehearsal.scenes if scene.length is None or scene.length > 0]
        self._stage, self._picture_of, self._holds = stage, picture_of, holds
        self._began, self._since = stage.now(), Fraction(0)
        """When it went on last, and the time at which it stood then."""
        self._stands: Fraction | None = None
        """The time at which it was stopped; None while it runs."""
        self._place: tuple[Scene, int] | None = None
        """Scene and frame on the screen."""
        self._painter = _Painter(stage)
        self._answers = self._is_owed = False
        """Whether the terminal answers, and whether it still owes the answer for the last frame."""
        self.drawn = self.dropped = 0

    def run(self) -> None:
        self._ask_first()
        self._began = self._stage.now()
        while True:
            place = self._find(self._time)
            if place is None:
                self._count_dropped(None)
                break
            is_new = place != self._place and not self._is_owed
            if is_new:
                self._show(*place)
            if place[0].length is None and not self._holds:
                break
            # Keys count even where every frame takes longer than it stands.
            key = self._take(self._stage.wait(0.0 if is_new else self._till_next(place)))
            if self._is_ended_by(key):
                break
        self._await_answer(2 * _PATIENCE)

    def _ask_first(self) -> None:
        """Find out whether the terminal answers."""
        if self._stage.asks:
            self._stage.write(_ASK)
            self._is_owed = True
            self._await_answer(_PATIENCE)
            self._is_owed = False

    def _await_answer(self, seconds: float) -> None:
        """Wait for an answer that is owed, so that it reaches nobody else."""
        until = self._stage.now() + seconds
        while self._is_owed and (left := until - self._stage.now()) > 0:
            self._take(self._stage.wait(max(left, _LEAST_WAIT)))

    def _take(self, text: str) -> str:
        """Take note of an answer; what is left is a key."""
        if _ANSWER in text:
            self._answers, self._is_owed = True, False
        return text.replace(_ANSWER, "")

    @property
    def _time(self) -> Fraction:
        """Seconds from the beginning."""
        if self._stands is not None:
            return self._stands
        return self._since + Fraction(self._stage.now() - self._began)

    def _find(self, time_now: Fraction) -> tuple[Scene, int] | None:
        """What is to be seen at a time; None after the end."""
        for scene in self._scenes:
            if scene.length is None:
                return scene, 0
            if time_now < scene.start + scene.length:
                step = scene.delay or scene.length
                return scene, min(count_frames(scene) - 1, max(0, int((time_now - scene.start) / step)))
        return None

    def _till_next(self, place: tuple[Scene, int]) -> float:
        scene, index = place
        if self._stands is not None or scene.length is None:
            return _LONG
        next_at = scene.start + (index + 1) * (scene.delay or scene.length)
        return max(float(next_at - self._time), _LEAST_WAIT)

    def _show(self, scene: Scene, index: int) -> None:
        self._count_dropped((scene, index))
        is_new = self._place is None or self._place[0] is not scene
        self._place = scene, index
        if scene.length is None:
            self._painter.paint_lines(scene, _KEYS_AT_END if self._holds else "")
            return
        said = f"   frame {index + 1} of {count_frames(scene)}   {_KEYS}" if self._stands is not None else ""
        frame = index % max(1, len(scene.frames)) if scene.frames else 0
        picture = self._picture_of(scene, frame)
        self._painter.paint(picture, scene.title + said, is_new=is_new)
        if self._answers:
            self._stage.write(_ASK)
            self._is_owed = True
        if self._stands is None:
            self.drawn += 1

    def _count_dropped(self, to: tuple[Scene, int] | None) -> None:
        """Frames that were passed over since the last one on the screen."""
        if self._stands is not None:
            return
        scene, index = self._place or (self._scenes[0] if self._scenes else None, -1)
        if scene is None or scene.length is None:
            return
        if to is not None and to[0] is scene:
            self.dropped += max(0, to[1] - index - 1)
            return
        self.dropped += count_frames(scene) - 1 - index
        if to is not None and to[0].length is not None:
            self.dropped += to[1]

    def _is_ended_by(self, key: str) -> bool:
        """Do what a key says; whether it ends the playing."""
        if not key or self._place is None:
            return False
        if key in _ENDS or self._place[0].length is None:
            return True
        word = _WORDS.get(key)
        if word == "pause" and self._stands is not None:
            self._began, self._since = self._stage.now(), self._stands
            self._stands = None
        elif word == "pause":
            self._stop_at(0)
        elif word is not None:
            self._stop_at(1 if word == "on" else -1)
        return False

    def _stop_at(self, steps: int) -> None:
        """Stand still, so many frames on from the one on the screen; never beyond either end."""
        assert self._place is not None
        scene, index = self._place
        step = scene.delay or scene.length or Fraction(0)
        wanted = max(Fraction(0), scene.start + (index + steps) * step)
        if steps < 0 and index == 0 and wanted < scene.start:
            wanted = max(Fraction(0), scene.start - Fraction(1, 1_000_000))
        self._stands = wanted if self._find(wanted) is not None else scene.start + index * step
        self._place = None  # drawn anew, with the words of a picture that stands


class _Painter:
    """Puts pictures and lines on the stage, and knows what stands there."""

    def __init__(self, stage: Stage) -> None:
        self._stage = stage
        self._room = self._whole

    @property
    def _whole(self) -> tuple[int, int]:
        return self._stage.columns - 1, self._stage.rows - 1

    def paint(self, picture: Image | None, title: str, *, is_new: bool) -> None:
        """A picture in what room it may have, and a line below it; a lost one leaves the one before."""
        if is_new:
            self._room = self._whole
        foot = f"\x1b[0m{shown(title)[: self._stage.columns - 1]}"
        if picture is None:
            self._put([self._stage.drawn.get(row, "") for row in range(self._stage.rows - 1)], foot)
            return
        self._put(self._fit(picture), foot)

    def _fit(self, picture: Image) -> list[str]:
        while True:
            cells = half_blocks(picture, *self._room)
            columns, rows = self._room
            left = " " * ((self._stage.columns - len(cells[0])) // 2 if cells else 0)
            lines = [left + _row(line, is_true=self._stage.is_true_colour) for line in cells]
            if sum(map(len, lines)) + 2 * sum(map(len, cells)) <= MOST_BYTES or min(columns, rows) <= 4:
                return lines
            self._room = columns * 7 // 8, rows * 7 // 8

    def paint_lines(self, scene: Scene, foot: str) -> None:
        width = self._stage.columns - 1
        lines = [shown(one)[:width] for one in (scene.title, *scene.lines[: self._stage.rows - 2])]
        self._put([f"\x1b[0m{line}" for line in lines], f"\x1b[0m{foot[:width]}")

    def _put(self, lines: list[str], foot: str) -> None:
        """Draw the rows that are not as they stand."""
        out = []
        last = self._stage.rows - 1
        for number in range(last + 1):
            line = foot if number == last else lines[number] if number < len(lines) else ""
            if self._stage.drawn.get(number, "") != line:
                self._stage.drawn[number] = line
                out.append(f"\x1b[{number + 1};1H{line}\x1b[0m\x1b[K")
        if out:
            self._stage.write("".join(out))


def _row(line: list[Cell], *, is_true: bool) -> str:
    """One row of cells; a colour is said only where it changes."""
    out: list[str] = []
    before: Cell | None = None
    for cell in line:
        upper, lower = cell
        if before is None:
            out.append(f"\x1b[{_code(38, upper, is_true)};{_code(48, lower, is_true)}m")
        elif cell != before:
            above = _code(38, upper, is_true) if upper != before[0] else ""
            below = _code(48, lower, is_true) if lower != before[1] else ""
            out.append(f"\x1b[{above}{';' if above and below else ''}{below}m")
        before = cell
        out.append(" " if upper == lower else HALF_BLOCK)
    return "".join(out)


@lru_cache(maxsize=1 << 16)
def _code(ground: int, colour: Colour, is_true: bool) -> str:
    if is_true:
        return f"{ground};2;{colour[0]};{colour[1]};{colour[2]}"
    red, green, blue = (round(part / 255 * 5) for part in colour)
    return f"{ground};5;{16 + 36 * red + 6 * green + blue}"
