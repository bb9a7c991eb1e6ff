"""The manifests that the firmware reads, as a tree or as text, edited by pointer into the waiting plan.

A broken one opens too: its error's line is shown, and the proposed repair in words before it is taken.
"""

from __future__ import annotations

import asyncio
from collections.abc import Iterable, Sequence
from functools import partial
from typing import TYPE_CHECKING, Any

from textual import work
from textual.containers import Horizontal
from textual.widget import Widget

from workbench.assets import find_assets
from workbench.errors import CardwrightError, ManifestError
from workbench.manifests.selector import join_pointer, split_pointer
from workbench.tui.actions import bindings_for
from workbench.tui.dialog import Question
from workbench.tui.document_tree import TreeRow, text_lines, tree_rows, value_text
from workbench.tui.line_list import LineList
from workbench.tui.lines import Line, cut_front
from workbench.tui.mend_lines import mend_text
from workbench.tui.name_dialog import TextDialog
from workbench.tui.page import Page
from workbench.tui.wishes import delete_wish, insert_wish, mend_wish, set_wish
from workbench.values import dataclass

if TYPE_CHECKING:
    from workbench.card.paths import VolumePath
    from workbench.jobs.edit import Manifest
    from workbench.manifests.document import Mend
    from workbench.tui.desk import Desk


@dataclass(frozen=True, slots=True)
class OpenManifest:
    """One manifest as it will be: its text always, its tree where it is well formed."""

    manifest: Manifest
    rows: Sequence[TreeRow] = ()
    row_lines: Sequence[int] = ()
    """The line of each row."""
    error: ManifestError | None = None
    mend: Mend | None = None


class ManifestsPage(Page):
    """Manifests on the left, the one that is open on the right."""

    where = "manifests"
    BINDINGS = bindings_for("manifests")
    CSS_PATH = find_assets("styles") / "pages.tcss"
    AUTO_FOCUS = "#files"

    def __init__(self) -> None:
        super().__init__()
        self._places: Sequence[VolumePath] = ()
        self._open: OpenManifest | None = None
        self._as_text = False
        self._wanted: tuple[VolumePath, int] | None = None
        """What another page asked to see: a file and a line."""

    def compose_body(self) -> Iterable[Widget]:
        with Horizontal(classes="thirds"):
            yield LineList(id="files", empty="looking for manifests …")
            yield LineList(id="document", empty="choose a manifest with enter")

    @property
    def document(self) -> LineList:
        """The open manifest's list."""
        return self.query_one("#document", LineList)

    # Reading

    def show_desk(self) -> None:
        if self.desk is not None and self.desk.profile is not None:
            self._read(self.desk)

    @work(exclusive=True, group="manifests", exit_on_error=False)
    async def _read(self, desk: Desk) -> None:
        files = self.query_one("#files", LineList)
        try:
            self._places = await asyncio.to_thread(desk.list_manifests)
        except CardwrightError as error:
            files.show([], empty="the card could not be read")
            self.workbench.say_error(error)
            return
        files.set_title(f"Manifests ({len(self._places)})")
        width = max(10, files.size.width - 4)
        files.show(
            [_file_line(at, width) for at in self._places], empty="the profile names no manifest on this card"
        )
        if self._wanted is not None:
            (at, line), self._wanted = self._wanted, None
            self._as_text = True
            await self._open_at(desk, at, line)
        elif self._open is not None:
            await self._open_at(desk, self._open.manifest.at, None)

    def show_place(self, at: VolumePath, line: int | None) -> None:
        """Show a file at a line, as text."""
        self._wanted = (at, line or 1)
        if self.is_current and self.desk is not None:
            self._read(self.desk)

    def on_line_list_chosen(self, message: LineList.Chosen) -> None:
        if message.line_list.id == "files" and self.desk is not None and self._places:
            self._choose(self.desk, self._places[message.index])
        elif message.line_list.id == "document":
            self.action_manifest_set()

    @work(exclusive=True, group="manifests", exit_on_error=False)
    async def _choose(self, desk: Desk, at: VolumePath) -> None:
        await self._open_at(desk, at, 1)
        self.document.focus()

    async def _open_at(self, desk: Desk, at: VolumePath, line: int | None) -> None:
        """Open a manifest; with a line the cursor goes there, without it stays."""
        try:
            self._open = await asyncio.to_thread(_open_manifest, desk, at)
        except CardwrightError as error:
            self._open = None
            self.document.show((), empty=error.message)
            return
        problem = self._open.error.line if self._open.error else None
        self._show_document(problem or line)

    def _show_document(self, line: int | None) -> None:
        """Show the open manifest, with the cursor at a line (None: where it is)."""
        found = self._open
        if found is None:
            return
        kind = "text" if self._is_text else "tree"
        self.document.set_title(f"{found.manifest.at}, {found.manifest.format}, as {kind}")
        if self._is_text:
            problem = found.error.line if found.error else None
            lines = text_lines(found.manifest.raw, problem)
            self.document.show(lines, line - 1 if line else None)
        else:
            cursor = None
            if line is not None:
                cursor = max((n for n, at in enumerate(found.row_lines) if at <= line), default=0)
            self.document.show([row.line for row in found.rows], cursor)
        if found.error is not None:
            offer = (
                " Press m for the proposed mend."
                if found.mend
                else " No plain mend is known; edit it by hand."
            )
            where = f"line {found.error.line}" + (
                f", column {found.error.column}" if found.error.column else ""
            )
            self.workbench.say(f"! {found.manifest.at}, {where}: {found.error.message}{offer}", "warning")
        self.show_keys()

    @property
    def _is_text(self) -> bool:
        return self._as_text or (self._open is not None and self._open.error is not None)

    @property
    def row(self) -> TreeRow | None:
        """The place under the cursor, in either view."""
        found = self._open
        if found is None or not found.rows:
            return None
        cursor = self.document.cursor
        if self._is_text:
            return found.rows[max((n for n, at in enumerate(found.row_lines) if at <= cursor + 1), default=0)]
        return found.rows[min(cursor, len(found.rows) - 1)]

    # Actions

    def can_do(self, action_id: str) -> bool:
        if action_id == "manifest.mend":
            return self._open is not None and self._open.mend is not None
        if action_id == "manifest.view":
            return self._open is not None and self._open.error is None
        if action_id.startswith("manifest."):
            return self.row is not None
        return super().can_do(action_id)

    def step_back(self) -> bool:
        if self._open is None:
            return False
        self._open = None
        self.document.show((), empty="choose a manifest with enter")
        self.document.set_title("")
        self.query_one("#files").focus()
        self.show_keys()
        return True

    def action_manifest_view(self) -> None:
        found = self._open
        if found is None:
            return
        cursor = self.document.cursor
        line = cursor + 1 if self._is_text else (found.row_lines[cursor] if found.row_lines else 1)
        self._as_text = not self._as_text
        self._show_document(line)

    def action_manifest_set(self) -> None:
        row, found = self.row, self._open
        if row is None or found is None:
            return
        if row.is_group:
            self.workbench.say(
                "This place holds members: put the cursor on one of them, or insert one with i."
            )
            return
        dialog = TextDialog(f"Value of {row.pointer}", value_text(row.value))
        self.app.push_screen(dialog, partial(self._wish_set, found.manifest.at, row.pointer))

    def _wish_set(self, at: VolumePath, pointer: str, text: str | None) -> None:
        if text is not None:
            self.workbench.wish(set_wish(at, pointer, text))

    def action_manifest_insert(self) -> None:
        if self.row is not None and self._open is not None:
            self._ask_insert(self._open.manifest.at, self.row)

    @work(exclusive=True, group="ask", exit_on_error=False)
    async def _ask_insert(self, at: VolumePath, row: TreeRow) -> None:
        parent = row.pointer if row.is_group else join_pointer(split_pointer(row.pointer)[:-1])
        group = self._group_at(parent)
        last = "-"
        if not isinstance(group, list):
            named = await self.app.push_screen_wait(
                TextDialog(f"Name of the new member of {parent or 'the whole'}")
            )
            if not named:
                return
            last = named
        text = await self.app.push_screen_wait(TextDialog("Its value"))
        if text is not None:
            self.workbench.wish(insert_wish(at, join_pointer((*split_pointer(parent), last)), text))

    def _group_at(self, pointer: str) -> Any:
        rows = self._open.rows if self._open else ()
        return next((row.value for row in rows if row.pointer == pointer), None)

    def action_manifest_delete(self) -> None:
        if self.row is not None and self._open is not None and self.row.pointer:
            self.workbench.wish(delete_wish(self._open.manifest.at, self.row.pointer))

    def action_manifest_mend(self) -> None:
        found = self._open
        if found is None or found.mend is None:
            return
        text = mend_text(found.manifest.raw, found.mend)
        question = Question(f"Mend {found.manifest.at}?", text, {"m": ("mend", "put the mend into the plan")})
        self.app.push_screen(question, partial(self._wish_mend, found.manifest.at))

    def _wish_mend(self, at: VolumePath, answer: str | None) -> None:
        if answer == "mend":
            self.workbench.wish(mend_wish(at))


def _file_line(at: VolumePath, width: int) -> Line:
    return Line.of((cut_front(str(at), width), "place"))


def _open_manifest(desk: Desk, at: VolumePath) -> OpenManifest:
    manifest = desk.read_manifest(at)
    try:
        document = manifest.open()
    except ManifestError as error:
        return OpenManifest(manifest, error=error, mend=manifest.mend())
    rows = tree_rows(document.get(""))
    lines = [document.line_of(row.pointer) if row.pointer else 1 for row in rows]
    return OpenManifest(manifest, rows, lines)
