"""The boot animations on the card: which plays, what is wrong with one, playing and mending it.

Nothing is played before its flashes were examined, unless the person says so. What is asked for joins the
waiting plan, and what is shown is the card as that plan will leave it.
"""

from __future__ import annotations

import asyncio
from collections.abc import Iterable, Sequence
from fractions import Fraction
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from textual import work
from textual.containers import Container
from textual.widget import Widget

from workbench.assets import find_assets
from workbench.errors import CardwrightError
from workbench.tui.actions import bindings_for
from workbench.tui.animating import (
    Fingerprint,
    choose_wish,
    examine,
    export,
    fingerprint,
    mend_wish,
    read_facts,
    read_frame,
    read_pace_text,
    rehearse_one,
    remove_wish,
    renumber_wish,
    resizing,
    retiming,
)
from workbench.tui.animation_lines import animation_line, facts_lines
from workbench.tui.dialog import Question
from workbench.tui.fit_dialog import FitDialog, Fitting, colour_fault
from workbench.tui.flash_question import ask_about_flashes
from workbench.tui.line_list import LineList
from workbench.tui.lines import Line
from workbench.tui.long_work import do_long_work
from workbench.tui.on_stage import play_on_stage
from workbench.tui.page import Page
from workbench.tui.picture_pane import Cells, PicturePane, fit_cells
from workbench.values import replace

if TYPE_CHECKING:
    from workbench.jobs.animation import AnimationFacts
    from workbench.media.flash_verdict import FlashVerdict
    from workbench.tui.animating import LongPlan
    from workbench.tui.desk import Desk, Wish

MOST_BYTES = 24 * 1024
"""Of a frame in its pane."""
REMEMBERED = 8
"""How many verdicts are held."""
NONE = "no boot animation is on this card: n makes one"


class AnimationsPage(Page):
    """All of them, what is known of the one under the cursor, and a frame of it."""

    where = "animations"
    BINDINGS = bindings_for("animations")
    CSS_PATH = [find_assets("styles") / "pages.tcss", find_assets("styles") / "motion.tcss"]  # noqa: RUF012 - as Textual has it
    AUTO_FOCUS = "#animations"

    def __init__(self) -> None:
        super().__init__()
        self._facts: Sequence[AnimationFacts] = ()
        self._verdicts: dict[Fingerprint, FlashVerdict] = {}
        self._frame = 0
        self._shown_name = ""

    def compose_body(self) -> Iterable[Widget]:
        with Container(id="motion-panes"):
            yield LineList(id="animations", empty="reading …")
            yield LineList(id="facts")
            yield PicturePane(id="frame", classes="pane")

    def on_mount(self) -> None:
        self.query_one("#animations", LineList).set_title("Boot animations")

    # Reading

    def show_desk(self) -> None:
        if self.desk is not None and self.desk.profile is not None:
            self._read(self.desk)
        else:
            self._facts = ()
            self.query_one("#animations", LineList).show((), empty="no device profile fits this card")

    @work(exclusive=True, group="animations", exit_on_error=False)
    async def _read(self, desk: Desk) -> None:
        listed = self.query_one("#animations", LineList)
        try:
            self._facts = await asyncio.to_thread(read_facts, desk)
        except CardwrightError as error:
            self._facts = ()
            listed.show((), empty="there is nothing to show here")
            self.workbench.say_error(error)
            return
        playing = next((one.animation.name for one in self._facts if one.animation.is_chosen), "nothing")
        listed.set_title(f"Boot animations: {playing} plays at start" if self._facts else "Boot animations")
        listed.show([animation_line(one) for one in self._facts], empty=NONE)
        if not self._facts:
            self.query_one("#facts", LineList).show(())
            self.query_one("#frame", PicturePane).show(Line(()))
        self.show_keys()

    @property
    def facts(self) -> AnimationFacts | None:
        """The animation under the cursor."""
        at = self.query_one("#animations", LineList).cursor
        return self._facts[at] if at < len(self._facts) else None

    def on_line_list_cursor_moved(self, message: LineList.CursorMoved) -> None:
        if message.line_list.id == "animations" and self.facts is not None:
            if self.facts.animation.name != self._shown_name:
                self._shown_name = self.facts.animation.name
                self._frame = len(self.facts.animation.frames) // 2
            self._show_facts()
            self._show_frame()
            self.show_keys()

    def on_line_list_chosen(self, message: LineList.Chosen) -> None:
        if message.line_list.id == "animations" and self.can_do("animations.play"):
            self.action_animations_play()

    def on_resize(self) -> None:
        super().on_resize()
        self.call_after_refresh(self._show_again)

    def _show_again(self) -> None:
        if self.is_mounted and self.facts is not None:
            self._show_facts()
            self._show_frame()

    def _show_facts(self) -> None:
        facts, desk = self.facts, self.desk
        if facts is None or desk is None:
            return
        pane = self.query_one("#facts", LineList)
        pane.set_title(facts.animation.name)
        verdict = self._verdicts.get(fingerprint(desk, facts))
        pane.show(facts_lines(facts, verdict, max(20, pane.size.width - 5)), 0)

    # The frame

    @work(exclusive=True, group="frame", exit_on_error=False)
    async def _show_frame(self) -> None:
        facts, desk, pane = self.facts, self.desk, self.query_one("#frame", PicturePane)
        if facts is None or desk is None:
            return
        frames = facts.animation.frames
        if not frames:
            pane.show(Line.of(("no frames", "muted")))
            return
        index = self._frame = max(0, min(self._frame, len(frames) - 1))
        said = f"frame {index + 1} of {len(frames)}  "
        caption = Line.of((said, "muted"), frames[index].at.name)
        try:
            cells = await asyncio.to_thread(_cells_of, desk, facts, index, pane.room)
        except CardwrightError as error:
            pane.show(caption, (), f"! {error.message}")
            return
        if facts is self.facts and index == self._frame:
            pane.show(caption, cells)

    def action_animations_next(self) -> None:
        self._step(1)

    def action_animations_before(self) -> None:
        self._step(-1)

    def _step(self, by: int) -> None:
        if self.facts is not None and self.facts.animation.frames:
            self._frame = (self._frame + by) % len(self.facts.animation.frames)
            self._show_frame()

    # Playing and examining

    def can_do(self, action_id: str) -> bool:
        facts = self.facts
        if action_id == "animations.new":
            return self.desk is not None and self.desk.profile is not None
        if action_id == "animations.none":
            return any(one.animation.is_chosen for one in self._facts)
        if action_id == "animations.choose":
            return facts is not None and not facts.animation.is_chosen
        if action_id in _NEEDS_FRAMES:
            return facts is not None and bool(facts.animation.frames)
        return facts is not None if action_id.startswith("animations.") else super().can_do(action_id)

    def action_animations_play(self) -> None:
        if self.facts is not None and self.desk is not None and self.facts.animation.frames:
            self._play(self.desk, self.facts)

    @work(exclusive=True, group="play", exit_on_error=False)
    async def _play(self, desk: Desk, facts: AnimationFacts) -> None:
        """Play it where its flashes pass; else ask first."""
        name = facts.animation.name
        verdict = self._verdicts.get(fingerprint(desk, facts))
        while verdict is None or not verdict.passes:
            answer = await ask_about_flashes(self.workbench, name, verdict)
            if answer == "play":
                break
            if answer != "examine":
                return
            verdict = await self._examine(desk, facts)
            if verdict is None:
                return
        try:
            rehearsal = await asyncio.to_thread(rehearse_one, desk.tree(), desk.known_profile(), name)
        except CardwrightError as error:
            self.workbench.say_error(error)
            return
        play_on_stage(self.workbench, rehearsal, desk.tree(), desk.known_profile())

    def action_animations_examine(self) -> None:
        if self.facts is not None and self.desk is not None and self.facts.animation.frames:
            self._examine_alone(self.desk, self.facts)

    @work(exclusive=True, group="play", exit_on_error=False)
    async def _examine_alone(self, desk: Desk, facts: AnimationFacts) -> None:
        await self._examine(desk, facts)

    async def _examine(self, desk: Desk, facts: AnimationFacts) -> FlashVerdict | None:
        key, name = fingerprint(desk, facts), facts.animation.name
        verdict = await do_long_work(self.workbench, f"Examining {name}", partial(examine, desk, name))
        if verdict is not None:
            held = list(self._verdicts.items())[1 - REMEMBERED :]
            self._verdicts = dict([*held, (key, verdict)])
            self._show_facts()
        return verdict

    # Changing

    def action_animations_new(self) -> None:
        self.workbench.action_show_page("animate")

    def action_animations_choose(self) -> None:
        if self.facts is not None:
            self.workbench.wish(choose_wish(self.facts.animation.name))

    def action_animations_none(self) -> None:
        self.workbench.wish(choose_wish(None))

    def action_animations_renumber(self) -> None:
        if self.facts is not None:
            self.workbench.wish(renumber_wish(self.facts.animation.name))

    def action_animations_mend(self) -> None:
        if self.facts is None:
            return
        name = self.facts.animation.name
        question = Question(
            f"Mend {name}",
            "Where a frame is missing, the one before it can stand twice (the length stays), or those behind "
            "can close up (it gets shorter). The count is set right either way.",
            {"r": ("repeat", "repeat the one before"), "c": ("close", "close up")},
        )
        self.app.push_screen(question, partial(self._mend, name))

    def _mend(self, name: str, answer: str | None) -> None:
        if answer == "repeat":
            self.workbench.wish(mend_wish(name, "repeat"))
        elif answer == "close":
            self.workbench.wish(mend_wish(name, "close"))

    def action_animations_remove(self) -> None:
        if self.facts is not None:
            self.workbench.wish(remove_wish(self.facts.animation.name))

    def action_animations_retime(self) -> None:
        from workbench.tui.name_dialog import TextDialog

        if self.facts is None:
            return
        one = self.facts.animation
        now = f"{float(one.pace.delay * 1000):g} ms" if one.pace is not None else ""
        note = "Milliseconds from one frame to the next, or frames a second: 35 ms, 24 fps."
        dialog = TextDialog(f"Another pace for {one.name}", now, check=_pace_fault, note=note)
        self.app.push_screen(dialog, partial(self._ask_what_is_kept, one.name))

    def _ask_what_is_kept(self, name: str, text: str | None) -> None:
        if not text:
            return
        question = Question(
            f"{name} at {text.strip()}",
            "The same frames, and another length; or the same length, and as many frames as it then needs.",
            {"f": ("frames", "keep the frames"), "l": ("length", "keep the length")},
        )
        self.app.push_screen(question, partial(self._retime, name, read_pace_text(text)))

    def _retime(self, name: str, delay: Fraction, answer: str | None) -> None:
        if answer is not None:
            self._plan_long(f"Retiming {name}", retiming(name, delay, resample=answer == "length"))

    def action_animations_resize(self, fitting: Fitting | None = None) -> None:
        if self.facts is not None:
            name = self.facts.animation.name
            dialog = FitDialog(f"Bring {name} to the panel's size", fitting or Fitting())
            self.app.push_screen(dialog, partial(self._resize, name))

    def _resize(self, name: str, fitting: Fitting | None) -> None:
        from workbench.tui.name_dialog import TextDialog

        if fitting is None:
            return
        if not fitting.asks_colour:
            self._plan_long(f"Scaling {name}", resizing(name, fitting.fit, fitting.background))
            return
        dialog = TextDialog("Colour: #rrggbb, or a name", fitting.background, check=colour_fault)
        self.app.push_screen(dialog, partial(self._resize_on, fitting))

    def _resize_on(self, fitting: Fitting, text: str | None) -> None:
        behind = fitting.background if text is None else text.strip()
        self.action_animations_resize(replace(fitting, background=behind, asks_colour=False))

    def _plan_long(self, title: str, plan: LongPlan) -> None:
        """Plan it under a dialog, once nothing else is being planned; then it is a wish like any other."""
        if self.desk is not None:
            self.workbench.when_planned(partial(self._plan_now, self.desk, title, plan))

    @work(exclusive=True, group="plan-long", exit_on_error=False)
    async def _plan_now(self, desk: Desk, title: str, plan: LongPlan) -> None:
        tree, profile, was = desk.tree(), desk.known_profile(), desk.waiting
        made = await do_long_work(self.workbench, title, partial(plan, tree, profile))
        if made is None or desk is not self.desk:
            return
        if desk.waiting is not was:
            self.workbench.say("The waiting plan has changed meanwhile; nothing was added. Ask again.")
            return
        wish: Wish = lambda _tree, _profile: made  # noqa: E731
        self.workbench.wish(wish)

    # Writing out

    def action_animations_export(self) -> None:
        from workbench.tui.path_dialog import PathDialog

        if self.facts is None or self.desk is None:
            return
        name = self.facts.animation.name
        note = "A .gif, or an .mp4 with its sound; on this computer."
        dialog = PathDialog(f"Write {name} out", f"~/{name}.gif", note=note, verb="write it")
        self.app.push_screen(dialog, partial(self._export_to, self.desk, name))

    def _export_to(self, desk: Desk, name: str, text: str | None) -> None:
        if not text:
            return
        target = Path(text).expanduser()
        if not target.exists():
            self._export(desk, name, target, "write")
            return
        question = Question(
            "There is a file of that name", f"{target} would be replaced.", {"r": ("replace", "replace it")}
        )
        self.app.push_screen(question, partial(self._export, desk, name, target))

    def _export(self, desk: Desk, name: str, target: Path, answer: str | None) -> None:
        if answer is not None:
            self._export_now(desk, name, target, overwrite=answer == "replace")

    @work(exclusive=True, group="export", exit_on_error=False)
    async def _export_now(self, desk: Desk, name: str, target: Path, *, overwrite: bool) -> None:
        do = partial(export, desk, name, target, overwrite=overwrite)
        done = await do_long_work(self.workbench, f"Writing {target.name}", do)
        if done is not None:
            said = f"Wrote {done.path}: {done.frames} frames, {done.bytes:,} bytes."
            self.workbench.say(" ".join((said, *done.notes)))


_NEEDS_FRAMES = (
    *("animations.play", "animations.retime", "animations.resize", "animations.renumber"),
    *("animations.mend", "animations.export", "animations.examine"),
    *("animations.next", "animations.before"),
)


def _cells_of(desk: Desk, facts: AnimationFacts, index: int, room: tuple[int, int]) -> Cells:
    return fit_cells(read_frame(desk, facts, index), room, MOST_BYTES)


def _pace_fault(text: str) -> str | None:
    try:
        read_pace_text(text)
    except CardwrightError as error:
        return error.message
    return None
