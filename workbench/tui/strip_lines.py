"""The strip above the keys: what is told, the waiting plan, and what it costs, in verbs and words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.cells import cell_len

from workbench.shown import shown
from workbench.tui.costs import cost_words, count_words
from workbench.tui.lines import Line, Piece, cut, wrap
from workbench.tui.tones import Tone

if TYPE_CHECKING:
    from workbench.tui.app import Workbench
    from workbench.tui.arranger import Preview
    from workbench.tui.base_app import Notice
    from workbench.tui.desk import Desk
    from workbench.tui.ordering import Renames
    from workbench.tui.waiting import Waiting

MOST_NOTICE_LINES = 4
"""A longer notice is cut: the menu has to stay in sight."""


def strip_lines(bench: Workbench, width: int) -> list[Line]:
    """What is told now, and below it the waiting plan in two lines."""
    desk, preview = bench.desk, bench.preview
    busy: list[Piece] = [("planning … ", "muted")] if bench.is_planning else []
    told = notice_lines(bench.notice, width)
    if preview is not None and desk is not None:
        return [*told, _head(desk, busy), preview_line(preview, width)]
    if desk is None or not desk.waiting:
        return [*told, *_empty_lines(busy)]
    return [*told, _head(desk, busy), _last_line(desk.waiting, width)]


def notice_lines(notice: Notice | None, width: int) -> list[Line]:
    """What is told, in as many lines as it needs, up to a limit."""
    if notice is None:
        return []
    said = wrap(notice.text, max(20, width - 2))
    if len(said) > MOST_NOTICE_LINES:
        said = [*said[: MOST_NOTICE_LINES - 1], cut(said[MOST_NOTICE_LINES - 1], width - 4) + " …"]
    tone: Tone = "plain" if notice.severity == "information" else "problem"
    return [Line.of((f" {line}", tone)) for line in said]


def _empty_lines(busy: list[Piece]) -> list[Line]:
    hint = "space takes an entry, arrows move it (f first, e last), w writes"
    return [
        Line.of((" Waiting plan: ", "strong"), "empty. Nothing is written before you say so.", right=busy),
        Line.of((f" {hint}", "muted")),
    ]


def _head(desk: Desk, busy: list[Piece]) -> Line:
    wishes = len(desk.waiting.wishes)
    if not wishes:
        return Line.of((" Waiting plan: ", "strong"), "empty.", right=busy)
    return Line.of(
        (" Waiting plan: ", "strong"),
        (f"* {count_words(wishes, 'wish', 'wishes')}: ", "waiting"),
        cost_words(desk.outcome),
        right=busy,
    )


def _last_line(waiting: Waiting, width: int) -> Line:
    """The last wish; of moves, what they rename, which the list above cannot show."""
    unruled = len(set(waiting.plan.unruled))
    mentions = count_words(unruled, "unruled mention", "unruled mentions") if unruled else ""
    title = f" last: {waiting.wishes[-1].title}"
    if waiting.arranging is None:
        right = f"w writes it{', ' if mentions else ''}{mentions} "
        return Line.of((title, "muted"), right=[(right, "muted")])
    room = width - cell_len(mentions) - 3
    said = f"{title}: {take_words(waiting, room - cell_len(shown(title)) - 2)}"
    if cell_len(shown(said)) > room:
        said = f" last: {take_words(waiting, room - 7)}"
    return Line.of((said, "muted"), right=[(f"{mentions} ", "muted")] if mentions else [])


def preview_line(preview: Preview, width: int) -> Line:
    """What placing the carried entries here would take."""
    if preview.then is None:
        reason = preview.error.message if preview.error is not None else ""
        return Line.of((" ! not to be had here: ", "problem"), reason)
    return Line.of((" ↕ here it takes ", "strong"), take_words(preview.then, width - 19))


def take_words(waiting: Waiting, width: int) -> str:
    """What the moves take: renames, or a folder's own order set anew."""
    listings = waiting.wishes[-1].listings if waiting.wishes and not waiting.renames else ()
    if listings:
        count = sum(len(listing.names) for listing in listings)
        return f"no rename; {count_words(count, 'name is', 'names are')} moved out and back in, in this order"
    return rename_words(waiting.renames, width)


def rename_words(renames: Renames, width: int) -> str:
    """`2 renames: Boats becomes 05 Boats, and 1 more`: as many as there is room for."""
    if not renames:
        return "no rename"
    said = f"{count_words(len(renames), 'rename', 'renames')}: "
    for number, (old, new) in enumerate(renames):
        left = len(renames) - number
        tail = f" and {left - 1} more" if left > 1 else ""
        room = width - cell_len(said + tail)
        piece = f"{', ' if number else ''}{shown(old)} becomes {shown(new)}"
        if cell_len(piece) > room and number:
            return f"{said} and {left} more"
        said += piece if cell_len(piece) <= room else _cut_rename(shown(old), shown(new), room)
    return said


def _cut_rename(old: str, new: str, room: int) -> str:
    """One rename where there is no room for both names: each has half of it."""
    half = max(4, (room - len(" becomes ")) // 2)
    return f"{cut(old, half)} becomes {cut(new, half)}"
