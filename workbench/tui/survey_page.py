"""The survey: from a card that nobody described to a profile; and one that is there, edited and tried."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from textual import work

from workbench.tui.actions import action_of
from workbench.tui.key_footer import Key
from workbench.tui.line_list import LineList
from workbench.tui.survey_draft import Draft, Existing, Proposed, fault_of
from workbench.tui.survey_view import VIEWS, SurveyView
from workbench.values import replace

if TYPE_CHECKING:
    from workbench.jobs.survey import Finding
    from workbench.tui.lines import Target

_EDITS = ("survey.take", "survey.correct", "survey.drop")
_WITH_DRAFT = ("survey.view", "survey.save", "survey.save-to", "survey.try", "survey.probe")
_FOOTER = ("survey.correct", "survey.drop", "survey.view", "survey.save")
_FOOTER_WITHOUT_MENU = ("app.help", "survey.menu", "survey.correct", "survey.view", "survey.open", "app.quit")
_FOOTER_WITHOUT = ("app.help", "survey.read", "survey.open", "app.quit")


class SurveyPage(SurveyView):
    """Takes orders for the draft."""

    last_folder = ""
    """Where the last profile was taken from."""

    def can_do(self, action_id: str) -> bool:
        draft = self.draft
        if action_id in _EDITS:
            return self.finding is not None
        if action_id == "survey.answer":
            return draft is not None and bool(draft.questions)
        if action_id == "survey.back":
            return isinstance(draft, Proposed) and bool(draft.survey.answers)
        if action_id == "survey.menu":
            return isinstance(draft, Proposed)
        if action_id in _WITH_DRAFT:
            return draft is not None
        if action_id in ("survey.read", "survey.open"):
            return self.desk is not None and self.state != "reading"
        return super().can_do(action_id)

    def footer_keys(self) -> list[Key]:
        if self.state == "reading":
            stop = replace(action_of("page.back"), word="stop")
            return [(action_of("app.help"), True), (stop, True), (action_of("app.quit"), True)]
        if self.draft is None:
            return [(action_of(one), self.can_do(one)) for one in _FOOTER_WITHOUT]
        if isinstance(self.draft, Proposed) and not self.has_menu:
            return [(action_of(one), self.can_do(one)) for one in _FOOTER_WITHOUT_MENU]
        first = "survey.answer" if self.can_do("survey.answer") else "survey.take"
        if isinstance(self.draft, Existing):
            first = "survey.try"
        shown = ["app.help", first, *_FOOTER]
        if self.workbench.has_wishes:
            shown[3:4] = ["plan.write"]
        return [(action_of(one), self.can_do(one)) for one in shown]

    def step_back(self) -> bool:
        if self.stop_reading():
            return True
        if self.workbench.notice is not None:
            self.workbench.unsay()
            return True
        if self.view != "evidence":
            self.show_view("evidence")
            return True
        return False

    # Questions

    def has_surveyed(self) -> None:
        if self.draft is not None and self.draft.questions:
            self.action_survey_answer()
        elif self.has_menu:
            self.show_view("menu")
        else:
            self.findings.action_cursor_last()

    def action_survey_answer(self) -> None:
        self._answer(again=False)

    def action_survey_back(self) -> None:
        self._answer(again=True)

    @work(exclusive=True, group="answer", exit_on_error=False)
    async def _answer(self, *, again: bool) -> None:
        from workbench.tui.survey_asking import ask_in_turn

        await ask_in_turn(self, again=again)

    # Findings

    def on_line_list_chosen(self, message: LineList.Chosen) -> None:
        if message.line_list.id == "findings":
            if self.finding is not None:
                self.action_survey_correct()
            else:
                self.pane.focus()
            return
        target = message.line_list.line_at(message.index).target
        if target is not None:
            self._look_at(target)

    def _look_at(self, target: Target) -> None:
        """Open a file of the card at a line."""
        desk, draft = self.desk, self.draft
        if desk is None or draft is None or set(draft.card.volumes) != set(desk.card.volumes):
            self.workbench.say("This profile is not that of the open card: save it first.")
        else:
            self.workbench.show_place(*target)

    def action_survey_take(self) -> None:
        finding, draft = self.finding, self.draft
        if finding is not None and draft is not None:
            done = draft.leave(finding) if finding.standing == "taken" else draft.take(finding)
            self._edit(done)

    def action_survey_drop(self) -> None:
        finding, draft = self.finding, self.draft
        if finding is not None and draft is not None:
            self._edit(draft.leave(finding) if finding.standing == "dropped" else draft.drop(finding))

    def _edit(self, draft: Draft) -> None:
        """Take an edited draft, where it is a valid profile still."""
        fault = fault_of(draft)
        if fault is not None:
            self.workbench.say(f"! That would leave no valid profile: {fault}", "error")
            return
        self.take_draft(draft)
        if self.tried is not None:
            self.try_out()

    def action_survey_correct(self) -> None:
        if self.finding is not None:
            self._correct(self.finding)

    @work(exclusive=True, group="correct", exit_on_error=False)
    async def _correct(self, finding: Finding) -> None:
        from workbench.tui.survey_asking import ask_value

        draft = await ask_value(self, finding)
        if draft is not None:
            self._edit(draft)

    def action_survey_menu(self) -> None:
        if isinstance(self.draft, Proposed):
            self._name_menu()

    @work(exclusive=True, group="correct", exit_on_error=False)
    async def _name_menu(self) -> None:
        from workbench.tui.survey_asking import ask_menu

        draft = await ask_menu(self)
        if draft is not None:
            self._edit(draft)
            self.show_view("menu")

    def action_survey_view(self) -> None:
        self.show_view(VIEWS[(VIEWS.index(self.view) + 1) % len(VIEWS)])

    def action_survey_try(self) -> None:
        self.try_out()

    # Card and profile

    def action_survey_read(self) -> None:
        if not self.has_unsaved:
            self._read_anew("yes")
            return
        from workbench.tui.dialog import Question

        said = "What was answered and corrected here would be forgotten; nothing that is saved is."
        answers = {"y": ("yes", "read the card anew")}
        self.app.push_screen(Question("Read the card anew?", said, answers), self._read_anew)

    def _read_anew(self, answer: str | None) -> None:
        if answer == "yes" and self.desk is not None:
            self.read(self.desk)

    def action_survey_open(self) -> None:
        from workbench.tui.path_dialog import PathDialog

        dialog = PathDialog("A profile to lay over this card", self.last_folder, verb="open it")
        self.app.push_screen(dialog, self._open_other)

    def _open_other(self, typed: str | None) -> None:
        if typed and self.desk is not None:
            place = Path(typed).expanduser()
            self.last_folder = f"{place.parent}/"
            self.open_other(self.desk, place)

    def action_survey_save(self) -> None:
        self._save(asks=False)

    def action_survey_save_to(self) -> None:
        self._save(asks=True)

    @work(exclusive=True, group="save", exit_on_error=False)
    async def _save(self, *, asks: bool) -> None:
        from workbench.tui.survey_saving import save

        await save(self, asks=asks)

    def action_survey_probe(self) -> None:
        if self.draft is not None:
            self._probe()

    @work(exclusive=True, group="probe", exit_on_error=False)
    async def _probe(self) -> None:
        from workbench.tui.survey_probe import probe

        await probe(self)
