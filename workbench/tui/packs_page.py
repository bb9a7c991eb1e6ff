"""Packs: those on the card, and one that is open, part by part, before anything of it is written.

A pack is a change of its own, so that it can be taken out again: it joins an empty waiting plan only.
"""

from __future__ import annotations

import asyncio
from collections.abc import Iterable, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from textual import work
from textual.containers import Container
from textual.widget import Widget

from workbench.assets import find_assets
from workbench.errors import CardwrightError
from workbench.tui.actions import bindings_for
from workbench.tui.costs import count_words
from workbench.tui.line_list import LineList
from workbench.tui.lines import Line
from workbench.tui.pack_lines import ORDER, brought_line, note_lines, part_line, sum_up
from workbench.tui.packing import (
    OpenPack,
    add_wish,
    look_into,
    plan_removal,
    read_brought,
    read_difference,
)
from workbench.tui.page import Page
from workbench.values import replace

if TYPE_CHECKING:
    from workbench.card.paths import VolumePath
    from workbench.changes.brought import BroughtPack, Traces
    from workbench.changes.plan import Plan
    from workbench.jobs.packs.parts import Decision, PackLook, Part
    from workbench.tui.desk import Desk

NO_PACK = "no pack is open: o looks into an archive or a folder"
WRITE_FIRST = "A pack is a change of its own. Write the waiting plan first (w), or drop it (D)."


class PacksPage(Page):
    """Packs on the card, the parts of the open one, and what is to be said of one part."""

    where = "packs"
    BINDINGS = bindings_for("packs")
    CSS_PATH = [find_assets("styles") / "pages.tcss", find_assets("styles") / "packs.tcss"]  # noqa: RUF012 - as Textual has it
    AUTO_FOCUS = "#packs"

    def __init__(self) -> None:
        super().__init__()
        self._traces: Traces | None = None
        self._open: OpenPack | None = None
        self._found: PackLook | None = None
        self._parts: Sequence[Part] = ()
        self._differences: dict[str, list[str]] = {}

    def compose_body(self) -> Iterable[Widget]:
        with Container(id="pack-panes"):
            yield LineList(id="packs", empty="reading …")
            yield LineList(id="parts", empty=NO_PACK)
            yield LineList(id="part")

    def on_mount(self) -> None:
        self.query_one("#packs", LineList).set_title("Packs on this card")
        self.query_one("#parts", LineList).set_title("The open pack")
        self.query_one("#part", LineList).set_title("The part")

    # Reading

    def show_desk(self) -> None:
        if self.desk is not None and self.desk.profile is not None:
            self._read(self.desk)
        else:
            self.query_one("#packs", LineList).show((), empty="no device profile fits this card")

    @work(exclusive=True, group="packs", exit_on_error=False)
    async def _read(self, desk: Desk) -> None:
        try:
            self._traces = await asyncio.to_thread(read_brought, desk)
        except CardwrightError as error:
            self.workbench.say_error(error)
            return
        lines = [brought_line(one) for one in self._traces.packs]
        self.query_one("#packs", LineList).show(lines, empty="no pack was added to this card")
        if self._open is not None:
            await self._look(desk, self._traces, self._open)
        self.show_keys()

    async def _look(self, desk: Desk, traces: Traces, opened: OpenPack) -> None:
        parts = self.query_one("#parts", LineList)
        parts.set_title(f"Looking into {opened.source.name} …")
        try:
            found = await asyncio.to_thread(look_into, desk, traces, opened)
        except CardwrightError as error:
            self._open = self._found = None
            self._parts = ()
            parts.set_title("The open pack")
            parts.show((), empty=NO_PACK)
            self.workbench.say_error(error)
            return
        self._found = found
        self._differences = {}
        rank = {standing: place for place, standing in enumerate(ORDER)}
        self._parts = sorted(found.parts, key=lambda one: (rank[one.standing], one.path))
        self._show_parts()

    def _show_parts(self) -> None:
        if self._found is None or self._open is None:
            return
        decisions = self._open.decisions
        parts = self.query_one("#parts", LineList)
        parts.set_title(sum_up(self._found, decisions))
        parts.show([part_line(one, decisions.get(one.path)) for one in self._parts], empty="it is empty")
        self.show_keys()

    # The part under the cursor

    @property
    def part(self) -> Part | None:
        """The part under the cursor."""
        at = self.query_one("#parts", LineList).cursor
        return self._parts[at] if at < len(self._parts) else None

    @property
    def brought(self) -> BroughtPack | None:
        """The pack on the card that is under the cursor."""
        at = self.query_one("#packs", LineList).cursor
        packs = self._traces.packs if self._traces is not None else ()
        return packs[at] if at < len(packs) else None

    def on_line_list_cursor_moved(self, message: LineList.CursorMoved) -> None:
        if message.line_list.id == "parts" and self._found is not None and self.desk is not None:
            self._show_part(self.desk, self._found)
            self.show_keys()

    @work(exclusive=True, group="part", exit_on_error=False)
    async def _show_part(self, desk: Desk, found: PackLook) -> None:
        part = self.part
        if part is not None and part.path not in self._differences and part.standing in ("clash", "changed"):
            try:
                self._differences[part.path] = await asyncio.to_thread(read_difference, desk, found, part)
            except CardwrightError as error:
                self._differences[part.path] = [f" {error.message}"]
        if found is not self._found or part is not self.part:
            return
        pane = self.query_one("#part", LineList)
        decision = self._open.decisions.get(part.path) if self._open and part else None
        difference = self._differences.get(part.path, []) if part else []
        pane.show(note_lines(found, part, difference, decision, max(20, pane.size.width - 4)), 0)

    def on_line_list_chosen(self, message: LineList.Chosen) -> None:
        if message.line_list.id == "parts" and self.can_do("packs.place"):
            self.action_packs_place()

    # Actions

    def can_do(self, action_id: str) -> bool:
        part = self.part if self._found is not None else None
        if action_id in ("packs.mine", "packs.theirs", "packs.both"):
            return part is not None and part.standing == "clash"
        if action_id == "packs.add":
            return self._found is not None
        if action_id == "packs.place":
            return self._found is not None and bool(self._found.questions)
        if action_id == "packs.leave-out":
            return part is not None
        return self.brought is not None if action_id == "packs.remove" else super().can_do(action_id)

    def action_packs_open(self) -> None:
        from workbench.tui.path_dialog import PathDialog

        start = f"{self._open.source.parent}/" if self._open is not None else "~/"
        self.app.push_screen(PathDialog("Look into a pack: an archive or a folder", start), self._open_path)

    def _open_path(self, text: str | None) -> None:
        if text:
            self._open = OpenPack(Path(text).expanduser())
            self._look_again()

    def _look_again(self) -> None:
        if self.desk is not None and self.desk.profile is not None:
            self._read(self.desk)

    def action_packs_mine(self) -> None:
        self._decide("mine")

    def action_packs_theirs(self) -> None:
        self._decide("theirs")

    def action_packs_both(self) -> None:
        self._decide("both")

    def _decide(self, decision: Decision) -> None:
        part = self.part
        if part is None or part.standing != "clash" or self._open is None:
            return
        self._open = replace(self._open, decisions={**self._open.decisions, part.path: decision})
        self._show_parts()
        self.query_one("#parts", LineList).action_cursor_down()

    def action_packs_leave_out(self) -> None:
        part = self.part
        if part is None or self._open is None:
            return
        without = self._open.without
        is_out = part.path in without
        without = tuple(one for one in without if one != part.path) if is_out else (*without, part.path)
        self._open = replace(self._open, without=without)
        self._look_again()

    def action_packs_place(self) -> None:
        from workbench.tui.choice_dialog import ChoiceDialog

        if self._found is None or not self._found.questions:
            return
        question = self._found.questions[0]
        lines = [Line.of((str(place), "place")) for place in question.choices]
        dialog = ChoiceDialog(question.text, [*lines, Line.of("another place …")])
        self.app.push_screen(dialog, partial(self._place, question.top, question.choices))

    def _place(self, top: str, choices: Sequence[VolumePath], index: int | None) -> None:
        from workbench.tui.name_dialog import TextDialog

        if index is None:
            return
        if index < len(choices):
            self._answer(top, str(choices[index]))
            return
        dialog = TextDialog("VOLUME:FOLDER", str(choices[0]) if choices else "", check=self._place_fault)
        self.app.push_screen(dialog, partial(self._answer, top))

    def _place_fault(self, text: str) -> str | None:
        from workbench.card.paths import VolumePath

        try:
            at = VolumePath.parse(text)
        except CardwrightError as error:
            return error.message
        roles = self.desk.disk.roles() if self.desk is not None else ()
        return None if at.volume in roles else f"the card has no volume {at.volume}"

    def _answer(self, top: str, text: str | None) -> None:
        from workbench.card.paths import VolumePath

        if text and self._open is not None:
            into = {**self._open.into, top: VolumePath.parse(text)}
            self._open = replace(self._open, into=into)
            self._look_again()

    def action_packs_add(self) -> None:
        if self._found is None or self._open is None or not self._has_room():
            return
        undecided = [one for one in self._found.of("clash") if one.path not in self._open.decisions]
        if undecided:
            self.workbench.say(f"Decide first what becomes of {undecided[0].at}: m, t or b.")
            self.query_one("#parts", LineList).move_cursor(self._parts.index(undecided[0]))
            return
        self.workbench.wish(add_wish(self._found, self._open.decisions))

    def _has_room(self) -> bool:
        if self.workbench.has_wishes:
            self.workbench.say(WRITE_FIRST)
            return False
        return True

    def action_packs_remove(self) -> None:
        if (
            self.brought is not None
            and self.desk is not None
            and self._traces is not None
            and self._has_room()
        ):
            self._remove(self.desk, self.brought, self._traces)

    @work(exclusive=True, group="remove", exit_on_error=False)
    async def _remove(self, desk: Desk, brought: BroughtPack, traces: Traces) -> None:
        try:
            plan = await asyncio.to_thread(plan_removal, desk, brought, traces)
        except CardwrightError as error:
            self.workbench.say_error(error)
            return
        if desk is not self.desk:
            return
        if not plan.conflicts:
            self._wish(plan)
            return
        from workbench.tui.dialog import Question

        first = "\n".join(f"! {one.at} {one.because}" for one in plan.conflicts[:4])
        edited = count_words(len(plan.conflicts), "file was", "files were")
        text = f"{edited} edited since and would stay:\n{first}"
        answers = {"r": ("rest", "take out the rest")} if plan.steps else {}
        self.app.push_screen(
            Question("Edited since the pack came", text, answers), partial(self._take_rest, plan)
        )

    def _take_rest(self, plan: Plan, answer: str | None) -> None:
        if answer == "rest":
            self._wish(replace(plan, conflicts=()))

    def _wish(self, plan: Plan) -> None:
        self.workbench.wish(lambda _tree, _profile: plan)

    def step_back(self) -> bool:
        """Close the open pack."""
        if self._open is None:
            return False
        self._open = self._found = None
        self._parts = ()
        parts = self.query_one("#parts", LineList)
        parts.set_title("The open pack")
        parts.show((), empty=NO_PACK)
        self.query_one("#part", LineList).show(())
        self.show_keys()
        return True
