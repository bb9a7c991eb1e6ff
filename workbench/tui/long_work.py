"""Long work that a page asks for: in a thread, with progress and the time left; escape stops it."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import TYPE_CHECKING, TypeVar

from workbench.errors import CardwrightError
from workbench.jobs.progress_words import ProgressWords
from workbench.tui.writing import TELL_EVERY_S, ProgressDialog

if TYPE_CHECKING:
    from workbench.jobs.animate.wish import Cancelled, OnProgress, Progress
    from workbench.tui.base_app import BaseApp

Done = TypeVar("Done")


class WorkDialog(ProgressDialog):
    """Says how far it is; escape stops it, and nothing is left behind."""

    hint = "esc: stop; nothing is left behind"

    def on_mount(self) -> None:
        super().on_mount()
        self.tell("beginning …")

    def action_dialog_back(self) -> None:
        self.is_cancelled = True
        self.tell("stopping …")


async def do_long_work(
    bench: BaseApp, title: str, do: Callable[[OnProgress, Cancelled], Done]
) -> Done | None:
    """Do it in a thread under a dialog; None where it was stopped or refused, which is told."""
    dialog = WorkDialog(title)
    await bench.push_screen(dialog)
    words = ProgressWords()
    told = [0.0]

    def tell(progress: Progress) -> None:
        is_new, now = words.take(progress), words.now()
        if (is_new or now - told[0] >= TELL_EVERY_S) and not dialog.is_cancelled:
            told[0] = now
            bench.call_from_thread(dialog.tell, words.describe(progress, now))

    try:
        return await asyncio.to_thread(do, tell, lambda: dialog.is_cancelled)
    except CardwrightError as error:
        if error.kind == "cancelled":
            bench.say("Stopped; nothing was changed.")
        else:
            bench.say_error(error)
        return None
    finally:
        dialog.dismiss(None)
