"""A plain page for the card's owner: what was changed, and how to take it back."""

from __future__ import annotations

from collections.abc import Iterable

from workbench.shown import shown
from workbench.values import dataclass

CAUTIONS = (
    "Make a full copy of the card before you change anything, if it holds something that cannot be had "
    "again.",
    "A wrong splash or start script can stop a device from starting. Keep this page and the copy.",
    "If a start-up animation was added: flashing pictures can harm people with photosensitive epilepsy, and "
    "start-up sounds can be loud. What was measured is a screening by published thresholds, not a "
    "medical or legal clearance.",
    "Follow the rules of the place and of the people whose device it is; ask someone qualified in doubt.",
)


@dataclass(frozen=True, slots=True)
class Told:
    """One change, as the page tells it."""

    number: int
    title: str
    time: str
    undone_by: int | None
    undoes: bool
    can_be_undone: bool
    """Whether what it replaced is still kept on the card."""
    kept_on: str
    """The folder on a computer that keeps it, if not the card."""


def write_note(card: str, device: str, changes: Iterable[Told]) -> str:
    """The page; `card` and `device` are names, text from elsewhere."""
    told = list(changes)
    standing = [one for one in told if one.undone_by is None and not one.undoes]
    lines = [f"# What was changed on the card {_plain(card)}", ""]
    lines += [f"The device: {_plain(device)}. This page was written by Cardwright.", ""]
    if not standing:
        lines += [_NONE, ""]
    else:
        lines += ["## Changes that stand, the oldest first", ""]
        lines += [line for one in standing for line in _describe(one)]
        lines += ["", *_HOW]
    taken_back = [one for one in told if one.undone_by is not None and not one.undoes]
    if taken_back:
        lines += ["## Changes that were taken back", ""]
        lines += [f"- {one.number}: {_plain(one.title)} (by change {one.undone_by})" for one in taken_back]
        lines.append("")
    lines += ["## Please mind", "", *(f"- {sentence}" for sentence in CAUTIONS), ""]
    return "\n".join(lines)


_NONE = (
    "No change made with Cardwright stands. (What was edited in other ways is not told here; where such an "
    "edit was in the way of taking a change back, it stayed as it was.)"
)

_HOW = (
    "## How to take it back",
    "",
    "The numbers say what came after what; the dates come from the clock of whatever wrote them, and "
    "clocks on "
    "small devices are often wrong.",
    "",
    "1. Put the card into a computer that has Cardwright.",
    "2. Type `cardwright`, choose the card, and press `4` for its history.",
    "3. Go to the change, press `u`, read what will happen, and press enter.",
    "",
    "Without the screen: `cardwright undo CARD NUMBER`, with the card's label or folder for CARD. Every "
    "change "
    "can be taken back alone, as far as nothing later touched the same places; otherwise the places are "
    "named.",
    "Please do not delete the hidden folder `.cardwright` on the card: it holds what was replaced.",
    "",
)


def _describe(one: Told) -> list[str]:
    lines = [f"- {one.number}: {_plain(one.title)} ({one.time[:10]})"]
    if one.kept_on:
        lines.append(f"  - what it replaced lies on the computer that wrote it, in {_plain(one.kept_on)}")
    elif not one.can_be_undone:
        lines.append("  - what it replaced was let go, so it can be taken back in part at most")
    return lines


def _plain(text: str) -> str:
    """Text from a card, harmless in Markdown and on a terminal."""
    return "".join(f"\\{char}" if char in "\\`*_[]<>#|" else char for char in shown(text))
