"""The whole start as the device will show it: splash, boot animation, menu; a timeline, and playing it."""

from __future__ import annotations

import asyncio
from collections.abc import Iterable
from functools import partial
from typing import TYPE_CHECKING

from textual import work
from textual.containers import Container
from textual.widget import Widget

from workbench.assets import find_assets
from workbench.errors import CardwrightError
from workbench.tui.actions import bindings_for
from workbench.tui.animating import examine
from workbench.tui.flash_question import ask_about_flashes
from workbench.tui.line_list import LineList
from workbench.tui.lines import Line
from workbench.tui.long_work import do_long_work
from workbench.tui.on_stage import play_on_stage
from workbench.tui.page import Page
from workbench.tui.picture_pane import Cells, PicturePane, fit_cells
from workbench.tui.rehearsal_lines import scene_line, scene_lines

if TYPE_CHECKING:
    from workbench.jobs.rehearsal import Rehearsal, Scene
    from workbench.tui.desk import Desk
    from workbench.tui.waiting import Waiting

MOST_BYTES = 24 * 1024
"""Of a picture in its pane."""


class RehearsalPage(Page):
    """The scenes, what belongs to the one under the cursor, and its picture."""

    where = "rehearsal"
    BINDINGS = bindings_for("rehearsal")
    CSS_PATH = [find_assets("styles") / "pages.tcss", find_assets("styles") / "motion.tcss"]  # noqa: RUF012 - as Textual has it
    AUTO_FOCUS = "#scenes"

    def __init__(self) -> None:
        super().__init__()
        self._rehearsal: Rehearsal | None = None
        self._menu: str | None = None
        self._passed: Waiting | None = None
        """The waiting plan with which the animation passed the examination for flashes."""

    def compose_body(self) -> Iterable[Widget]:
        with Container(id="motion-panes"):
            yield LineList(id="scenes", empty="reading …")
            yield LineList(id="scene")
            yield PicturePane(id="picture", classes="pane")

    def on_mount(self) -> None:
        self.query_one("#scenes", LineList).set_title("The start")

    # Reading

    def show_desk(self) -> None:
        if self.desk is not None and self.desk.profile is not None:
            self._read(self.desk)
        else:
            self.query_one("#scenes", LineList).show((), empty="no device profile fits this card")

    @work(exclusive=True, group="rehearsal", exit_on_error=False)
    async def _read(self, desk: Desk) -> None:
        shown = self.query_one("#scenes", LineList)
        try:
            self._rehearsal = await asyncio.to_thread(_rehearse, desk, self._menu)
        except CardwrightError as error:
            self._rehearsal = None
            shown.show((), empty="it cannot be told what this device shows")
            self.workbench.say_error(error)
            return
        scenes = self._rehearsal.scenes
        shown.set_title("The start, after the waiting plan" if desk.waiting else "The start")
        shown.show([scene_line(one) for one in scenes], empty="this card has nothing for the start")
        self.show_keys()

    @property
    def scene(self) -> Scene | None:
        """The scene under the cursor."""
        at = self.query_one("#scenes", LineList).cursor
        scenes = self._rehearsal.scenes if self._rehearsal is not None else ()
        return scenes[at] if at < len(scenes) else None

    def on_line_list_cursor_moved(self, message: LineList.CursorMoved) -> None:
        if message.line_list.id == "scenes":
            self._show_scene()

    def on_resize(self) -> None:
        super().on_resize()
        self.call_after_refresh(self._show_scene)

    def _show_scene(self) -> None:
        if not self.is_mounted or self._rehearsal is None or self.scene is None or self.desk is None:
            return
        pane = self.query_one("#scene", LineList)
        pane.show(scene_lines(self._rehearsal, self.scene, max(20, pane.size.width - 5)), 0)
        self._show_picture(self.desk, self.scene)

    @work(exclusive=True, group="picture", exit_on_error=False)
    async def _show_picture(self, desk: Desk, scene: Scene) -> None:
        pane = self.query_one("#picture", PicturePane)
        cells = await asyncio.to_thread(_cells_of, desk, scene, pane.room)
        if scene is not self.scene:
            return
        word = "its middle frame" if scene.kind == "animation" else scene.kind
        pane.show(Line.of((word, "muted")), cells, "" if cells else "no picture")

    # Actions

    def can_do(self, action_id: str) -> bool:
        if action_id in ("rehearsal.play", "rehearsal.menu"):
            return self._rehearsal is not None and bool(self._rehearsal.scenes)
        return super().can_do(action_id)

    def on_line_list_chosen(self) -> None:
        self.action_rehearsal_play()

    def action_rehearsal_play(self) -> None:
        if self._rehearsal is not None and self._rehearsal.scenes and self.desk is not None:
            self._play(self.desk, self._rehearsal)

    @work(exclusive=True, group="play", exit_on_error=False)
    async def _play(self, desk: Desk, rehearsal: Rehearsal) -> None:
        moving = next((one for one in rehearsal.scenes if one.kind == "animation" and one.frames), None)
        if moving is not None and not await self._may_play(desk, moving):
            return
        play_on_stage(self.workbench, rehearsal, desk.tree(), desk.known_profile())

    async def _may_play(self, desk: Desk, moving: Scene) -> bool:
        """Whether its flashes pass, or the person wants it played all the same."""
        name, verdict, was = moving.name, None, desk.waiting
        while self._passed is not was:
            answer = await ask_about_flashes(self.workbench, name, verdict)
            if answer != "examine":
                return answer == "play"
            verdict = await do_long_work(self.workbench, f"Examining {name}", partial(examine, desk, name))
            if verdict is None:
                return False
            if verdict.passes:
                self._passed = was
        return True

    def action_rehearsal_menu(self) -> None:
        if self.desk is not None:
            self._choose_menu(self.desk)

    @work(exclusive=True, group="menus", exit_on_error=False)
    async def _choose_menu(self, desk: Desk) -> None:
        from workbench.tui.choice_dialog import ChoiceDialog

        try:
            menus = await asyncio.to_thread(desk.read_menus, labels=False)
        except CardwrightError as error:
            self.workbench.say_error(error)
            return
        dialog = ChoiceDialog("Which menu comes up", [Line.of(one.id) for one in menus])
        index = await self.app.push_screen_wait(dialog)
        if index is not None:
            self._menu = menus[index].id
            self.show_desk()


def _rehearse(desk: Desk, menu: str | None) -> Rehearsal:
    from workbench.jobs.rehearsal import rehearse

    return rehearse(desk.tree(), desk.known_profile(), menu_id=menu)


def _cells_of(desk: Desk, scene: Scene, room: tuple[int, int]) -> Cells:
    from workbench.jobs.rehearsal import picture_of

    picture = picture_of(desk.tree(), desk.known_profile(), scene, len(scene.frames) // 2)
    return fit_cells(picture, room, MOST_BYTES) if picture is not None else ()
