"""What the survey's page shows: the findings, and beside them what speaks for each, the menu, or the profile.

Reads in workers; what was read for a draft that is no longer there is dropped.
"""

from __future__ import annotations

import time
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Literal

from textual import on, work
from textual.containers import Horizontal
from textual.message import Message
from textual.timer import Timer
from textual.widget import Widget
from textual.worker import Worker, get_current_worker

from workbench.assets import find_assets
from workbench.card.disk_tree import DiskTree
from workbench.errors import CardwrightError
from workbench.tui.actions import bindings_for
from workbench.tui.costs import count_words
from workbench.tui.desk import Desk
from workbench.tui.detail_pane import SILENCE_S, error_lines
from workbench.tui.line_list import LineList
from workbench.tui.lines import Line, wrap
from workbench.tui.page import Page
from workbench.tui.survey_draft import Draft, Proposed
from workbench.tui.survey_lines import (
    GUESS,
    aside_lines,
    finding_line,
    finding_lines,
    mention_lines,
    menu_lines,
    text_lines,
    trial_words,
)
from workbench.values import dataclass

if TYPE_CHECKING:
    from pathlib import Path

    from workbench.card.tree import Tree
    from workbench.jobs.survey import Evidence, Finding
    from workbench.tui.survey_work import Tried

View = Literal["evidence", "menu", "text"]
State = Literal["idle", "reading", "stopped", "failed", "ready"]

VIEWS: tuple[View, ...] = ("evidence", "menu", "text")
_TITLES: dict[View, str] = {
    "evidence": "What speaks for it",
    "menu": "The menu as it will be read",
    "text": "The profile as it would be saved",
}
TELL_EVERY_S = 0.25


class Stopped(Exception):
    """The person wants no more of the reading."""


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the list: a finding, or one of the two gatherings at its end."""

    kind: Literal["finding", "unruled", "aside"]
    finding_id: str = ""


class SurveyView(Page):
    """Shows a draft."""

    where = "survey"
    BINDINGS = bindings_for("survey")
    CSS_PATH = find_assets("styles") / "survey.tcss"
    AUTO_FOCUS = "#findings"

    class Told(Message):
        """How far the reading is."""

        def __init__(self, turn: int, words: str) -> None:
            super().__init__()
            self.turn, self.words = turn, words

    class Drafted(Message):
        """A draft was made: the card was read, or its profile was opened."""

        def __init__(self, turn: int, draft: Draft, tree: Tree) -> None:
            super().__init__()
            self.turn, self.draft, self.tree = turn, draft, tree

    class DraftFailed(Message):
        """It was not; `error` is None where the person stopped it."""

        def __init__(self, turn: int, error: CardwrightError | None) -> None:
            super().__init__()
            self.turn, self.error = turn, error

    class TriedOut(Message):
        """The profile was laid over the card, or could not be."""

        def __init__(self, draft: Draft, tried: Tried | CardwrightError) -> None:
            super().__init__()
            self.draft, self.tried = draft, tried

    class PaneRead(Message):
        """What the pane at the right is to show."""

        def __init__(self, draft: Draft, mark: object, lines: Sequence[Line]) -> None:
            super().__init__()
            self.draft, self.mark, self.lines = draft, mark, lines

    def __init__(self) -> None:
        super().__init__()
        self.state: State = "idle"
        self.draft: Draft | None = None
        self.tried: Tried | None = None
        self.card_tree: Tree | None = None
        """The card as it was read for this draft."""
        self.view: View = "evidence"
        self.is_saved = True
        """Whether the draft is as it was opened or saved last."""
        self._desk: Desk | None = None
        """The card that the draft is for."""
        self._rows: list[Row] = []
        self._progress = ""
        self._asks_later = False
        """Whether the reading came to its end while another page was open."""
        self._reading: Worker[None] | None = None
        self._turn = 0
        """Which reading this is: what an earlier one that was stopped still says is dropped."""
        self._silence: Timer | None = None
        self._shown_mark: object = None

    def compose_body(self) -> Iterable[Widget]:
        with Horizontal(classes="halves"):
            yield LineList(id="findings", empty="no card is open")
            yield LineList(id="evidence")

    @property
    def findings(self) -> LineList:
        """The list at the left."""
        return self.query_one("#findings", LineList)

    @property
    def pane(self) -> LineList:
        """The pane at the right."""
        return self.query_one("#evidence", LineList)

    @property
    def row(self) -> Row | None:
        """What is under the cursor."""
        at = self.findings.cursor
        return self._rows[at] if at < len(self._rows) else None

    @property
    def finding(self) -> Finding | None:
        """The finding under the cursor."""
        row, draft = self.row, self.draft
        if row is None or draft is None or row.kind != "finding":
            return None
        return next((one for one in draft.findings if one.id == row.finding_id), None)

    # Reading

    def show_desk(self) -> None:
        desk = self.desk
        if desk is None:
            self.findings.show((), empty="no card is open: 6 shows the cards")
        elif desk is not self._desk:
            self._desk = desk
            if desk.profile is None:
                self.read(desk)
            else:
                self.open_profile(desk)
        elif self._asks_later:
            self._asks_later = False
            self.has_surveyed()
        else:
            self._show_pane()

    def forget(self) -> None:
        """The draft was saved, or its card is gone: a reading can be large, and is not kept."""
        if self._reading is not None:
            self._reading.cancel()
        self._turn += 1
        self.state, self.draft, self.tried, self.card_tree, self._rows = "idle", None, None, None, []
        self._desk, self._asks_later, self.is_saved = None, False, True
        self.findings.show((), 0, empty="")
        self.pane.show((), 0)

    def _is_of_now(self, turn: int) -> bool:
        """Whether a message is of the reading that goes on, for the card that is still open."""
        if turn == self._turn and self.desk is not self._desk:
            self.forget()
        return turn == self._turn

    def _begin(self, empty: str, title: str) -> None:
        self._turn += 1
        self.state, self.draft, self.tried, self._progress, self._rows = "reading", None, None, "", []
        self.view, self._shown_mark, self.is_saved = "evidence", None, True
        self.findings.set_title(title)
        self.findings.show((), 0, empty=empty)
        self.pane.set_title("")
        self.pane.show((), 0)
        self.show_frame()

    def read(self, desk: Desk) -> None:
        """Read the card in a thread, and propose a profile."""
        self._begin("reading the card …", "Findings")
        self._reading = self._read(desk, self._turn)

    @work(thread=True, exclusive=True, group="survey", exit_on_error=False)
    def _read(self, desk: Desk, turn: int) -> None:
        from workbench.tui.survey_work import survey_card

        worker, told = get_current_worker(), 0.0

        def tell(words: str, done: int, total: int) -> None:
            nonlocal told
            if worker.is_cancelled:
                raise Stopped
            if time.monotonic() - told >= TELL_EVERY_S or not done:
                told = time.monotonic()
                self.post_message(self.Told(turn, _progress_words(words, done, total)))

        try:
            draft = survey_card(desk.card, tell)
        except Stopped:
            self.post_message(self.DraftFailed(turn, None))
        except CardwrightError as error:
            self.post_message(self.DraftFailed(turn, error))
        else:
            self.post_message(self.Drafted(turn, draft, draft.survey.reading.tree))

    def open_profile(self, desk: Desk) -> None:
        """Lay the card's own profile out."""
        self.open_other(desk, desk.known_profile().source)

    def open_other(self, desk: Desk, source: Path) -> None:
        """Lay the profile in a file over the card."""
        self._begin("opening the profile …", "Profile")
        self._reading = self._open(desk, source, self._turn)

    @work(thread=True, exclusive=True, group="survey", exit_on_error=False)
    def _open(self, desk: Desk, source: Path, turn: int) -> None:
        from workbench.tui.survey_work import open_file

        try:
            draft = open_file(desk.card, source)
        except (CardwrightError, OSError) as error:
            known = error if isinstance(error, CardwrightError) else CardwrightError(str(error))
            self.post_message(self.DraftFailed(turn, known))
        else:
            self.post_message(self.Drafted(turn, draft, DiskTree(draft.card)))

    def on_survey_view_told(self, message: Told) -> None:
        if self._is_of_now(message.turn) and self.state == "reading":
            self._progress = message.words
            self.show_frame()

    def on_survey_view_drafted(self, message: Drafted) -> None:
        if not self._is_of_now(message.turn) or self.state != "reading":
            return
        self.state, self.card_tree, self._progress = "ready", message.tree, ""
        self.take_draft(message.draft, is_saved=True)
        self.findings.move_cursor(0)
        if isinstance(message.draft, Proposed):
            if self._desk is not None and self._desk.profile is None:
                # Its volumes are known apart now: what is looked at from here on is the same card.
                self._desk = self.workbench.desk = Desk(message.draft.card)
            self._asks_later = self.workbench.page is not self
            if not self._asks_later:
                self.has_surveyed()
        else:
            self.try_out()

    @property
    def has_unsaved(self) -> bool:
        """Whether a person made something of the draft that is not saved."""
        draft = self.draft
        if draft is None or self.is_saved:
            return False
        if isinstance(draft, Proposed):
            return bool(draft.survey.answers or draft.survey.edits)
        return bool(draft.sheet.edits)

    @property
    def has_menu(self) -> bool:
        """Whether the draft knows any menu."""
        findings = self.draft.findings if self.draft is not None else ()
        menus = [one for one in findings if one.table[:1] == ("menus",) and one.standing != "dropped"]
        return any(line.key == "root" for one in menus for line in one.lines)

    def has_surveyed(self) -> None:
        """A survey is there: whatever comes next."""

    def on_survey_view_draft_failed(self, message: DraftFailed) -> None:
        if not self._is_of_now(message.turn) or self.state not in ("reading", "stopped"):
            return
        self.state = "stopped" if message.error is None else "failed"
        self.findings.show((), empty="nothing was surveyed: r reads the card")
        if message.error is not None:
            self.pane.show(list(error_lines(message.error, self._pane_width)), 0)
        self.show_frame()

    def stop_reading(self) -> bool:
        """Read no further; whether anything was being read."""
        if self.state != "reading" or self._reading is None:
            return False
        self._reading.cancel()
        self.state = "stopped"
        self.findings.show((), empty="stopped; nothing was changed. r reads the card")
        self.show_frame()
        return True

    # The draft

    def take_draft(self, draft: Draft, *, is_saved: bool = False) -> None:
        """Show another draft; what was tried stays until it is tried again."""
        self.draft, self.is_saved = draft, is_saved
        self._show_findings()
        self._show_pane()
        self.show_frame()

    def _show_findings(self) -> None:
        draft = self.draft
        assert draft is not None
        tried = self.tried
        self._rows = [Row("finding", one.id) for one in draft.findings]
        lines = [finding_line(one, is_silent=bool(tried and tried.because(one.id))) for one in draft.findings]
        unruled = self._unruled()
        if unruled:
            self._rows.append(Row("unruled"))
            said = count_words(len(unruled), "place", "places")
            lines.append(Line.of(("! under no rule ", "problem"), f"{said} that name an entry"))
        survey = draft.survey if isinstance(draft, Proposed) else None
        if survey is not None and (survey.notes or survey.skipped):
            self._rows.append(Row("aside"))
            lines.append(
                Line.of(("left aside ", "strong"), _aside_words(len(survey.notes), len(survey.skipped)))
            )
        self.findings.set_title(self._title(draft))
        self.findings.show(lines, empty="nothing was found")

    def _unruled(self) -> Sequence[object]:
        if self.tried is not None:
            return self.tried.trial.unruled
        return self.draft.survey.unruled if isinstance(self.draft, Proposed) else ()

    def _title(self, draft: Draft) -> str:
        if not isinstance(draft, Proposed):
            return f"Profile {draft.name}"
        guesses = sum(one.confidence < GUESS and one.standing == "proposed" for one in draft.findings)
        more = f", {count_words(guesses, 'guess', 'guesses')}" if guesses else ""
        return f"{count_words(len(draft.findings), 'finding', 'findings')}{more}"

    def on_resize(self) -> None:
        self.show_frame()
        self.call_after_refresh(self._show_pane)

    # The pane at the right

    @property
    def _pane_width(self) -> int:
        return max(20, self.pane.size.width - 3)

    def show_view(self, view: View) -> None:
        """Show this at the right."""
        self.view = view
        self._show_pane()
        self.show_keys()

    @on(LineList.CursorMoved, "#findings")
    def _follow_cursor(self) -> None:
        if self._silence is not None:
            self._silence.stop()
        self._silence = self.set_timer(SILENCE_S, self._show_pane)
        self.show_keys()

    def _show_pane(self) -> None:
        if not self.query("#findings"):  # not composed yet, or the page is being taken down
            return
        draft, tree, row = self.draft, self.card_tree, self.row
        if draft is None or tree is None or row is None:
            return
        if self.view == "evidence":
            title = _TITLES["evidence"] if isinstance(draft, Proposed) else "On this card"
            self.pane.set_title(title if row.kind == "finding" else "")
            self._read_row(draft, tree, row, self._pane_width)
        else:
            self.pane.set_title(_TITLES[self.view])
            self._read_view(draft, tree, self.view, self._pane_width)

    @work(thread=True, exclusive=True, group="pane", exit_on_error=False)
    def _read_row(self, draft: Draft, tree: Tree, row: Row, width: int) -> None:
        from workbench.tui.survey_work import see

        tried, worker = self.tried, get_current_worker()
        lines: list[Line]
        if row.kind == "unruled":
            lines = list(mention_lines(self._unruled(), width))  # type: ignore[arg-type]
        elif row.kind == "aside":
            assert isinstance(draft, Proposed)
            lines = list(aside_lines(draft.survey, width))
        else:
            finding = next(one for one in draft.findings if one.id == row.finding_id)
            evidence: Sequence[Evidence] = finding.evidence
            if tried is not None and not evidence:
                evidence = tried.evidence(finding.id)
            silent = tried.because(finding.id) if tried is not None else ""
            is_surveyed = isinstance(draft, Proposed)
            seen = see(tree, evidence)
            lines = list(finding_lines(finding, seen, width, silent=silent, is_surveyed=is_surveyed))
        if not worker.is_cancelled:
            self.post_message(self.PaneRead(draft, row, lines))

    @work(thread=True, exclusive=True, group="pane", exit_on_error=False)
    def _read_view(self, draft: Draft, tree: Tree, view: View, width: int) -> None:
        from workbench.tui.survey_work import preview_menus

        worker = get_current_worker()
        lines: list[Line]
        try:
            lines = list(
                text_lines(draft.text(), width)
                if view == "text"
                else menu_lines(preview_menus(draft, tree), width)
            )
        except CardwrightError as error:
            lines = list(error_lines(error, width))
        if not worker.is_cancelled:
            self.post_message(self.PaneRead(draft, view, lines))

    def on_survey_view_pane_read(self, message: PaneRead) -> None:
        if message.draft is not self.draft or message.mark not in (self.row, self.view):
            return
        cursor = None if message.mark == self._shown_mark else 0
        self._shown_mark = message.mark
        self.pane.show(message.lines, cursor)

    # Trying

    def try_out(self) -> None:
        """Lay the profile over the card, in a thread."""
        if self.draft is not None and self.card_tree is not None:
            self._progress = "trying the profile on this card …"
            self.show_frame()
            self._try_out(self.draft, self.card_tree)

    @work(thread=True, exclusive=True, group="try", exit_on_error=False)
    def _try_out(self, draft: Draft, tree: Tree) -> None:
        from workbench.tui.survey_work import try_draft

        try:
            self.post_message(self.TriedOut(draft, try_draft(draft, tree)))
        except CardwrightError as error:
            self.post_message(self.TriedOut(draft, error))

    def on_survey_view_tried_out(self, message: TriedOut) -> None:
        if message.draft is not self.draft:
            return
        self._progress = ""
        if isinstance(message.tried, CardwrightError):
            self.workbench.say_error(message.tried)
            return
        self.tried = message.tried
        self._show_findings()
        self._show_pane()
        self.show_frame()

    # The strip below

    def strip(self) -> list[Line]:
        desk = self.desk
        told = super().strip()
        if desk is not None and desk.waiting:
            return told
        notice = told[:-2] if len(told) > 2 else []
        width = max(20, self.app.size.width - 2)
        said = [part for text in self._status() for part in wrap(text, width)]
        return [
            *notice,
            *(Line.of((f" {part}", "strong" if not n else "muted")) for n, part in enumerate(said)),
        ]

    def _status(self) -> list[str]:
        """Where things stand, and what comes next."""
        draft = self.draft
        if self.state == "reading":
            return [
                self._progress or "reading the card …",
                "Nothing is written to it. esc stops the reading.",
            ]
        if self.state in ("stopped", "failed"):
            return ["The card was not read to its end.", "r reads it from the start."]
        if draft is None:
            return ["No card is open.", "6 shows the cards."]
        if self._progress:
            return [self._progress]
        if draft.questions:
            left = count_words(len(draft.questions), "question", "questions")
            return [
                f"{left} only the device can answer: a asks.",
                "Until then the usual answer is taken. s saves the profile and opens the menu.",
            ]
        if not self.has_menu:
            return [
                "No menu was found: nothing on the card names what lies in its folders.",
                "n names a folder that is one; o tries a profile of yours; 6 shows the cards.",
            ]
        if isinstance(draft, Proposed):
            return [
                "The profile is ready: s saves it and opens the menu.",
                "v shows the menu as it will be read; t takes, c corrects, d drops a finding.",
            ]
        changed = "" if self.is_saved else "Changed, and not saved yet: s saves it. "
        tried = trial_words(self.tried.trial) if self.tried is not None else "y tries it on this card."
        return [f"{changed}{tried}"]


def _progress_words(words: str, done: int, total: int) -> str:
    """`1,204 of 5,310 folders read`."""
    if not done and not total:
        return f"{words} …"
    of = f" of {total:,}" if total else ""
    return f"{done:,}{of} {words} …"


def _aside_words(notes: int, skipped: int) -> str:
    said = [count_words(notes, "note", "notes")] if notes else []
    if skipped:
        said.append(f"{count_words(skipped, 'file or folder', 'files and folders')} not read")
    return ", ".join(said)
