"""Lets the open card go: a waiting plan asks first, then flushing, reading back and unmounting are shown."""

from __future__ import annotations

import asyncio
from typing import TYPE_CHECKING

from workbench.errors import CardwrightError, UnfinishedChangeError
from workbench.shown import shown
from workbench.tui.costs import count_words
from workbench.tui.dialog import Question
from workbench.tui.writing import ProgressDialog, write_waiting

if TYPE_CHECKING:
    from workbench.changes.leaving import Leaving
    from workbench.changes.read_back import Strayed
    from workbench.tui.app import Workbench
    from workbench.tui.desk import Desk

_MOST_NAMED = 6


class EjectingDialog(ProgressDialog):
    """Says how far it is; it closes by itself."""

    hint = "please wait; do not pull the card"

    def action_dialog_back(self) -> None:
        """There is nothing to stop: nothing is changed on the card."""


async def eject(bench: Workbench) -> None:
    """Ask what becomes of a waiting plan, let the card go, and say whether it can be pulled."""
    desk = bench.desk
    if desk is None:
        bench.say("No card is open.")
        return
    if desk.waiting and not await _may_wait(bench, desk):
        return
    left = await _leave(bench, desk)
    if left is None:
        return
    if left.unmounted:
        bench.let_card_go()
    title = "The card cannot be pulled yet" if left.refused else "The card was let go"
    await bench.push_screen_wait(Question(title, describe_leaving(left), {"enter": ("seen", "close")}))


async def _may_wait(bench: Workbench, desk: Desk) -> bool:
    """Whether the card may go now, with its plan written, or kept for the next time."""
    count = count_words(len(desk.waiting.wishes), "wish is", "wishes are")
    answer = await bench.push_screen_wait(
        Question(
            "A plan waits",
            f"{count} not written yet. The plan is kept and comes back the next time this card is opened.",
            {"w": ("write", "write it first"), "e": ("eject", "let the card go without it")},
        )
    )
    if answer == "write":
        await write_waiting(bench)
        return not desk.waiting
    return answer == "eject"


async def _leave(bench: Workbench, desk: Desk) -> Leaving | None:
    dialog = EjectingDialog("Letting the card go")
    await bench.push_screen(dialog)
    try:
        return await asyncio.to_thread(_run, bench, dialog, desk)
    except UnfinishedChangeError as error:
        bench.say_error(error)
        bench.call_later(bench.offer_recovery, desk)
    except CardwrightError as error:
        bench.say_error(error)
    finally:
        dialog.dismiss(None)
    return None


def _run(bench: Workbench, dialog: EjectingDialog, desk: Desk) -> Leaving:
    from workbench.changes.leaving import leave

    def tell(words: str, done: int, total: int) -> None:
        bench.call_from_thread(dialog.tell, f"{done} of {total}  {words}")

    return leave(desk.card, progress=tell)


def describe_leaving(left: Leaving) -> str:
    """What was done, what was found, and whether the card can be pulled: a line for each."""
    read = left.read
    lines = [left.verdict, ""]
    if read.changes:
        how = "" if read.from_medium else "; the system was asked to forget them first"
        lines.append(f"Read back: {count_words(read.files, 'changed file', 'changed files')}{how}.")
    lines += [_describe(one, f"not as change {one.change} left it") for one in read.edited[:_MOST_NAMED]]
    lines += [_describe(one, "this is damage") for one in read.damaged[:_MOST_NAMED]]
    more = max(0, len(read.edited) - _MOST_NAMED) + max(0, len(read.damaged) - _MOST_NAMED)
    if more:
        lines.append(f"… and {more} more")
    return "\n".join([*lines, *left.notes])


def _describe(one: Strayed, because: str) -> str:
    return f"! {shown(str(one.at))} {one.because} ({because})"
