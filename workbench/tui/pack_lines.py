"""A pack in lines: what is on the card, what is in the one that is open, and what each part would meet."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from workbench.tui.costs import count_words
from workbench.tui.lines import BLANK, Line, wrap
from workbench.tui.tones import Tone

if TYPE_CHECKING:
    from workbench.changes.brought import BroughtPack
    from workbench.jobs.packs.parts import PackLook, Part, PartStanding

ORDER: tuple[PartStanding, ...] = (
    *("refused", "undecided", "clash", "changed", "new"),
    *("left-out", "litter", "about", "same"),
)
"""What has to be looked at comes first."""

_WORDS: dict[str, tuple[str, Tone]] = {
    "refused": ("! refused", "problem"),
    "undecided": ("? where to", "problem"),
    "clash": ("! clash", "problem"),
    "changed": ("* changed", "waiting"),
    "new": ("* new", "waiting"),
    "left-out": ("- left out", "muted"),
    "litter": ("- litter", "muted"),
    "about": ("- about it", "muted"),
    "same": ("  same", "muted"),
}
_DECIDED = {"mine": "= mine stays", "theirs": "* theirs", "both": "* both"}
WIDTH = 13


def brought_line(one: BroughtPack) -> Line:
    """A pack on the card."""
    version = f" {one.pack.version}" if one.pack.version else ""
    by = f"  by {one.pack.author}" if one.pack.author else ""
    files = count_words(len(one.files), "file", "files")
    return Line.of(
        (one.pack.name, "strong"), version, (by, "muted"), right=[(f"{files}, change {one.number}", "muted")]
    )


def part_line(part: Part, decision: str | None) -> Line:
    """One part of a pack, with what would become of it."""
    word, tone = _WORDS[part.standing]
    if decision is not None:
        word, tone = _DECIDED[decision], "waiting"
    place = str(part.at) if part.at is not None else part.path
    return Line.of((f"{word:<{WIDTH}}", tone), (place, "place"), right=[(f"{part.size:,}", "muted")])


def sum_up(found: PackLook, decisions: Mapping[str, str]) -> str:
    """What is in the open pack, in one line."""
    counts = [
        (len(found.of("refused")), "refused"),
        (len(found.of("undecided")), "without a place"),
        (sum(part.path not in decisions for part in found.of("clash")), "to decide"),
        (len(found.of("changed")), "changed"),
        (len(found.of("new")), "new"),
        (len(found.of("same")), "the same"),
    ]
    said = ", ".join(f"{count} {word}" for count, word in counts if count)
    return f"{found.name} ({found.archive.format}): {said or 'nothing in it'}"


def note_lines(
    found: PackLook, part: Part | None, difference: list[str], decision: str | None, width: int
) -> list[Line]:
    """What is to be said of the part under the cursor."""
    lines: list[Line] = []
    own = found.list
    if part is None:
        return lines
    lines += [Line.of((piece, "strong")) for piece in wrap(part.path, width)]
    if part.at is not None:
        lines += [Line.of("goes to ", (str(part.at), "place"))]
    if part.because:
        lines += [Line.of(piece) for piece in wrap(part.because, width)]
    if part.standing == "clash" and decision is None:
        lines += [
            Line.of(("m", "key"), ": keep mine   ", ("t", "key"), ": take theirs   ", ("b", "key"), ": both")
        ]
    if difference:
        lines.append(BLANK)
        lines += [_difference_line(text) for text in difference]
    elif own is not None and (own.author or own.licence):
        lines.append(
            Line.of((f"pack by {own.author or 'nobody named'}; {own.licence or 'no licence named'}", "muted"))
        )
    return lines


def _difference_line(text: str) -> Line:
    """A line of a difference: whose it is stands in words, as elsewhere on the screen."""
    if text.startswith(("---", "+++", "@@")):
        return Line.of((text.lstrip("-+ ") if text[0] != "@" else "…", "muted"))
    if text.startswith("-"):
        return Line.of(("mine   ", "problem"), text[1:])
    if text.startswith("+"):
        return Line.of(("theirs ", "waiting"), text[1:])
    return Line.of(("       ", "muted"), text[1:])
