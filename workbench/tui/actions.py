"""The one registry of what a person can do with a key.

Bindings, help, the command palette, the footer and the README's table of keys all come from `ACTIONS`, and
`find_clashes` is run on it at start-up and in a test. A place (`where`) is a page, the list, or the whole
workbench; the places of one row of `TOGETHER` are reachable at the same time.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from textual.binding import Binding

Where = Literal["app", "list", "menu", "splash", "manifests", "history", "mentions", "cards", "dialog"]

WORDS: dict[Where, str] = {
    "app": "Everywhere",
    "list": "In every list",
    "menu": "Menu",
    "splash": "Splash",
    "manifests": "Manifests",
    "history": "History",
    "mentions": "Mentions",
    "cards": "Cards",
    "dialog": "In a question",
}

PAGES: tuple[Where, ...] = ("menu", "splash", "manifests", "history", "mentions", "cards")

TOGETHER: tuple[tuple[Where, ...], ...] = (*(("app", "list", page) for page in PAGES), ("dialog",))
"""Places whose keys are live at the same time."""

FOOTER_LIMIT = 6


@dataclass(frozen=True, slots=True)
class Action:
    """One thing to do: stable dotted id, its keys, a word for the footer and a sentence for the help."""

    id: str
    keys: str
    """Textual key names, comma separated; the first is the one shown."""
    word: str
    sentence: str
    where: Where
    footer: bool = False
    call: str = ""
    """Textual action; empty: the id with dots and dashes as underscores."""

    @property
    def action(self) -> str:
        return self.call or self.id.replace(".", "_").replace("-", "_")

    @property
    def key_list(self) -> tuple[str, ...]:
        return tuple(self.keys.split(","))

    @property
    def shown_keys(self) -> str:
        """The keys as a person reads them: `space, enter`."""
        return ", ".join(map(key_word, self.key_list))


_KEY_WORDS = {
    "question_mark": "?",
    "slash": "/",
    "up": "↑",
    "down": "↓",
    "left": "←",
    "right": "→",
    "pageup": "page up",
    "pagedown": "page down",
    "escape": "esc",
    "shift+tab": "shift+tab",
}


def key_word(key: str) -> str:
    """How a key is written for a person."""
    if key in _KEY_WORDS:
        return _KEY_WORDS[key]
    return key.upper() if key.startswith("f") and key[1:].isdigit() else key


def _page(page: Where, key: str, sentence: str) -> Action:
    return Action(f"page.{page}", key, WORDS[page].lower(), sentence, "app", call=f"app.show_page('{page}')")


ACTIONS: tuple[Action, ...] = (
    Action("app.help", "question_mark,f1", "help", "Show what every key does", "app", footer=True),
    Action(
        "app.palette",
        "ctrl+p,f9",
        "find an action",
        "Find any action by its name",
        "app",
        call="app.command_palette",
    ),
    _page("menu", "1", "The menu as the device lists it"),
    _page("splash", "2", "The pictures that the device shows at start, while charging, …"),
    _page("manifests", "3", "The text files that the firmware reads"),
    _page("history", "4", "What was changed on this card, and undo"),
    _page("mentions", "5", "Places that name an entry under no rule of the profile"),
    _page("cards", "6", "Choose another card"),
    Action("pane.next", "tab", "next pane", "Go to the next pane", "app", call="app.focus_next"),
    Action(
        "pane.previous",
        "shift+tab",
        "previous pane",
        "Go to the pane before",
        "app",
        call="app.focus_previous",
    ),
    Action(
        "plan.write", "w,f10", "write", "Write the waiting plan to the card (asks once)", "app", footer=True
    ),
    Action("plan.drop-last", "backspace,f8", "drop last", "Drop the last wish of the waiting plan", "app"),
    Action("plan.drop-all", "D", "drop all", "Drop the whole waiting plan (asks)", "app"),
    Action("app.theme", "T", "light or dark", "Change between the dark and the light theme", "app"),
    Action(
        "app.quit",
        "q,ctrl+q",
        "quit",
        "Leave; a waiting plan is kept for the next time",
        "app",
        call="app.quit",
    ),
    Action("list.up", "up,k", "up", "One line up", "list", call="cursor_up"),
    Action("list.down", "down,j", "down", "One line down", "list", call="cursor_down"),
    Action("list.page-up", "pageup", "page up", "One page up", "list", call="page_up"),
    Action("list.page-down", "pagedown", "page down", "One page down", "list", call="page_down"),
    Action("list.first", "home,g", "first", "To the first line", "list", call="cursor_first"),
    Action("list.last", "end,G", "last", "To the last line", "list", call="cursor_last"),
    Action("list.choose", "enter", "choose", "Choose the line under the cursor", "list", call="choose"),
    Action(
        "entry.take",
        "space",
        "take",
        "Take the entry; move it with the arrows; place it with the same key",
        "menu",
        footer=True,
    ),
    Action("entry.put-back", "escape", "put back", "Put a taken entry back where it was", "menu"),
    Action(
        "entry.rename",
        "r,f2",
        "rename",
        "Give the entry another name; everything that names it follows",
        "menu",
        footer=True,
    ),
    Action("entry.first", "f", "first", "Send the entry to the first place", "menu", footer=True),
    Action("entry.last", "e", "last", "Send the entry to the last place", "menu", footer=True),
    Action("entry.strip", "x", "prefix off", "Take the prefix off the entry's name", "menu"),
    Action("entry.find", "slash", "find", "Go to the entry whose name holds what you type", "menu"),
    Action("entry.view", "v", "picture", "Show the entry's picture, or what names it", "menu"),
    Action("menu.next", "right,l", "next menu", "Show the next menu", "menu"),
    Action("menu.previous", "left,h", "menu before", "Show the menu before", "menu"),
    Action("splash.put", "p", "put", "Put a picture of yours in its place", "splash", footer=True),
    Action(
        "splash.blank", "b", "blank", "Blank it: one colour, in the kind that is there", "splash", footer=True
    ),
    Action(
        "splash.fit",
        "f",
        "fit",
        "Change how the picture is fitted: contain, cover, stretch, centre",
        "splash",
        footer=True,
    ),
    Action("splash.background", "c", "colour", "Change the colour behind the picture", "splash", footer=True),
    Action(
        "splash.dither",
        "d",
        "dither",
        "Change how colours are made where there are few: none, ordered, diffused",
        "splash",
    ),
    Action(
        "splash.restore",
        "r",
        "restore",
        "Put the kept picture under the cursor back, byte for byte",
        "splash",
    ),
    Action(
        "manifest.view",
        "v",
        "text or tree",
        "Show the same manifest as a tree or as text",
        "manifests",
        footer=True,
    ),
    Action(
        "manifest.set", "e", "set", "Give the place under the cursor another value", "manifests", footer=True
    ),
    Action(
        "manifest.insert",
        "i",
        "insert",
        "Add a member beside or below the place under the cursor",
        "manifests",
        footer=True,
    ),
    Action(
        "manifest.delete",
        "d,delete",
        "delete",
        "Take the place under the cursor out of the manifest",
        "manifests",
    ),
    Action(
        "manifest.mend",
        "m",
        "mend",
        "Look at the proposed repair of a malformed manifest",
        "manifests",
        footer=True,
    ),
    Action("manifest.close", "escape", "files", "Back to the list of manifests", "manifests"),
    Action("change.undo", "u", "undo", "Undo this change alone", "history", footer=True),
    Action(
        "change.undo-after",
        "U",
        "undo with later",
        "Undo this change and all after it",
        "history",
        footer=True,
    ),
    Action(
        "change.recover",
        "o",
        "recover",
        "Decide what becomes of an unfinished change",
        "history",
        footer=True,
    ),
    Action(
        "mention.all",
        "a",
        "whole menu",
        "Look for mentions of every entry of the menu, or of one",
        "mentions",
        footer=True,
    ),
    Action("card.open", "o", "folder", "Open a folder as a card", "cards", footer=True),
    Action("card.look", "L", "look again", "Look for cards again", "cards", footer=True),
    Action("dialog.back", "escape", "back", "Step back; nothing is done", "dialog", footer=True),
)


def actions_at(*places: Where) -> tuple[Action, ...]:
    """The actions of these places, in the order of the registry."""
    return tuple(action for action in ACTIONS if action.where in places)


def action_of(action_id: str) -> Action:
    """The action of that id (`KeyError` where there is none)."""
    return {action.id: action for action in ACTIONS}[action_id]


def bindings_for(where: Where) -> list[Binding]:
    """Textual bindings for one place."""
    return [
        Binding(
            action.keys, action.action, action.word, show=action.footer, tooltip=action.sentence, id=action.id
        )
        for action in actions_at(where)
    ]


def footer_actions(page: Where) -> tuple[Action, ...]:
    """What the footer of a page shows, help first."""
    chosen = [action for action in actions_at("app", page) if action.footer]
    chosen.sort(key=lambda action: (action.id != "app.help", action.where == "app"))
    return tuple(chosen)


def find_clashes(actions: Iterable[Action] = ACTIONS) -> list[str]:
    """Sentences about keys that mean two things at once, and ids given twice."""
    known = tuple(actions)
    found = [
        f"the id {a.id} is given twice" for i, a in enumerate(known) if a.id in {b.id for b in known[:i]}
    ]
    for places in TOGETHER:
        owners: dict[str, Action] = {}
        for action in known:
            for key in action.key_list if action.where in places else ():
                if owners.setdefault(key, action) is not action:
                    found.append(
                        f"{key_word(key)} means {owners[key].id} and {action.id} ({', '.join(places)})"
                    )
    return sorted(set(found))


def key_table() -> str:
    """The table of keys for the README, in Markdown."""
    rows = ["| where | key | what it does |", "| --- | --- | --- |"]
    for where, word in WORDS.items():
        rows += [f"| {word} | {action.shown_keys} | {action.sentence} |" for action in actions_at(where)]
    return "\n".join(rows)
