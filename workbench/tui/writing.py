"""From a waiting plan to a change: one confirmation, then `apply` in a thread, with what it does shown.

While a plan is carried out no key reaches a page and the program does not leave: a change that was begun is
carried to its end.
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from textual.widget import Widget

from workbench.errors import CardwrightError, FullVolumeError, UnfinishedChangeError
from workbench.tui.dialog import Dialog, Question
from workbench.tui.line_view import LineView
from workbench.tui.lines import Line
from workbench.tui.opening import has_no_history
from workbench.tui.path_dialog import PathDialog
from workbench.tui.unlocking import agree_to_open, opened_for
from workbench.tui.waiting import Waiting
from workbench.tui.write_dialog import WriteDialog
from workbench.values import replace

if TYPE_CHECKING:
    from workbench.card.volumes import Card
    from workbench.changes.ledger import Change
    from workbench.changes.plan import Plan
    from workbench.tui.app import Workbench
    from workbench.tui.desk import Desk


TELL_EVERY_S = 0.25


class ProgressDialog(Dialog[None]):
    """Says that a plan is being carried out; it closes by itself.

    Escape stops the work as long as nothing was changed; after that it is carried to its end.
    """

    hint = "please wait; do not pull the card   esc: stop, while nothing is changed yet"
    is_cancelled = False
    has_begun = False

    def __init__(self, title: str) -> None:
        super().__init__()
        self.title_text = title

    def compose_body(self) -> Iterable[Widget]:
        yield LineView(id="dialog-text")

    def on_mount(self) -> None:
        super().on_mount()
        self.tell("looking whether everything is as it was planned …")

    def tell(self, text: str) -> None:
        """Show how far it is."""
        self.query_one("#dialog-text", LineView).show([Line.of(text)])

    def begin(self) -> None:
        """From now on it cannot be stopped."""
        self.has_begun = True
        self.hint = "please wait; do not pull the card   it has begun, and is carried to its end"
        self.show_hint(self.hint)

    def action_dialog_back(self) -> None:
        if self.has_begun:
            return
        self.is_cancelled = True
        self.tell("stopping, if nothing is changed yet …")


async def write_waiting(bench: Workbench) -> None:
    """Ask once, write the waiting plan, and read the card anew."""
    desk = bench.desk
    if desk is None or not desk.waiting:
        return
    if await write_plan(bench, desk, desk.waiting):
        desk.waiting = Waiting()
        bench.keep_waiting(desk)
        bench.show_card_anew()


async def write_plan(bench: Workbench, desk: Desk, waiting: Waiting) -> bool:
    """Show the confirmation and, on yes, apply; whether it was carried out."""
    if desk.is_untouched is None:
        try:
            desk.is_untouched = await asyncio.to_thread(has_no_history, desk.card)
        except CardwrightError as error:
            bench.say_error(error)
            return False
    is_the_waiting_one = waiting is desk.waiting
    waiting = await asyncio.to_thread(_complete, desk, waiting)
    dialog = WriteDialog(waiting, desk.is_untouched, waits=is_the_waiting_one)
    if not await bench.push_screen_wait(dialog):
        return False
    return await apply_plan(bench, desk, waiting.plan)


def _complete(desk: Desk, waiting: Waiting) -> Waiting:
    """With what the device's own programs make necessary, as a wish of its own."""
    from workbench.jobs.device_menu import plan_for_device

    beside = plan_for_device(desk.card, desk.disk, waiting.plan)
    return waiting.grown(beside) if beside.steps or beside.notes or beside.conflicts else waiting


async def apply_plan(bench: Workbench, desk: Desk, plan: Plan) -> bool:
    """Carry a plan out; whether it was. What a full card cannot keep may go to a folder of this computer."""
    roles = await agree_to_open(bench, desk.card, plan.volumes)
    if roles is None:
        return False
    try:
        return await _carry_out(bench, desk, plan, None, roles)
    except FullVolumeError as error:
        if not error.keep_on_helps:
            bench.say_error(error)
            return False
        folder = await _ask_folder(bench, error)
    try:
        return folder is not None and await _carry_out(bench, desk, plan, folder, roles)
    except FullVolumeError as error:
        bench.say_error(error)
        return False


async def _ask_folder(bench: Workbench, error: FullVolumeError) -> Path | None:
    """Where the copies are to go, if the person wants that."""
    answers = {"k": ("keep", "keep them in a folder of this computer")}
    if await bench.push_screen_wait(Question("The card is too full", error.message, answers)) is None:
        return None
    typed = await bench.push_screen_wait(
        PathDialog("Keep what is replaced in which folder?", verb="keep there")
    )
    return Path(typed) if typed else None


async def _carry_out(
    bench: Workbench, desk: Desk, plan: Plan, keep_on: Path | None, roles: tuple[str, ...]
) -> bool:
    """Once, with what it does shown; the volumes of `roles` are opened for it.

    Raises:
        FullVolumeError: nothing was changed.
    """
    dialog = ProgressDialog("Writing to the card")
    bench.is_writing = True
    await bench.push_screen(dialog)
    try:
        change = await asyncio.to_thread(
            opened_for, desk.card, roles, lambda card: _apply(bench, dialog, card, plan, keep_on)
        )
    except UnfinishedChangeError as error:
        bench.say_error(error)
        bench.call_later(bench.offer_recovery, desk)
        return False
    except FullVolumeError:
        raise
    except CardwrightError as error:
        bench.say_error(error)
        return False
    finally:
        bench.is_writing = False
        dialog.dismiss(None)
    desk.is_untouched = False
    kept = f" What it replaced is kept in {change.kept_on}." if change.kept_on else ""
    bench.say(f"Written as change {change.number}. The history page takes it back.{kept}")
    for note in change.notes:
        if note not in plan.notes:
            bench.say(f"! {note}", "error")
    if bool(plan.listings) and await asyncio.to_thread(_is_listed_otherwise, desk, plan):
        bench.say(
            f"Written as change {change.number}. This mount goes on listing the folder as it remembers it; "
            "the new order is on the card, and is seen once the card was taken out and put in again."
        )
    return True


def _is_listed_otherwise(desk: Desk, plan: Plan) -> bool:
    """A folder that cannot be listed now is told of when the menu is read."""
    try:
        return desk.lists_otherwise(plan)
    except CardwrightError:
        return False


def _apply(bench: Workbench, dialog: ProgressDialog, card: Card, plan: Plan, keep_on: Path | None) -> Change:
    from workbench.changes.apply import apply
    from workbench.changes.quiet_device import quiet_device

    told, is_asked = 0.0, False

    def ask() -> bool:
        nonlocal is_asked
        is_asked = True
        return dialog.is_cancelled

    def tell(words: str, done: int, total: int) -> None:
        nonlocal told, is_asked
        if not is_asked and not dialog.has_begun:  # once the change has begun, nobody is asked any more
            bench.call_from_thread(dialog.begin)
        is_asked = False
        if time.monotonic() - told >= TELL_EVERY_S:
            told = time.monotonic()
            bench.call_from_thread(dialog.tell, f"{done} of {total}  {words}")

    with quiet_device(card, plan) as quiet:
        change = apply(card, quiet.plan, progress=tell, cancelled=ask, keep_on=keep_on)
    return replace(change, notes=change.notes + tuple(quiet.notes))
