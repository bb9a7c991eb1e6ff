"""The pictures of an entry for the terminal: as they are on the card, and as they will be.

Runs in worker threads; decodes what the pane shows and nothing more.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.errors import CardwrightError
from workbench.tui.picture_pane import Cells, fit_cells
from workbench.values import dataclass

if TYPE_CHECKING:
    from collections.abc import Sequence

    from workbench.card.entry import Entry, Menu
    from workbench.card.paths import VolumePath
    from workbench.jobs.icon import EntryPicture
    from workbench.tui.desk import Desk


@dataclass(frozen=True, slots=True)
class SeenPicture:
    """One picture made ready for the terminal, or a sentence where there is none."""

    title: str
    cells: Cells = ()
    sentence: str = ""


@dataclass(frozen=True, slots=True)
class SeenPictures:
    """One kind of picture of an entry: before and after the waiting plan."""

    after: SeenPicture
    before: SeenPicture | None = None
    """None where the plan leaves the picture as it is."""
    kinds: int = 0
    """How many kinds of pictures the profile knows for the entry."""


def list_entry_pictures(desk: Desk, menu: Menu, entry: Entry) -> Sequence[EntryPicture]:
    """Every kind of picture that the profile names for an entry, as the waiting plan leaves them."""
    from workbench.jobs.icon import list_pictures

    return list_pictures(desk.tree(), desk.known_profile(), menu, entry)


def see_pictures(
    desk: Desk, menu: Menu, entry: Entry, number: int, room: tuple[int, int], most_bytes: int
) -> SeenPictures:
    """The picture of that number, before and after, in half blocks that cost at most so much together."""
    pictures = list_entry_pictures(desk, menu, entry)
    if not pictures:
        return SeenPictures(SeenPicture("", (), "The device profile names no picture for it."))
    picture = pictures[number % len(pictures)]
    before = _picture_before(desk, menu, entry, picture)
    columns, rows = room
    if before is None or before.content == picture.content:
        return SeenPictures(_see(picture, room, most_bytes), None, len(pictures))
    half = (columns, max(1, (rows - 1) // 2))
    return SeenPictures(
        _see(picture, half, most_bytes // 2), _see(before, half, most_bytes // 2), len(pictures)
    )


def _picture_before(desk: Desk, menu: Menu, entry: Entry, after: EntryPicture) -> EntryPicture | None:
    """The same kind of picture of the same entry on the card as it is; None for a new entry."""
    from workbench.card.menu import read_rule_menus
    from workbench.jobs.icon import list_pictures

    if not desk.waiting or entry.at in desk.outcome.new:
        return None
    at, profile = desk.outcome.origin(entry.at), desk.known_profile()
    found = _find(read_rule_menus(desk.disk, profile, menu.rule, labels=False), at)
    if found is None:
        return None
    now = list_pictures(desk.disk, profile, *found)
    place = desk.outcome.origin(after.at)
    exactly = next((one for one in now if one.at == place), None)
    return exactly or next((one for one in now if one.kind == after.kind), None)


def _find(menus: Sequence[Menu], at: VolumePath) -> tuple[Menu, Entry] | None:
    return next(((menu, entry) for menu in menus for entry in menu.entries if entry.at == at), None)


def _see(picture: EntryPicture, room: tuple[int, int], most_bytes: int) -> SeenPicture:
    from workbench.jobs.icon import view_picture

    if picture.is_missing:
        return SeenPicture(picture.kind, (), f"! {picture.sentence}. Put one in with i.")
    try:
        cells = fit_cells(view_picture(picture), room, most_bytes)
    except CardwrightError as error:
        return SeenPicture(picture.kind, (), f"! {error.message}")
    return SeenPicture(f"{picture.kind}: {picture.sentence}", cells)
