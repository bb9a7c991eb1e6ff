"""Backups: take one, see how one differs from the card, put files back; what another card would cost."""

from __future__ import annotations

import asyncio
from collections.abc import Iterable, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from textual import work
from textual.containers import Vertical
from textual.widget import Widget

from workbench.assets import find_assets
from workbench.errors import CardwrightError, UsageError
from workbench.tui.actions import bindings_for
from workbench.tui.costs import count_words
from workbench.tui.line_list import LineList
from workbench.tui.line_view import LineView
from workbench.tui.lines import Line
from workbench.tui.page import Page
from workbench.tui.saving import Saving, check_target, compare, move_to, plan_back, take, verify
from workbench.tui.tones import Tone
from workbench.tui.writing import ProgressDialog
from workbench.values import replace

if TYPE_CHECKING:
    from workbench.jobs.backup.comparing import Difference
    from workbench.jobs.backup.other_card import Move
    from workbench.tui.desk import Desk

NO_BACKUP = "no backup is open: t takes one, o opens one and compares it with the card"
_WORDS: dict[str, tuple[str, Tone]] = {
    "only-first": ("! gone from the card", "problem"),
    "only-second": ("  only on the card", "muted"),
    "content": ("! differs", "problem"),
    "mode": ("* mode differs", "waiting"),
}
_WIDTH = 22


class TakingDialog(ProgressDialog):
    """Says how far it is; esc stops it, and nothing is left behind."""

    hint = "esc: stop; nothing is left behind"

    def on_mount(self) -> None:
        super().on_mount()
        self.tell("choosing files …")

    def action_dialog_back(self) -> None:
        self.is_cancelled = True
        self.tell("stopping …")


class StoppedError(CardwrightError):
    """The person stopped a backup."""

    kind = "cancelled"


class BackupPage(Page):
    """The backup that is open, and what differs from the card."""

    where = "backup"
    BINDINGS = bindings_for("backup")
    CSS_PATH = [find_assets("styles") / "pages.tcss", find_assets("styles") / "packs.tcss"]  # noqa: RUF012 - as Textual has it
    AUTO_FOCUS = "#differences"

    def __init__(self) -> None:
        super().__init__()
        self._saving = Saving()
        self._path: Path | None = None
        self._found: Sequence[Difference] = ()
        self._marked: frozenset[str] = frozenset()
        self._is_move = False
        """Whether the list shows what another card would cost."""

    def compose_body(self) -> Iterable[Widget]:
        with Vertical(classes="fill"):
            yield LineView([self._scope_line()], id="backup-scope")
            yield LineList(id="differences", empty=NO_BACKUP)

    def on_mount(self) -> None:
        self.query_one("#differences", LineList).set_title("Backup")

    def _scope_line(self) -> Line:
        secrets = "with" if self._saving.with_secrets else "without"
        return Line.of(
            (" a backup takes ", "muted"), self._saving.words, (f", {secrets} what looks secret", "muted")
        )

    def show_desk(self) -> None:
        if self._path is not None and self.desk is not None and self.desk.profile is not None:
            self._compare(self.desk, self._path)

    # Taking

    def action_backup_scope(self) -> None:
        self._saving = self._saving.next_scope()
        self.query_one("#backup-scope", LineView).show([self._scope_line()])

    def action_backup_secrets(self) -> None:
        self._saving = replace(self._saving, with_secrets=not self._saving.with_secrets)
        self.query_one("#backup-scope", LineView).show([self._scope_line()])

    def action_backup_take(self) -> None:
        from workbench.tui.path_dialog import PathDialog

        if self.desk is None or self.desk.profile is None:
            return
        start = str(self._path) if self._path is not None else f"~/{self.desk.card.name}.zip"
        note = "One zip on this computer, never on the card."
        dialog = PathDialog("Take a backup", start, note=note, verb="take it")
        self.app.push_screen(dialog, partial(self._take_to, self.desk))

    def _take_to(self, desk: Desk, text: str | None) -> None:
        if not text:
            return
        target = Path(text).expanduser()
        try:
            check_target(desk, target, replace=True)
        except CardwrightError as error:
            self.workbench.say_error(error)
            return
        if not target.exists():
            self._take(desk, target)
            return
        from workbench.tui.dialog import Question

        question = Question(
            "There is a file of that name",
            f"{target} would be written over, once the new backup is whole.",
            {"r": ("replace", "replace it")},
        )
        self.app.push_screen(question, partial(self._replace, desk, target))

    def _replace(self, desk: Desk, target: Path, answer: str | None) -> None:
        if answer == "replace":
            self._take(desk, target)

    @work(exclusive=True, group="backup", exit_on_error=False)
    async def _take(self, desk: Desk, target: Path) -> None:
        dialog = TakingDialog("Taking a backup")
        await self.app.push_screen(dialog)

        def tell(words: str, done: int, total: int) -> None:
            if dialog.is_cancelled:
                raise StoppedError("the backup was stopped; nothing was written")
            if done % 50 == 0:
                self.app.call_from_thread(dialog.tell, f"{done:,} of {total:,}  {words}")

        try:
            taken = await asyncio.to_thread(take, desk, target, self._saving, tell)
        except CardwrightError as error:
            self.workbench.say_error(error)
            return
        finally:
            dialog.dismiss(None)
        left = len(taken.list.left_out)
        out = f"; {count_words(left, 'file', 'files')} left out, named in the zip's list" if left else ""
        files = count_words(len(taken.list.files), "file", "files")
        self.workbench.say(f"Saved {files}, {taken.bytes:,} bytes, in {target}{out}.")
        self._path, self._marked = target, frozenset()
        if desk is self.desk:
            self._compare(desk, target)

    # Comparing

    def action_backup_open(self) -> None:
        from workbench.tui.path_dialog import PathDialog

        start = f"{self._path.parent}/" if self._path is not None else "~/"
        self.app.push_screen(PathDialog("Open a backup", start), self._open_path)

    def _open_path(self, text: str | None) -> None:
        if text and self.desk is not None and self.desk.profile is not None:
            self._path, self._marked = Path(text).expanduser(), frozenset()
            self._compare(self.desk, self._path)

    @work(exclusive=True, group="backup", exit_on_error=False)
    async def _compare(self, desk: Desk, path: Path) -> None:
        shown = self.query_one("#differences", LineList)
        shown.set_title(f"{path.name}: comparing with the card …")
        try:
            backup, self._found = await asyncio.to_thread(compare, desk, path)
        except CardwrightError as error:
            self._path, self._found = None, ()
            shown.set_title("Backup")
            shown.show((), empty=NO_BACKUP)
            self.workbench.say_error(error)
            return
        self._is_move = False
        count = count_words(len(self._found), "difference", "differences")
        shown.set_title(f"{path.name} of {backup.time[:10]}, {len(backup.files):,} files: {count}")
        self._show_differences()

    def _show_differences(self) -> None:
        lines = [self._difference_line(one) for one in self._found]
        self.query_one("#differences", LineList).show(lines, empty="the card is as the backup has it")
        self.show_keys()

    def _difference_line(self, one: Difference) -> Line:
        word, tone = _WORDS[one.kind]
        role, _, path = one.path.partition("/")
        mark: tuple[str, Tone] = ("[marked] ", "strong") if one.path in self._marked else ("", "plain")
        return Line.of((f"{word:<{_WIDTH}}", tone), mark, (f"{role}:{path}", "place"))

    # Verifying, restoring

    def can_do(self, action_id: str) -> bool:
        if action_id == "backup.restore":
            return self._path is not None and any(one.kind != "only-second" for one in self._found)
        if action_id == "backup.mark":
            return bool(self._found) and not self._is_move
        return self._path is not None if action_id == "backup.verify" else super().can_do(action_id)

    def action_backup_mark(self) -> None:
        shown = self.query_one("#differences", LineList)
        if self._is_move or shown.cursor >= len(self._found):
            return
        one = self._found[shown.cursor]
        if one.kind == "only-second":
            self.workbench.say("The backup does not have this file; it stays as it is.")
            return
        self._marked = self._marked ^ {one.path}
        self._show_differences()
        shown.action_cursor_down()

    def on_line_list_chosen(self, message: LineList.Chosen) -> None:
        del message
        self.action_backup_mark()

    def action_backup_verify(self) -> None:
        if self._path is not None:
            self._verify(self._path)

    @work(exclusive=True, group="verify", exit_on_error=False)
    async def _verify(self, path: Path) -> None:
        self.workbench.say(f"Reading every byte of {path.name} …")
        try:
            faults = await asyncio.to_thread(verify, path)
        except CardwrightError as error:
            self.workbench.say_error(error)
            return
        if faults:
            first = faults[0]
            more = f" and {len(faults) - 1} more" if len(faults) > 1 else ""
            self.workbench.say(f"! {path.name}: {first.path or 'the zip'} {first.because}{more}.", "error")
        else:
            self.workbench.say(f"{path.name} is whole: every byte as it was written.")

    def action_backup_restore(self) -> None:
        if self._path is None or self.desk is None:
            return
        if self.workbench.has_wishes:
            self.workbench.say(
                "Write the waiting plan first (w), or drop it (D): a restore looks at the card."
            )
            return
        self._restore(self.desk, self._path, sorted(self._marked))

    @work(exclusive=True, group="restore", exit_on_error=False)
    async def _restore(self, desk: Desk, path: Path, wanted: Sequence[str]) -> None:
        try:
            plan = await asyncio.to_thread(plan_back, desk, path, wanted)
        except CardwrightError as error:
            self.workbench.say_error(error)
            return
        if desk is self.desk:
            self.workbench.wish(lambda _tree, _profile: plan)

    # Another card

    def action_backup_as_if(self) -> None:
        from workbench.tui.name_dialog import TextDialog

        note = "File system, allocation unit, and its size where that matters: fat32:32K:64G"
        dialog = TextDialog("As if the card were", "exfat:128K", note=note)
        self.app.push_screen(dialog, self._ask_move)

    def _ask_move(self, text: str | None) -> None:
        if text and self.desk is not None:
            self._move(self.desk, text)

    @work(exclusive=True, group="move", exit_on_error=False)
    async def _move(self, desk: Desk, text: str) -> None:
        try:
            move = await asyncio.to_thread(move_to, desk, text)
        except (CardwrightError, UsageError) as error:
            self.workbench.say_error(error)
            return
        self._is_move = True
        shown = self.query_one("#differences", LineList)
        shown.set_title(f"As if the card were {text}")
        shown.show(list(_move_lines(move)), 0)
        self.show_keys()

    def step_back(self) -> bool:
        """Close what is shown."""
        if self._path is None and not self._is_move:
            return False
        is_back = self._is_move and self._path is not None
        self._is_move = False
        if is_back:
            self.show_desk()
            return True
        self._path, self._found, self._marked = None, (), frozenset()
        shown = self.query_one("#differences", LineList)
        shown.set_title("Backup")
        shown.show((), empty=NO_BACKUP)
        self.show_keys()
        return True


def _move_lines(move: Move) -> Iterable[Line]:
    for one in move.volumes:
        more = one.taken_then - one.taken_now
        change = f"{abs(more):,} bytes {'more' if more > 0 else 'less'} than now" if more else "as now"
        yield Line.of(
            (one.role, "strong"), f"  {one.files:,} files would take {one.taken_then:,} bytes, {change}"
        )
    for trouble in move.troubles:
        yield Line.of(("! ", "problem"), (str(trouble.at), "place"), f" {trouble.because}")
    if not move.troubles:
        yield Line.of(("nothing would break", "good"))
