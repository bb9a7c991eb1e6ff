"""What happens when a card comes to the desk: an unfinished change is asked about, a waiting plan comes back.

A waiting plan is checked again, not trusted again: one that no longer fits the card is named and left.
"""

from __future__ import annotations

import asyncio
from collections.abc import Collection
from contextlib import suppress
from typing import TYPE_CHECKING

from workbench.errors import CardwrightError
from workbench.tui.dialog import Question
from workbench.tui.waiting import Waiting
from workbench.values import replace

if TYPE_CHECKING:
    from workbench.card.volumes import Card
    from workbench.changes.recover import Recovered, Unfinished, Way
    from workbench.tui.card_keeping import CardKeeper
    from workbench.tui.desk import Desk


async def begin(bench: CardKeeper, desk: Desk) -> None:
    """Ask what a fresh card has to be asked."""
    await offer_recovery(bench, desk)
    await _start_what_was_left(bench, desk)
    with suppress(CardwrightError):  # asked again, and told, when something is to be written
        desk.is_untouched = await asyncio.to_thread(has_no_history, desk.card)
    await reopen_waiting(bench, desk)


async def _start_what_was_left(bench: CardKeeper, desk: Desk) -> None:
    """The device's menu, where a program that was killed left it stopped."""
    from workbench.changes.quiet_device import is_left_stopped, start_again

    if is_left_stopped(desk.card):
        notes = await asyncio.to_thread(start_again, desk.card)
        bench.say(" ".join(["The device's menu had been left stopped; it was started again.", *notes]))


def has_no_history(card: Card) -> bool:
    """Whether this card was never changed by us."""
    from workbench.changes.ledger import read_history

    return not read_history(card)


async def offer_recovery(bench: CardKeeper, desk: Desk) -> None:
    """Where the card has an unfinished change: forward, back, or later."""
    from workbench.changes.recover import find_unfinished

    try:
        unfinished = await asyncio.to_thread(find_unfinished, desk.card)
    except CardwrightError as error:
        bench.say_error(error)
        return
    if unfinished is None:
        return
    way = await bench.push_screen_wait(_question(unfinished))
    if way == "forward":
        await _recover(bench, desk, "forward")
    elif way == "back":
        await _recover(bench, desk, "back")
    elif way == "without":
        await _recover(bench, desk, "back", without=unfinished.waiting_for)


def _question(unfinished: Unfinished) -> Question:
    said = (
        f"Change {unfinished.number}, “{unfinished.title}”, began and did not end. Nothing else can be "
        f"written before it is carried to its end or taken back; both are exact. {unfinished.caution}"
    )
    if unfinished.waiting_for:
        absent = ", ".join(unfinished.waiting_for)
        said += f"\n! It waits for what is absent: {absent}. Put that in, or take back what is here."
    answers = {"b": ("back", "back to the beginning"), "l": ("later", "later")}
    if unfinished.waiting_for:
        answers = {"w": ("without", "back without what is absent"), "l": ("later", "later")}
    elif unfinished.can_go_forward:
        answers = {"f": ("forward", "forward to its end"), **answers}
    return Question("This card has an unfinished change", said, answers)


async def _recover(bench: CardKeeper, desk: Desk, way: Way, without: Collection[str] = ()) -> None:
    try:
        done = await asyncio.to_thread(_carry_to_end, desk.card, way, without)
    except CardwrightError as error:
        bench.say_error(error)
        return
    if done is not None:
        bench.say(" ".join([f"Change {done.number}: {done.sentence}", *done.notes]))
    bench.show_card_anew()


def _carry_to_end(card: Card, way: Way, without: Collection[str]) -> Recovered | None:
    from workbench.changes.quiet_device import menu_stopped
    from workbench.changes.recover import recover

    with menu_stopped(card):
        return recover(card, way, without=without)


async def reopen_waiting(bench: CardKeeper, desk: Desk) -> None:
    """Bring back the plan that waited when the workbench was left."""
    try:
        waiting = await asyncio.to_thread(desk.load_waiting)
    except CardwrightError as error:
        await _ask_to_drop(bench, desk, error)
        return
    if waiting and not desk.waiting:
        desk.waiting = waiting
        bench.show_desk()
        bench.say("The plan that waited is back. Nothing of it is written yet.")


async def _ask_to_drop(bench: CardKeeper, desk: Desk, error: CardwrightError) -> None:
    answer = await bench.push_screen_wait(
        Question(
            "The plan that waited does not fit this card any more",
            error.message,
            {"d": ("drop", "drop the plan"), "k": ("keep", "keep it for later")},
        )
    )
    if answer == "drop":
        desk.waiting = Waiting()
        bench.keep_waiting(desk)


async def ask_trust(bench: CardKeeper, card: Card) -> Card | None:
    """A profile on a card came from anyone: ask once; the card with that profile trusted, or None."""
    from workbench.card.profiles import trust

    profile = card.profile
    assert profile is not None
    answer = await bench.push_screen_wait(
        Question(
            "This card brings its own device profile",
            f"{profile.source} decides which files are changed. Nobody has looked at it yet.",
            {"y": ("yes", "use it, now and later")},
        )
    )
    if answer != "yes":
        return None
    return replace(card, profile=await asyncio.to_thread(trust, profile))
