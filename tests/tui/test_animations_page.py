"""The pages of boot animations, of making one and of the rehearsal, by keys alone; and how they look."""

from __future__ import annotations

import contextlib
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import fake_render
import pytest
from bench_app import NARROW, WIDE, bench_of, labels_read, open_bench, texts, until
from textual.pilot import Pilot
from textual.widgets import Input

from workbench.tui import on_stage
from workbench.tui.app import Workbench
from workbench.tui.dialog import Question
from workbench.tui.path_dialog import PathDialog
from workbench.tui.playing import Stage


class Played:
    """Stands for the terminal: a clock that only waiting moves on; the last scene is ended by a key."""

    def __init__(self) -> None:
        self.time = 0.0
        self.texts: list[str] = []

    def wait(self, seconds: float) -> str:
        if seconds >= 3600:
            return "q"
        self.time += seconds
        return ""

    @contextlib.contextmanager
    def open(self) -> Iterator[Stage]:
        yield Stage(40, 12, True, self.texts.append, lambda: self.time, self.wait)

    @property
    def titles(self) -> list[str]:
        """The lines of words that were drawn."""
        plain = re.sub("\x1b\\[[0-9;?]*[a-zA-Z]", "\n", "".join(self.texts))
        return [line.strip() for line in plain.splitlines() if line.strip("▀ ")]


@pytest.fixture
def card(practice_card: Callable[[str], Path]) -> Path:
    return practice_card("larkspur")


@pytest.fixture
def played(monkeypatch: pytest.MonkeyPatch) -> Played:
    stage = Played()
    monkeypatch.setattr(on_stage, "open_stage", stage.open)
    monkeypatch.setattr(Workbench, "suspend", lambda _self: contextlib.nullcontext())
    return stage


@pytest.fixture
def render(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> fake_render.FakeRender:
    made = fake_render.FakeRender(tmp_path / "renders")
    monkeypatch.setattr("workbench.jobs.animate.planning._default_render", lambda: made)
    monkeypatch.setattr("workbench.jobs.animate.planning._default_probe", lambda: fake_render.probe)
    return made


async def open_page(pilot: Pilot[int], key: str, where: str, listed: str) -> None:
    await labels_read(pilot)
    await pilot.press(key)
    await until(pilot, lambda: bench_of(pilot).page.where == where)
    await until(pilot, lambda: texts(pilot, listed) and not pilot.app.workers)


async def choose_clip(pilot: Pilot[int], clip: Path) -> None:
    await pilot.press("o")
    await until(pilot, lambda: isinstance(pilot.app.screen, PathDialog))
    pilot.app.screen.query_one("#dialog-input", Input).value = str(clip)
    await pilot.press("enter")
    await until(pilot, lambda: not isinstance(pilot.app.screen, PathDialog))


async def render_clip(pilot: Pilot[int], clip: Path) -> None:
    await open_page(pilot, "f4", "animate", "#form")
    await choose_clip(pilot, clip)
    await pilot.press("r")
    await until(pilot, lambda: len(pilot.app.screen_stack) == 2 and texts(pilot, "#report"))


def steps_of(pilot: Pilot[int]) -> list[str]:
    return [str(getattr(step, "at", "")) for step in bench_of(pilot).desk.waiting.plan.steps]


# The list


async def test_what_was_not_examined_is_asked_about_then_played(card: Path, played: Played) -> None:
    """Escape plays nothing; after a verdict that passes, it plays to its end, and again without asking."""
    async with open_bench(card, "larkspur").run_test(size=WIDE) as pilot:
        await open_page(pilot, "f3", "animations", "#animations")
        assert texts(pilot, "#animations")[0].startswith("river  plays at start")
        await pilot.press("p")
        await until(pilot, lambda: isinstance(pilot.app.screen, Question))
        await pilot.press("escape")
        await until(pilot, lambda: not isinstance(pilot.app.screen, Question))
        assert played.texts == []
        await pilot.press("p")
        await until(pilot, lambda: isinstance(pilot.app.screen, Question))
        await pilot.press("x")
        await until(pilot, lambda: played.texts and not pilot.app.workers)
        assert played.time == pytest.approx(0.32, abs=0.001)
        assert any("flashing: passes" in line for line in texts(pilot, "#facts"))
        await pilot.press("p")
        await until(pilot, lambda: played.time > 0.63)


async def test_a_failing_verdict_asks_once_more(
    card: Path, played: Played, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nothing is played by examining alone; only the person's word plays it."""
    from workbench.media.flash_verdict import FlashVerdict

    fails = FlashVerdict(False, None, 9, 0, 18, 0, ("general",))
    monkeypatch.setattr("workbench.jobs.animation_examine.examine_animation", lambda *_args, **_words: fails)
    async with open_bench(card, "larkspur").run_test(size=NARROW) as pilot:
        await open_page(pilot, "f3", "animations", "#animations")
        await pilot.press("p")
        await until(pilot, lambda: isinstance(pilot.app.screen, Question))
        await pilot.press("x")
        await until(
            pilot,
            lambda: isinstance(pilot.app.screen, Question) and "flashes too" in pilot.app.screen.title_text,
        )
        assert played.texts == []
        await pilot.press("p")
        await until(pilot, lambda: played.texts and not pilot.app.workers)
        assert any("FAILS" in line for line in texts(pilot, "#facts"))


async def test_pace_choice_and_removal_join_the_plan(card: Path) -> None:
    """Retimed with its length kept, nothing at start, put away: shown as the plan will leave it."""
    async with open_bench(card, "larkspur").run_test(size=NARROW) as pilot:
        await open_page(pilot, "f3", "animations", "#animations")
        await pilot.press("t")
        await until(pilot, lambda: pilot.app.screen.query("#dialog-input"))
        pilot.app.screen.query_one("#dialog-input", Input).value = "20 fps"
        await pilot.press("enter")
        await until(pilot, lambda: isinstance(pilot.app.screen, Question))
        await pilot.press("l")
        await until(pilot, lambda: bench_of(pilot).desk.waiting and not pilot.app.workers)
        assert "6 frames  0.30 s" in "".join(p for p, _ in _line(pilot).right)
        await pilot.press("o")
        await until(pilot, lambda: len(bench_of(pilot).desk.waiting.wishes) == 2 and not pilot.app.workers)
        assert "at start" not in texts(pilot, "#animations")[0]
        await pilot.press("d")
        await until(pilot, lambda: len(bench_of(pilot).desk.waiting.wishes) == 3 and not pilot.app.workers)
        assert texts(pilot, "#animations") == []
    assert (card / "data/house/motion/river/7.png").exists()


def _line(pilot: Pilot[int]) -> Any:
    from workbench.tui.line_list import LineList

    return pilot.app.screen.query_one("#animations", LineList).lines[0]


async def test_a_gap_is_seen_and_mended(card: Path) -> None:
    (card / "data/house/motion/river/3.png").unlink()
    async with open_bench(card, "larkspur").run_test(size=WIDE) as pilot:
        await open_page(pilot, "f3", "animations", "#animations")
        assert any("frames are missing" in line and "(m" in line for line in texts(pilot, "#facts"))
        await pilot.press("m")
        await until(pilot, lambda: isinstance(pilot.app.screen, Question))
        await pilot.press("r")
        await until(pilot, lambda: bench_of(pilot).desk.waiting and not pilot.app.workers)
        assert steps_of(pilot) == ["data:house/motion/river/3.png"]
        assert not any("missing" in line for line in texts(pilot, "#facts"))


async def test_it_is_written_out_as_a_gif(card: Path, tmp_path: Path) -> None:
    """Pillow reads back as many frames; a file that is there is asked about."""
    from PIL import Image

    target = tmp_path / "river.gif"
    target.write_bytes(b"mine")
    async with open_bench(card, "larkspur").run_test(size=NARROW) as pilot:
        await open_page(pilot, "f3", "animations", "#animations")
        await pilot.press("e")
        await until(pilot, lambda: isinstance(pilot.app.screen, PathDialog))
        pilot.app.screen.query_one("#dialog-input", Input).value = str(target)
        await pilot.press("enter")
        await until(pilot, lambda: isinstance(pilot.app.screen, Question))
        assert target.read_bytes() == b"mine"
        await pilot.press("r")
        await until(pilot, lambda: "8 frames" in str(bench_of(pilot).notice))
    with Image.open(target) as picture:
        assert picture.n_frames == 8


# Making one


@pytest.mark.usefixtures("render")
async def test_a_clip_is_rendered_reported_and_added(card: Path, tmp_path: Path) -> None:
    """The report comes before anything waits; nothing is on the card."""
    clip = fake_render.write_clip(tmp_path, "dawn.fake", duration=0.4)
    async with open_bench(card, "larkspur").run_test(size=WIDE) as pilot:
        await render_clip(pilot, clip)
        report = "\n".join(texts(pilot, "#report"))
        assert "10 frames, 0.4 s" in report and "flashing: passes" in report and "-23.0 LUFS" in report
        assert "Caution" in report and not bench_of(pilot).desk.waiting
        await pilot.press("a")
        await until(pilot, lambda: bench_of(pilot).desk.waiting)
        assert "data:house/motion/dawn/9.png" in steps_of(pilot)
    assert not (card / "data/house/motion/dawn").exists()


async def test_a_remedy_is_one_key_and_is_examined_again(
    card: Path, tmp_path: Path, render: fake_render.FakeRender
) -> None:
    """Where it fails, adding asks; dimmed it passes and is added without a word."""
    clip = fake_render.write_clip(tmp_path, "dawn.fake", duration=0.4, flash=12)
    async with open_bench(card, "larkspur").run_test(size=NARROW) as pilot:
        await render_clip(pilot, clip)
        assert "FAILS" in texts(pilot, "#report")[0]
        await pilot.press("a")
        await until(pilot, lambda: isinstance(pilot.app.screen, Question))
        await pilot.press("escape", "d")
        await until(
            pilot, lambda: len(pilot.app.screen_stack) == 2 and "dimmed" in texts(pilot, "#report")[0]
        )
        assert not any("FAILS" in line for line in texts(pilot, "#report"))
        assert render.orders[-1].dim < 1
        await pilot.press("a")
        await until(pilot, lambda: bench_of(pilot).desk.waiting)


@pytest.mark.usefixtures("render")
async def test_a_changed_line_makes_the_report_stale(card: Path, tmp_path: Path) -> None:
    """What was rendered with other words cannot be added; a line that is wrong says so while it is typed."""
    clip = fake_render.write_clip(tmp_path, "dawn.fake", duration=0.4)
    async with open_bench(card, "larkspur").run_test(size=WIDE) as pilot:
        await render_clip(pilot, clip)
        await pilot.press("shift+tab", "down", "down", "down", "enter")
        await until(pilot, lambda: pilot.app.screen.query("#dialog-input"))
        pilot.app.screen.query_one("#dialog-input", Input).value = "soon"
        await pilot.press("enter")
        await pilot.pause()
        assert pilot.app.screen.query("#dialog-input")
        pilot.app.screen.query_one("#dialog-input", Input).value = "0.2"
        await pilot.press("enter")
        await until(pilot, lambda: texts(pilot, "#report") == [])
        assert not bench_of(pilot).page.can_do("animate.add")
        await pilot.press("r")
        await until(pilot, lambda: len(pilot.app.screen_stack) == 2 and texts(pilot, "#report"))
        assert any("5 frames, 0.2 s" in line for line in texts(pilot, "#report"))


async def test_escape_stops_the_rendering(
    card: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nothing is made, nothing waits, and the form is as it was."""
    from workbench.jobs.animate.run import CancelledError

    def render(_order: Any, *, progress: Any, cancelled: Any) -> Any:
        done = 0
        while not cancelled():
            progress(done, 100)
        raise CancelledError("stopped; nothing was changed")

    monkeypatch.setattr("workbench.jobs.animate.planning._default_render", lambda: render)
    monkeypatch.setattr("workbench.jobs.animate.planning._default_probe", lambda: fake_render.probe)
    clip = fake_render.write_clip(tmp_path, "dawn.fake")
    async with open_bench(card, "larkspur").run_test(size=NARROW) as pilot:
        await open_page(pilot, "f4", "animate", "#form")
        await choose_clip(pilot, clip)
        await pilot.press("r")
        await until(pilot, lambda: len(pilot.app.screen_stack) == 3)
        await pilot.press("escape")
        await until(pilot, lambda: len(pilot.app.screen_stack) == 2)
        assert "Stopped" in str(bench_of(pilot).notice)
        assert texts(pilot, "#report") == [] and not bench_of(pilot).desk.waiting


async def test_a_clip_that_is_none_is_refused_in_a_sentence(card: Path, tmp_path: Path) -> None:
    """By the real worker: a text file is no clip."""
    clip = tmp_path / "no.gif"
    clip.write_bytes(b"GIF89a, but nothing more")
    async with open_bench(card, "larkspur").run_test(size=NARROW) as pilot:
        await open_page(pilot, "f4", "animate", "#form")
        await choose_clip(pilot, clip)
        await pilot.press("r")
        await until(pilot, lambda: bench_of(pilot).notice and len(pilot.app.screen_stack) == 2)
        assert bench_of(pilot).notice.severity == "error" and "no.gif" in bench_of(pilot).notice.text


# The rehearsal


async def test_the_start_is_rehearsed_with_what_waits(card: Path, played: Played) -> None:
    """Splash, animation, menu in the order that the waiting plan gives it; a key ends it."""
    async with open_bench(card, "larkspur").run_test(size=WIDE) as pilot:
        menu = await labels_read(pilot)
        await open_page(pilot, "f5", "rehearsal", "#scenes")
        kinds = [re.split(r"\s{2,}", line.strip())[1].split(":")[0] for line in texts(pilot, "#scenes")]
        assert kinds == ["splash", "river", "menu shelf"]
        await pilot.press("p")
        await until(pilot, lambda: isinstance(pilot.app.screen, Question))
        await pilot.press("p")
        await until(pilot, lambda: played.texts and not pilot.app.workers)
        assert played.time == pytest.approx(2.32, abs=0.01)
        assert menu.entries.rows[0].label in "\n".join(played.titles)


# How they look


@pytest.fixture
def bench(card: Path, monkeypatch: pytest.MonkeyPatch) -> Workbench:
    """The same on any computer: allocation units and the card's name do not come from its folder."""
    from dataclasses import replace

    from workbench.tui.desk import Desk

    monkeypatch.setattr("workbench.tui.app.LOOK_EVERY_S", 3600)
    app = open_bench(card, "larkspur")
    volumes = {role: replace(one, cluster_bytes=4096) for role, one in app.desk.card.volumes.items()}
    return Workbench(
        Desk(replace(app.desk.card, name="Larkspur", volumes=volumes), app.desk.profile), app.profiles
    )


@pytest.mark.parametrize("size", [NARROW, WIDE], ids=["80x24", "120x40"])
def test_the_page_of_animations(
    bench: Workbench, card: Path, size: tuple[int, int], snap_compare: Any
) -> None:
    """One with a gap: the problem, the key that mends it, and a frame."""
    (card / "data/house/motion/river/3.png").unlink()

    async def before(pilot: Pilot[int]) -> None:
        await open_page(pilot, "f3", "animations", "#animations")
        await until(pilot, lambda: texts(pilot, "#facts") and not pilot.app.workers)

    assert snap_compare(bench, terminal_size=size, run_before=before)


@pytest.mark.usefixtures("render")
@pytest.mark.parametrize("size", [NARROW, WIDE], ids=["80x24", "120x40"])
def test_the_page_of_making(
    bench: Workbench, tmp_path: Path, size: tuple[int, int], snap_compare: Any, monkeypatch: Any
) -> None:
    """A clip that flashes too much: the verdict and its remedies stand first."""
    fake_render.write_clip(tmp_path, "dawn.fake", duration=0.4, flash=12)
    monkeypatch.chdir(tmp_path)

    async def before(pilot: Pilot[int]) -> None:
        await render_clip(pilot, Path("dawn.fake"))
        await until(pilot, lambda: not pilot.app.workers)

    assert snap_compare(bench, terminal_size=size, run_before=before)


@pytest.mark.parametrize("size", [NARROW, WIDE], ids=["80x24", "120x40"])
def test_the_page_of_the_rehearsal(bench: Workbench, size: tuple[int, int], snap_compare: Any) -> None:
    """The timeline, and the splash."""

    async def before(pilot: Pilot[int]) -> None:
        await open_page(pilot, "f5", "rehearsal", "#scenes")
        await until(pilot, lambda: texts(pilot, "#scene") and not pilot.app.workers)

    assert snap_compare(bench, terminal_size=size, run_before=before)
