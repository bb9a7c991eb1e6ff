"""Playing in the terminal: true times, frames dropped and never late, only what changed drawn again."""

from __future__ import annotations

import os
import select
import termios
from fractions import Fraction

import pytest
from PIL import Image

from workbench.card.animations import FrameFile
from workbench.card.paths import VolumePath
from workbench.cli.watching import Watch
from workbench.jobs.animate import Progress
from workbench.jobs.rehearsal import Rehearsal, Scene
from workbench.tui.playing import MOST_BYTES, Stage, open_stage, play


class Terminal:
    """A terminal with a clock of its own; each frame takes it some time to show."""

    def __init__(self, seconds_a_frame: float, keys: dict[float, str] | None = None) -> None:
        self.time = 0.0
        self.keys = keys or {}
        """When which key is pressed."""
        self.slow = seconds_a_frame
        self.written: list[tuple[float, str]] = []

    def write(self, text: str) -> None:
        self.written.append((self.time, text))
        if "48;2;" in text:
            self.time += self.slow

    def stage(self) -> Stage:
        return Stage(20, 8, True, self.write, lambda: self.time, self.wait)

    def wait(self, seconds: float) -> str:
        pressed = min((at for at in self.keys if at <= self.time + seconds), default=None)
        if pressed is None:
            assert seconds < 3600, "nobody will ever press a key"
            self.time += seconds
            return ""
        self.time = max(self.time, pressed)
        return self.keys.pop(pressed)

    def frames(self) -> list[tuple[float, int]]:
        """When which frame was drawn, by the red that it is made of."""
        return [
            (at, int(text.split("38;2;")[1].split(";")[0])) for at, text in self.written if "38;2;" in text
        ]


def scene(count: int, delay: str) -> Scene:
    frames = tuple(FrameFile(n, VolumePath("d", f"{n}.png"), 1) for n in range(count))
    step = Fraction(delay)
    return Scene("animation", Fraction(0), count * step, "dawn", frames, step)


def colour_of(_scene: Scene, index: int) -> Image.Image:
    return Image.new("RGB", (16, 8), (index, 0, 0))


def test_each_frame_comes_at_its_time() -> None:
    """On a fast link: all of them, none early, none late; the terminal is as it was at the end."""
    terminal = Terminal(0.001)
    drawn, dropped = play(Rehearsal((scene(10, "1/20"),), ()), terminal.stage(), colour_of)
    times = [at for at, text in terminal.written if "48;2;" in text]
    assert (drawn, dropped) == (10, 0)
    assert times == pytest.approx([n / 20 for n in range(10)], abs=0.001)
    assert terminal.time == pytest.approx(0.5, abs=0.001)
    assert terminal.written[0][1].startswith("\x1b[?1049h") and terminal.written[-1][1].endswith(
        "\x1b[?1049l"
    )


def test_a_slow_link_drops_frames_and_keeps_the_time() -> None:
    """Each takes three delays to show: few are seen, each at its own time, and the end is in time."""
    terminal = Terminal(0.151)
    drawn, dropped = play(Rehearsal((scene(20, "1/20"),), ()), terminal.stage(), colour_of)
    assert drawn + dropped == 20 and 5 <= drawn <= 7
    for at, text in terminal.written:
        if "48;2;" in text:
            shown = int(text.split("38;2;")[1].split(";")[0])
            assert shown == int(at * 20)
    assert terminal.time <= 1.0 + 0.152


def test_a_row_that_has_not_changed_is_not_sent_again() -> None:
    """A still picture costs one drawing."""
    terminal = Terminal(0.0)
    still = lambda _scene, _index: Image.new("RGB", (16, 8), (9, 9, 9))  # noqa: E731
    play(Rehearsal((scene(10, "1/20"),), ()), terminal.stage(), still)
    assert sum("48;2;" in text for _, text in terminal.written) == 1


def test_the_terminal_is_put_right_when_it_is_stopped() -> None:
    """Ctrl-C in the middle: the cursor is there again, and the screen as it was."""

    def stop(_scene: Scene, index: int) -> Image.Image:
        if index == 3:
            raise KeyboardInterrupt
        return colour_of(_scene, index)

    terminal = Terminal(0.0)
    with pytest.raises(KeyboardInterrupt):
        play(Rehearsal((scene(10, "1/20"),), ()), terminal.stage(), stop)
    assert terminal.written[-1][1] == "\x1b[0m\x1b[?25h\x1b[?1049l"


def test_a_key_stops_it_and_another_goes_on() -> None:
    """While it stands no time passes for it; nothing is dropped by standing."""
    terminal = Terminal(0.0, {0.12: " ", 5.12: " "})
    drawn, dropped = play(Rehearsal((scene(4, "1/20"),), ()), terminal.stage(), colour_of)
    assert [(round(at, 2), shown) for at, shown in terminal.frames()] == [
        (0, 0),
        (0.05, 1),
        (0.1, 2),
        (5.17, 3),
    ]
    assert dropped == 0 and terminal.time == pytest.approx(5.22, abs=0.01)
    assert drawn >= 4


def test_it_is_stepped_frame_by_frame_both_ways() -> None:
    """Never before the first nor after the last; then it goes on from there."""
    keys = dict(enumerate([",", ".", ".", "\x1b[D", ".", ".", ".", "q"], start=1))
    terminal = Terminal(0.0, {0.01: ",", **{float(at): key for at, key in keys.items()}})
    play(Rehearsal((scene(4, "1/20"),), ()), terminal.stage(), colour_of)
    assert [shown for _, shown in terminal.frames()] == [0, 1, 2, 1, 2, 3]
    assert any("frame 4 of 4" in text for _, text in terminal.written)


def test_what_costs_too_much_is_shown_smaller() -> None:
    """Noise on a large terminal: no frame costs more than is allowed."""
    noise = Image.effect_noise((400, 300), 90).convert("RGB")
    terminal = Terminal(0.0)
    stage = Stage(240, 80, True, terminal.write, lambda: terminal.time, terminal.wait)
    play(Rehearsal((scene(2, "1/20"),), ()), stage, lambda _scene, _index: noise)
    sizes = [len(text.encode()) for _, text in terminal.written if "48;2;" in text]
    assert sizes and max(sizes) <= MOST_BYTES + 2048


def test_the_menu_stays_until_a_key_is_pressed() -> None:
    menu = Scene("menu", Fraction(1, 5), None, "menu tales: 1 entry", lines=("Boats",))
    terminal = Terminal(0.0, {9.0: "x"})
    play(Rehearsal((scene(4, "1/20"), menu), ()), terminal.stage(), colour_of, holds=True)
    assert terminal.time == 9.0 and any("Boats" in text for _, text in terminal.written)


class Link:
    """A terminal at the end of a slow link that takes everything at once and hands it on byte by byte."""

    def __init__(self, bytes_a_second: float, delay: float = 0.0) -> None:
        self.time = self.free = 0.0
        self.rate, self.delay = bytes_a_second, delay
        self.answers: list[float] = []
        self.seen: list[tuple[float, int, float]] = []
        """When a frame was there as a whole, which one, and how long it was on its way."""

    def write(self, text: str) -> None:
        took = len(text.encode()) / self.rate
        self.free = max(self.free, self.time) + took
        if "38;2;" in text:
            self.seen.append((self.free, int(text.split("38;2;")[1].split(";")[0]), took))
        if text == "\x1b[5n":
            self.answers.append(self.free + self.delay)

    def wait(self, seconds: float) -> str:
        if self.answers and self.answers[0] <= self.time + seconds:
            self.time = max(self.time, self.answers.pop(0))
            return "\x1b[0n"
        self.time += seconds
        return ""


def striped(_scene: Scene, index: int) -> Image.Image:
    """A frame of some size on its way."""
    picture = Image.new("RGB", (18, 14), (index, 0, 0))
    for x in range(1, 18, 2):
        picture.paste((index, 255 - index, x * 9), (x, 0, x + 1, 14))
    return picture


@pytest.mark.parametrize("rate", [6_000, 20_000, 60_000])
def test_a_link_that_holds_back_delays_no_frame(rate: int) -> None:
    """Each frame that is seen was due when it was sent: late by its own way at most, whatever the buffers."""
    link = Link(rate)
    stage = Stage(20, 8, True, link.write, lambda: link.time, link.wait, asks=True)
    drawn, dropped = play(Rehearsal((scene(60, "1/20"),), ()), stage, striped)
    began = 0.0
    assert drawn + dropped == 60 and len(link.seen) == drawn >= 3
    for at, index, took in link.seen:
        assert at - took - (began + index / 20) < 1 / 20 + 0.01
    assert not link.answers, "nothing is left for whoever reads the keys next"


def test_a_terminal_that_does_not_answer_is_asked_once() -> None:
    """Half a second is waited; then it plays as ever."""
    terminal = Terminal(0.001)
    stage = terminal.stage()
    stage.asks = True
    assert play(Rehearsal((scene(10, "1/20"),), ()), stage, colour_of) == (10, 0)
    assert sum(text == "\x1b[5n" for _, text in terminal.written) == 1
    assert terminal.time == pytest.approx(1.0, abs=0.01)


def test_keys_come_as_they_are_pressed(monkeypatch: pytest.MonkeyPatch) -> None:
    """From a terminal: no line to wait for, ctrl-C as a key; its modes are as before in the end."""
    main, other = os.openpty()
    try:
        before = termios.tcgetattr(other)
        with os.fdopen(os.dup(other)) as keyboard, monkeypatch.context() as patched:
            patched.setattr("sys.stdin", keyboard)
            with open_stage() as stage:
                assert stage.asks and stage.wait(0) == ""
                for key in (b" ", b"\x03", b"\x1b[0n."):
                    os.write(main, key)
                    assert stage.wait(5) == key.decode()
                os.write(main, b"left over")
        assert termios.tcgetattr(other) == before
        assert select.select([other], [], [], 0)[0] == []
    finally:
        os.close(main)
        os.close(other)


def test_progress_says_how_long_it_will_take(capsys: pytest.CaptureFixture[str]) -> None:
    """By what was done so far; at most four times a second; on standard error alone."""
    clock = [0.0]
    watch = Watch(is_quiet=False, now=lambda: clock[0])
    for done in range(101):
        clock[0] = done / 10
        watch.progress(Progress("rendering", done, 100))
    out, err = capsys.readouterr()
    reports = [one for one in err.split("\r\x1b[K") if one]
    assert out == "" and len(reports) <= 41
    assert "rendering: 30 of 100, 7 s left" in reports and reports[-1] == "rendering: 100 of 100"
    slow = Watch(is_quiet=True, now=lambda: 100.0)
    slow.progress(Progress("x", 1, 1000))
    assert slow.describe(Progress("x", 2, 1000), 100.4) == "x: 2 of 1000"
    assert slow.describe(Progress("x", 11, 1000), 104.0) == "x: 11 of 1000, 6 min 36 s left"
