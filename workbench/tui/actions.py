"""The one registry of what a person can do with a key.

Bindings, help, the command palette, the footer and the README's table of keys all come from `ACTIONS`, and
`find_clashes` is run on it at start-up and in a test. A place (`where`) is a page, the list, or the whole
workbench; the places of one row of `TOGETHER` are reachable at the same time.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal, cast

from textual.binding import Binding, BindingType

from workbench.values import dataclass

Where = Literal[
    "app",
    "list",
    "menu",
    "splash",
    "manifests",
    "history",
    "mentions",
    "cards",
    "survey",
    "check",
    "packs",
    "backup",
    "animations",
    "animate",
    "rehearsal",
    "dialog",
]

WORDS: dict[Where, str] = {
    "app": "Everywhere",
    "list": "In every list",
    "menu": "Menu",
    "splash": "Splash",
    "manifests": "Manifests",
    "history": "History",
    "mentions": "Mentions",
    "cards": "Cards",
    "survey": "Survey",
    "check": "Check",
    "packs": "Packs",
    "backup": "Backup",
    "animations": "Animations",
    "animate": "Make an animation",
    "rehearsal": "Rehearsal",
    "dialog": "In a question",
}

PAGES: tuple[Where, ...] = (
    *("menu", "splash", "manifests", "history", "mentions", "cards", "survey", "check"),
    *("packs", "backup", "animations", "animate", "rehearsal"),
)

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


_TABLE = """
app | app.help | question_mark,f1 | help | Show what every key does | footer
app | app.palette | ctrl+p,f9 | find an action | Find any action by its name | | command_palette
app | page.menu | 1 | menu | The menu as the device lists it | | show_page('menu')
app | page.splash | 2 | splash | What the device shows at start, while charging, … | | show_page('splash')
app | page.manifests | 3 | manifests | The text files that the firmware reads | | show_page('manifests')
app | page.history | 4 | history | What was changed on this card, and undo | | show_page('history')
app | page.mentions | 5 | mentions | Places that name an entry under no rule | | show_page('mentions')
app | page.cards | 6 | cards | Choose another card | | show_page('cards')
app | page.survey | 7 | survey | The card's profile: find it, edit it, try it | | show_page('survey')
app | page.check | 8 | check | What is wrong with the card, or will be, and mending it | | show_page('check')
app | page.packs | P | packs | Look into packs, add them, take them out | | show_page('packs')
app | page.backup | B | backup | Take a backup, compare and restore one | | show_page('backup')
app | page.animations | f3 | animations | The boot animations: play, mend, choose | | show_page('animations')
app | page.animate | f4 | make animation | Make a boot animation of a clip | | show_page('animate')
app | page.rehearsal | f5 | rehearsal | The whole start as the device will show it | | show_page('rehearsal')
app | page.back | escape | back | Put taken entries back, take marks away, close a file, or go to the menu
app | pane.next | tab | next pane | Go to the next pane | | focus_next
app | pane.previous | shift+tab | pane before | Go to the pane before | | focus_previous
app | plan.write | w,f10 | write | Write the waiting plan to the card (asks once) | footer
app | plan.drop-last | backspace,f8 | drop last | Take the last move back, or the last wish of the plan
app | plan.drop-all | D | drop all | Drop the whole waiting plan (asks)
app | card.eject | E | eject | Flush, read back and unmount the card; says when it can be pulled
app | app.theme | T | colours | Dark, light, or the terminal's own colours
app | app.quit | q,ctrl+q | quit | Leave; a waiting plan is kept for the next time | | quit
list | list.up | up,k | up | One line up | | cursor_up
list | list.down | down,j | down | One line down | | cursor_down
list | list.page-up | pageup | page up | One page up | | page_up
list | list.page-down | pagedown | page down | One page down | | page_down
list | list.first | home,g | first | To the first line | | cursor_first
list | list.last | end,G | last | To the last line | | cursor_last
list | list.choose | enter | choose | Choose the line under the cursor | | choose
menu | entry.take | space | take | Take the entry, or all marked; arrows move, the same key places | footer
menu | entry.mark | m | mark | Mark the entry, or unmark it; what comes next is for all marked | footer
menu | entry.mark-range | M | mark to here | Mark everything from the entry marked last to this one
menu | entry.rename | r,f2 | rename | Give the entry another name; everything that names it follows | footer
menu | entry.first | f | first | Send the entry, or all marked, to the first place
menu | entry.last | e | last | Send the entry, or all marked, to the last place
menu | entry.before | b | before | Place all marked before the entry under the cursor
menu | entry.after | a | after | Place all marked after the entry under the cursor
menu | menu.sort | s | sort | Sort the marked, or the whole menu, by what the device shows
menu | menu.reverse | R | turn round | Turn the order of the marked round, or of the whole menu
menu | menu.number | n | number all | Number all entries in the order they have, with room between
menu | menu.prefixes | p | prefixes | How prefixes are made: shortest, numbers, letters; what follows them
menu | entry.strip | x | prefix off | Take the prefix off the entry, or off all marked
menu | menu.strip | X | all prefixes off | Take every prefix off
menu | entry.find | slash | find | Go to the entry whose line holds what you type | footer
menu | entry.view | v | picture | Show the entry's pictures one by one, or what names it
menu | entry.picture | i | put picture | Put a picture of yours in as the entry's icon or art
menu | entry.label | t | shown name | Set the name that the device shows, where it is not the entry's own
menu | entry.hide | H | hide | Hide the entry, or all marked, from the device
menu | entry.show | S | show hidden | Show an entry that is hidden
menu | entry.copy | c | copy | Copy the entry as a new one
menu | entry.add | A | add | Add an empty entry, registered wherever its neighbours are
menu | entry.remove | d,delete | remove | Put the entry, or all marked, away, with everything that names it
menu | menu.next | right,l | next menu | Show the next menu
menu | menu.previous | left,h | menu before | Show the menu before
splash | splash.put | p | put | Put a picture of yours in its place | footer
splash | splash.blank | b | blank | Blank it: one colour, in the kind that is there | footer
splash | splash.fit | f | fit | How the picture is fitted: contain, cover, stretch, centre | footer
splash | splash.background | c | colour | The colour around a picture, and of a blank one | footer
splash | splash.dither | d | dither | How few colours stand for many: none, ordered, diffused
splash | splash.restore | r | restore | Put the kept picture under the cursor back, byte for byte
manifests | manifest.view | v | text or tree | Show the same manifest as text or as a tree | footer
manifests | manifest.set | e | set | Give the place under the cursor another value | footer
manifests | manifest.insert | i | insert | Add a member beside or below the place under the cursor | footer
manifests | manifest.delete | d,delete | delete | Take the place under the cursor out of the manifest
manifests | manifest.mend | m | mend | Look at the proposed repair of a malformed manifest | footer
history | change.undo | u | undo | Undo the change under the cursor alone | footer
history | change.undo-after | U | undo with later | Undo this change and all after it | footer
history | change.recover | o | recover | Decide what becomes of an unfinished change | footer
history | change.let-go | x | let go | Let go of what this change keeps, to free room (asks) | footer
mentions | mention.all | a | whole menu | Look for mentions of the whole menu, or of one entry | footer
cards | card.open | o | folder | Open a folder as a card | footer
cards | card.look | L | look again | Look for cards again | footer
check | check.mend | m | mend | Put the mend of what is under the cursor into the plan | footer
check | check.mend-kind | M | mend kind | Put the mends of all findings of this kind into the plan | footer
check | check.mend-all | a | mend all | Put the mends of everything that was found into the plan | footer
check | check.show | o | show | Open the file at the line of the finding
check | check.notes | n | notes | Show or hide what is only worth knowing | footer
check | check.again | L | look again | Check the card again
check | check.thorough | R | read all | Read every file, and look at what plays at start (takes a while)
survey | survey.answer | a | answer | Answer what only the device can show, one question at a time | footer
survey | survey.back | b | answer before | Take the last answer back, and ask that question again
survey | survey.take | t | take | Take the finding under the cursor as right
survey | survey.correct | c | correct | Put another value in the finding under the cursor | footer
survey | survey.drop | d,delete | drop | Leave the finding out of the profile, or bring it back
survey | survey.view | v | view | What speaks for it, the menu as it will be read, the profile's text | footer
survey | survey.save | s | save | Save the profile with your own, and open the menu with it | footer
survey | survey.save-to | S | save to | Save it elsewhere: onto the card, or into a file
survey | survey.menu | n | name a menu | Name a folder that is a menu, where none was found
survey | survey.try | y | try | Lay the profile over the card: what matches nothing, what is under no rule
survey | survey.probe | p | test picture | Put a test picture up, and say what the device shows of it
survey | survey.read | r | read card | Read the card and propose a profile anew
survey | survey.open | o | other profile | Lay another profile over the card, from a file
packs | packs.open | o | open | Look into an archive or a folder | footer
packs | packs.add | a | add | Put the pack that is open into the plan | footer
packs | packs.place | i | where to | Say where a part of the pack belongs | footer
packs | packs.mine | m | keep mine | Of a clash: keep the file that is on the card
packs | packs.theirs | t | take theirs | Of a clash: take the pack's file
packs | packs.both | b | have both | Of a clash: put the pack's file beside the one on the card
packs | packs.leave-out | x | leave out | Leave the part out, or take it in again
packs | packs.remove | d,delete | take out | Take the pack under the cursor out of the card | footer
backup | backup.take | t | take | Take a backup of the card | footer
backup | backup.open | o | open | Open a backup and compare it with the card | footer
backup | backup.restore | r | restore | Put the marked files, or all that differ, back into the plan | footer
backup | backup.mark | space | mark | Mark the file under the cursor, or unmark it
backup | backup.verify | v | verify | Read every byte of the open backup
backup | backup.scope | a | what | What is taken: what the profile names, everything, large media too | footer
backup | backup.secrets | s | secrets | Take files along that look like passwords or keys, or leave them out
backup | backup.as-if | f | other card | What a move to a card of another kind would cost and break
animations | animations.play | p | play | Play it in the terminal, each frame at its true time | footer
animations | animations.new | n | new | Make one of a clip or of pictures | footer
animations | animations.choose | c | at start | Let it play at start | footer
animations | animations.none | o | none | Let nothing play at start
animations | animations.retime | t | retime | Give it another pace; frames or length are kept | footer
animations | animations.resize | z | resize | Bring every frame to the panel's size
animations | animations.renumber | u | number anew | Count the frames anew, without gaps
animations | animations.mend | m | mend | Fill gaps or close them, and set the count right
animations | animations.export | e | write out | Write it to a GIF or an MP4 on this computer, to share
animations | animations.examine | x | examine | Examine it for flashes
animations | animations.remove | d,delete | remove | Put it away with all that is its own
animations | animations.next | right,l | frame on | Show the next frame
animations | animations.before | left,h | frame before | Show the frame before
animate | animate.source | o | clip | Choose the clip: a video, or pictures | footer
animate | animate.render | r | render | Render it, and report what it would be | footer
animate | animate.add | a | add | Put the animation into the plan | footer
animate | animate.play | p | play | Play what was rendered, each frame at its true time | footer
animate | animate.slower | s | slower | Where it flashes too much: show it slower, and examine it again
animate | animate.dimmed | d | dimmed | Where it flashes too much: dim it, and examine it again
animate | animate.shortened | x | shortened | Where it flashes too much: cut it short, and examine it again
animate | animate.plain | u | as it was | Take the remedy back
animate | animate.clear | delete | clear | Empty the line under the cursor
rehearsal | rehearsal.play | p | play | Play the whole start, each frame at its true time | footer
rehearsal | rehearsal.menu | m | other menu | Rehearse with another menu than the first
dialog | dialog.back | escape | back | Step back; nothing is done | footer
"""
"""where | id | keys, first the one shown | word | sentence | footer | Textual action if not the id"""


def _read_row(row: str) -> Action:
    cells = [cell.strip() for cell in row.split("|")]
    where, action_id, keys, word, sentence, footer, call = (*cells, "", "")[:7]
    return Action(action_id, keys, word, sentence, cast(Where, where), footer == "footer", call)


ACTIONS: tuple[Action, ...] = tuple(map(_read_row, _TABLE.strip().splitlines()))


def actions_at(*places: Where) -> tuple[Action, ...]:
    """The actions of these places, in the order of the registry."""
    return tuple(action for action in ACTIONS if action.where in places)


def action_of(action_id: str) -> Action:
    """The action of that id (`KeyError` where there is none)."""
    return {action.id: action for action in ACTIONS}[action_id]


def bindings_for(where: Where) -> list[BindingType]:
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
                    found.append(f"{key_word(key)} means both {owners[key].id} and {action.id}")
    return sorted(set(found))
