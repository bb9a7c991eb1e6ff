"""Volumes that are read-only on purpose: opened for one change with the person's word, and closed again."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING

from workbench.errors import CardwrightError
from workbench.shown import shown
from workbench.tui.dialog import Question
from workbench.values import replace

if TYPE_CHECKING:
    from workbench.card.volumes import Card
    from workbench.changes.ledger import Change
    from workbench.tui.app import Workbench


async def agree_to_open(bench: Workbench, card: Card, roles: Iterable[str]) -> tuple[str, ...] | None:
    """Those of the volumes that are read-only and may be opened for a change; each is asked about.

    None where the person said no, or one may not be opened: that was said.
    """
    locked = tuple(role for role in roles if role in card.volumes and card.volumes[role].read_only)
    for role in locked:
        try:
            because = await asyncio.to_thread(_find_reason, card, role)
        except CardwrightError as error:
            bench.say_error(error)
            return None
        text = (
            f"The volume {shown(role)} {because}. It can be opened for writing for this change, and is "
            "closed again afterwards."
        )
        question = Question("A volume is read-only", text, {"o": ("open", "open it for this change")})
        if await bench.push_screen_wait(question) is None:
            bench.say(f"The volume {shown(role)} stays closed; nothing was changed.")
            return None
    return locked


def _find_reason(card: Card, role: str) -> str:
    """Why it is read-only.

    Raises:
        PreflightError: it may not be opened.
    """
    from workbench.card.read_only import judge_read_only
    from workbench.changes.opening_up import refuse_closed

    judged = judge_read_only(card, role)
    refuse_closed(judged)
    return judged.because


def opened_for(card: Card, roles: tuple[str, ...], write: Callable[[Card], Change]) -> Change:
    """Make a change with these volumes open; what could not be closed again is among its notes."""
    if not roles:
        return write(card)
    from workbench.changes.opening_up import open_up

    with open_up(card, roles) as opening:
        change = write(opening.card)
    return replace(change, notes=(*change.notes, *opening.notes))
