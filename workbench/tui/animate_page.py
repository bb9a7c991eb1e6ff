"""Making a boot animation: a form, what it would come to, and then into the waiting plan.

Nothing is written here, and nothing joins the plan before its report was shown. Another word in the form
makes the report stale: it is rendered again before it can be added.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import partial
from typing import TYPE_CHECKING

from textual import work
from textual.containers import Container
from textual.widget import Widget

from workbench.assets import find_assets
from workbench.errors import CardwrightError
from workbench.tui.actions import bindings_for
from workbench.tui.animate_form import BY_KEY, FIELDS, FormField, fault_of, wish_of
from workbench.tui.animate_lines import field_line, report_lines
from workbench.tui.dialog import Question
from workbench.tui.flash_question import HARM, WORTH, ask_about_flashes
from workbench.tui.line_list import LineList
from workbench.tui.lines import Line
from workbench.tui.long_work import do_long_work
from workbench.tui.making import Made, add_wish, make, rehearse_made
from workbench.tui.on_stage import play_on_stage
from workbench.tui.page import Page

if TYPE_CHECKING:
    from workbench.jobs.animate.wish import AnimateWish
    from workbench.tui.desk import Desk

NO_REPORT = "nothing is rendered yet: o chooses a clip, enter changes a line, r renders and reports"
STALE = "a line was changed: r renders it anew"


class AnimatePage(Page):
    """The form, and the report of what was rendered."""

    where = "animate"
    BINDINGS = bindings_for("animate")
    CSS_PATH = [find_assets("styles") / "pages.tcss", find_assets("styles") / "motion.tcss"]  # noqa: RUF012 - as Textual has it
    AUTO_FOCUS = "#form"

    def __init__(self) -> None:
        super().__init__()
        self._form: dict[str, str] = {}
        self._remedy: str | None = None
        self._made: Made | None = None

    def compose_body(self) -> Iterable[Widget]:
        with Container(id="animate-panes"):
            yield LineList(id="form")
            yield LineList(id="report", empty=NO_REPORT)

    def on_mount(self) -> None:
        self.query_one("#form", LineList).set_title("A boot animation of a clip")
        self.query_one("#report", LineList).set_title("What it would be")
        self._show_form()

    def show_desk(self) -> None:
        if self._made is not None and (self.desk is None or self._made.desk is not self.desk):
            self._forget(NO_REPORT)
        self.show_keys()

    # The form

    def _show_form(self) -> None:
        form = self.query_one("#form", LineList)
        form.show([field_line(one, self._form.get(one.key, "")) for one in FIELDS])

    @property
    def field(self) -> FormField:
        """The line under the cursor."""
        return FIELDS[self.query_one("#form", LineList).cursor]

    def on_line_list_chosen(self, message: LineList.Chosen) -> None:
        if message.line_list.id == "form":
            self._edit(self.field)

    def _edit(self, field: FormField) -> None:
        if field.kind == "choice":
            self._ask_choice(field)
        elif field.kind == "path":
            self._ask_path(field)
        else:
            self._ask_text(field)

    def _ask_choice(self, field: FormField) -> None:
        from workbench.tui.choice_dialog import ChoiceDialog

        at = field.choices.index(self._form.get(field.key) or field.choices[0])
        dialog = ChoiceDialog(field.word, [Line.of(one) for one in field.choices], at)
        self.app.push_screen(dialog, partial(self._take_choice, field))

    def _take_choice(self, field: FormField, index: int | None) -> None:
        if index is not None:
            self._take(field, field.choices[index])

    def _ask_path(self, field: FormField) -> None:
        from workbench.tui.path_dialog import PathDialog

        dialog = PathDialog(field.word, self._form.get(field.key) or "~/", note=field.note, verb="take it")
        self.app.push_screen(dialog, partial(self._take, field))

    def _ask_text(self, field: FormField) -> None:
        from workbench.tui.name_dialog import TextDialog

        value, check = self._form.get(field.key, ""), partial(fault_of, field.key)
        dialog = TextDialog(field.word, value, check=check, note=field.note)
        self.app.push_screen(dialog, partial(self._take, field))

    def _take(self, field: FormField, text: str | None) -> None:
        if text is None or text == self._form.get(field.key, ""):
            return
        self._form[field.key] = text
        self._remedy = None
        self._show_form()
        if self._made is not None:
            self._forget(STALE)
        self.show_keys()

    def _forget(self, empty: str) -> None:
        self._made = None
        report = self.query_one("#report", LineList)
        report.set_title("What it would be")
        report.show((), empty=empty)

    def action_animate_source(self) -> None:
        self._ask_path(BY_KEY["source"])

    def action_animate_clear(self) -> None:
        self._take(self.field, "")

    # Rendering

    def can_do(self, action_id: str) -> bool:
        if action_id == "animate.render":
            return bool(self._form.get("source")) and self.desk is not None and self.desk.profile is not None
        if action_id in ("animate.add", "animate.play"):
            return self._made is not None
        if action_id in ("animate.slower", "animate.dimmed", "animate.shortened"):
            word = action_id.partition(".")[2]
            return self._made is not None and word in self._made.planned.report.remedies
        if action_id == "animate.plain":
            return self._remedy is not None
        return super().can_do(action_id)

    def action_animate_render(self) -> None:
        if self.desk is None or self.desk.profile is None:
            return
        try:
            wish = wish_of(self._form, self.desk.profile, self._remedy)
        except CardwrightError as error:
            self.workbench.say_error(error)
            return
        self.workbench.when_planned(partial(self._render_clip, self.desk, wish))

    @work(exclusive=True, group="render", exit_on_error=False)
    async def _render_clip(self, desk: Desk, wish: AnimateWish) -> None:
        made = await do_long_work(self.workbench, f"Rendering {wish.source.name}", partial(make, desk, wish))
        if made is None or desk is not self.desk:
            return
        self._made = made
        self._show_report(made)
        self.show_keys()

    def _show_report(self, made: Made) -> None:
        report = self.query_one("#report", LineList)
        said = made.planned.report
        report.set_title(f"What {said.name} would be{'' if said.flash.passes else ': ! it flashes too much'}")
        report.show(report_lines(said, self._remedy, max(20, report.size.width - 5)), 0)
        report.focus()

    def on_resize(self) -> None:
        super().on_resize()
        self.call_after_refresh(self._show_again)

    def _show_again(self) -> None:
        if self.is_mounted and self._made is not None:
            report = self.query_one("#report", LineList)
            width = max(20, report.size.width - 5)
            report.show(report_lines(self._made.planned.report, self._remedy, width))

    def action_animate_slower(self) -> None:
        self._remedy_with("slower")

    def action_animate_dimmed(self) -> None:
        self._remedy_with("dimmed")

    def action_animate_shortened(self) -> None:
        self._remedy_with("shortened")

    def action_animate_plain(self) -> None:
        self._remedy_with(None)

    def _remedy_with(self, remedy: str | None) -> None:
        self._remedy = remedy
        self.action_animate_render()

    # Playing, adding

    def action_animate_play(self) -> None:
        if self._made is not None:
            self._play(self._made)

    @work(exclusive=True, group="play", exit_on_error=False)
    async def _play(self, made: Made) -> None:
        report = made.planned.report
        if (
            not report.flash.passes
            and await ask_about_flashes(self.workbench, report.name, report.flash) != "play"
        ):
            return
        rehearsal, tree = rehearse_made(made)
        play_on_stage(self.workbench, rehearsal, tree, made.desk.known_profile())

    def action_animate_add(self) -> None:
        made = self._made
        if made is None:
            return
        if made.planned.report.flash.passes:
            self._add(made, "add")
            return
        helps = ", ".join(f"{one} ({_KEYS[one]})" for one in made.planned.report.remedies)
        question = Question(
            "! It flashes too much",
            f"{HARM} {WORTH}" + (f"\nWhat would help: {helps}." if helps else ""),
            {"y": ("add", "add it all the same")},
        )
        self.app.push_screen(question, partial(self._add, made))

    def _add(self, made: Made, answer: str | None) -> None:
        if answer == "add" and made.desk is self.desk:
            self.workbench.wish(add_wish(made))
            self.workbench.when_planned(partial(self._say_added, made))

    def _say_added(self, made: Made) -> None:
        self.workbench.say(f"{made.planned.report.name} joined the waiting plan; w writes it, f5 rehearses.")


_KEYS = {"slower": "s", "dimmed": "d", "shortened": "x"}
