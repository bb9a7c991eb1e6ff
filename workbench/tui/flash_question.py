"""The caution before something is played whose flashes fail the examination, or were not examined."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.tui.dialog import Question

if TYPE_CHECKING:
    from workbench.media.flash_verdict import FlashVerdict
    from workbench.tui.base_app import BaseApp

HARM = "Flashing pictures can harm people with photosensitive epilepsy."
WORTH = "The verdict is a screening by published thresholds, not a medical or legal clearance."


async def ask_about_flashes(bench: BaseApp, name: str, verdict: FlashVerdict | None) -> str | None:
    """`examine`, `play`, or None to leave it."""
    answer: str | None = await bench.push_screen_wait(flash_question(name, verdict))
    return answer


def flash_question(name: str, verdict: FlashVerdict | None) -> Question:
    """What is asked before playing."""
    if verdict is None:
        return Question(
            f"{name} was not examined for flashes",
            f"{HARM} Examine it first. {WORTH}",
            {"x": ("examine", "examine it, then play"), "p": ("play", "play it anyway")},
        )
    from workbench.jobs.animate.report import show_flash

    return Question(
        f"! {name} flashes too much",
        f"{show_flash(verdict)}.\n{HARM} {WORTH}",
        {"p": ("play", "play it anyway")},
    )
