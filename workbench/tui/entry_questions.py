"""What has to be asked before an entry is renamed, dressed, copied, added or shown; each ends in a wish."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from workbench.errors import CardwrightError
from workbench.tui import entry_wishes
from workbench.tui.choice_dialog import ChoiceDialog
from workbench.tui.costs import count_words
from workbench.tui.dialog import Question
from workbench.tui.fit_dialog import FitDialog, Fitting, colour_fault
from workbench.tui.lines import Line
from workbench.tui.name_dialog import NameDialog, TextDialog
from workbench.tui.path_dialog import PathDialog
from workbench.values import replace

if TYPE_CHECKING:
    from workbench.jobs.icon import EntryPicture
    from workbench.tui.entry_row import EntryRow
    from workbench.tui.menu_page import MenuPage


async def ask_name(page: MenuPage) -> None:
    """Another name for the entry under the cursor."""
    row = page.entries.row
    if row is not None:
        await _ask_name(page, row)


async def _ask_name(page: MenuPage, row: EntryRow) -> None:
    name = await page.app.push_screen_wait(NameDialog(row.entry.name, row.entry.stem))
    if name and name != row.entry.name:
        page.wish_for(entry_wishes.rename_to(name), rows=[row])


async def ask_label(page: MenuPage) -> None:
    """What the device shows for the entry; where that is its name, that is said, and a rename offered."""
    from workbench.jobs.label import describe_label

    row, menu = page.entries.row, page.menu
    if row is None or menu is None:
        return
    facts = describe_label(menu, row.entry)
    if not facts.is_apart:
        question = Question("The device shows the name", facts.sentence, {"r": ("rename", "rename it")})
        if await page.app.push_screen_wait(question) == "rename":
            await _ask_name(page, row)
        return
    dialog = TextDialog(
        f"What the device shows for {row.name}",
        facts.shown,
        hint="enter: plan it; the entry's name stays   esc: back",
        note=facts.sentence,
    )
    text = await page.app.push_screen_wait(dialog)
    if text and not (text == facts.shown and facts.is_set):
        page.wish_for(entry_wishes.label_with(text), rows=[row])


async def ask_picture(page: MenuPage) -> None:
    """A picture of the person's own for the entry, of the kind that is asked for."""
    from workbench.tui.entry_pictures import list_entry_pictures

    row, menu, desk = page.entries.row, page.menu, page.desk
    if row is None or menu is None or desk is None:
        return
    try:
        pictures = await asyncio.to_thread(list_entry_pictures, desk, menu, row.entry)
    except CardwrightError as error:
        page.workbench.say_error(error)
        return
    pictures = list({one.kind: one for one in reversed(pictures)}.values())[::-1]
    if not pictures:
        page.workbench.say("The device profile names no picture for the entries of this menu.")
        return
    at: int | None = 0
    if len(pictures) > 1:
        lines = [_picture_line(one) for one in pictures]
        at = await page.app.push_screen_wait(ChoiceDialog(f"Which picture of {row.name}?", lines))
    if at is None:
        return
    picture = pictures[at]
    dialog = PathDialog(
        f"A picture for the {picture.kind} of {row.name}",
        page.last_folder,
        note=f"It is made to {picture.wanted}." if picture.wanted else picture.sentence,
    )
    path = await page.app.push_screen_wait(dialog)
    if not path:
        return
    place = Path(path).expanduser()
    page.last_folder = f"{place.parent}/"
    fitting = await _ask_fitting(page, f"How is {place.name} put?")
    if fitting is not None:
        wish = entry_wishes.dress_with(picture.kind, place, fitting.fit, fitting.background or None)
        page.wish_for(wish, rows=[row])
        await page.look_at_picture(at)


async def _ask_fitting(page: MenuPage, title: str) -> Fitting | None:
    """How a picture is fitted, and what lies behind it; what was chosen last is offered first."""
    while True:
        given = await page.app.push_screen_wait(FitDialog(title, page.fitting or Fitting()))
        if given is None:
            return None
        page.fitting = fitting = replace(given, asks_colour=False)
        if not given.asks_colour:
            return fitting
        dialog = TextDialog(
            "What lies behind the picture",
            fitting.background,
            check=colour_fault,
            note="A colour as #rrggbb or by name; nothing leaves it clear where the format can.",
        )
        colour = await page.app.push_screen_wait(dialog)
        if colour is not None:
            page.fitting = replace(fitting, background=colour.strip())


def _picture_line(picture: EntryPicture) -> Line:
    sign = "! " if picture.is_missing else ""
    return Line.of((f"{picture.kind:<8} ", "strong"), (sign, "problem"), picture.sentence)


async def ask_copy(page: MenuPage) -> None:
    """The name of a second entry like this one, and whether what belongs to it is copied too."""
    row, menu, desk = page.entries.row, page.menu, page.desk
    if row is None or menu is None or desk is None:
        return
    dialog = TextDialog(f"Name of a copy of {row.name}", row.name, hint="enter: plan it   esc: back")
    name = await page.app.push_screen_wait(dialog)
    if not name:
        return
    try:
        found = await asyncio.to_thread(desk.find_references, menu, row.entry)
    except CardwrightError as error:
        page.workbench.say_error(error)
        return
    companions = sum(file.kind == "companion" for file in found.files)
    with_companions = False
    if companions:
        question = Question(
            f"{row.name} has {count_words(companions, 'file', 'files')} of its own beside it",
            "Saved games, settings, a manual: they belong to a person, and to one entry.",
            {"n": ("no", "leave them"), "y": ("yes", "copy them, too")},
        )
        answer = await page.app.push_screen_wait(question)
        if answer is None:
            return
        with_companions = answer == "yes"
    page.wish_for(entry_wishes.copy_as(name, with_companions=with_companions), rows=[row])


async def ask_new(page: MenuPage) -> None:
    """The name of an empty entry."""
    if page.menu is None:
        return
    dialog = TextDialog(
        f"Name of a new entry in {page.menu.id}",
        hint="enter: plan it, registered wherever its neighbours are   esc: back",
    )
    name = await page.app.push_screen_wait(dialog)
    if name:
        page.wish_for_menu(entry_wishes.add(name))


async def ask_hidden(page: MenuPage) -> None:
    """Which hidden entry is to be shown."""
    menu, desk = page.menu, page.desk
    if menu is None or desk is None:
        return
    try:
        hidden = await asyncio.to_thread(desk.find_hidden, menu.id)
    except CardwrightError as error:
        page.workbench.say_error(error)
        return
    if not hidden:
        page.workbench.say("Nothing is hidden in this menu.")
        return
    lines = [Line.of(one.shown_name, (f"  ({one.name})", "muted")) for one in hidden]
    at = await page.app.push_screen_wait(ChoiceDialog("Show which entry again?", lines))
    if at is not None:
        page.wish_for_menu(entry_wishes.show(hidden[at]))


QUESTIONS: Mapping[str, Callable[[MenuPage], Awaitable[None]]] = {
    "rename": ask_name,
    "label": ask_label,
    "picture": ask_picture,
    "copy": ask_copy,
    "add": ask_new,
    "hidden": ask_hidden,
}
