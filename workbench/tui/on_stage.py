"""Plays a rehearsal in the terminal that the workbench runs in, and comes back to the workbench.

The workbench lets go of the terminal meanwhile: a frame goes out the moment it is due, with nothing queued
before it, and a slow link is felt at once.
"""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from textual.app import SuspendNotSupported

from workbench.tui.playing import Stage, open_stage, play

if TYPE_CHECKING:
    from contextlib import AbstractContextManager

    from workbench.card.profile import Profile
    from workbench.card.tree import Tree
    from workbench.jobs.rehearsal import Rehearsal
    from workbench.tui.base_app import BaseApp


def play_on_stage(
    bench: BaseApp,
    rehearsal: Rehearsal,
    tree: Tree,
    profile: Profile,
    *,
    stage: AbstractContextManager[Stage] | None = None,
) -> None:
    """Play it, and say what was dropped; where the terminal cannot be had, say that.

    Args:
        stage: another place than the workbench's terminal, for tests.
    """
    from workbench.jobs.rehearsal import picture_of

    show = partial(picture_of, tree, profile)
    try:
        if stage is not None:
            with stage as there:
                drawn, dropped = play(rehearsal, there, show, holds=True)
        else:
            with bench.suspend(), open_stage() as here:
                drawn, dropped = play(rehearsal, here, show, holds=True)
    except SuspendNotSupported:
        bench.say("This terminal cannot be handed over, so nothing is played here.", "warning")
        return
    if dropped:
        bench.say(f"{dropped} of {drawn + dropped} frames were dropped to keep the time.")
