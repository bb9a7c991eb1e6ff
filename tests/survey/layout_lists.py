"""What else names entries: lists that a device keeps, scripts, what was open last, words in other tongues."""

from __future__ import annotations

import posixpath

from layout_card import CardPlan, MenuPlan, Thing, VolumePlan
from layout_sheet import Marked, Sheet, quoted, write_ini, write_json, write_keyvalue, write_lines, write_toml
from layout_words import LABELS, LISTS, SCRIPTS, STATES


def outers(card: CardPlan) -> set[MenuPlan]:
    """The menus whose entries are rooms."""
    return {menu.outer for menu in card.menus if menu.outer}


def leaf_menus(card: CardPlan) -> list[MenuPlan]:
    return [menu for menu in card.menus if menu not in outers(card)]


def add_lists(card: CardPlan) -> None:
    """Favourites and recents: some entries of one menu or of all, by name or by path, one a line."""
    rng = card.rng
    for _ in range(rng.choice((0, 1, 2))):
        menus = rng.choice((leaf_menus(card), [rng.choice(leaf_menus(card))]))
        volume = rng.choice((card.volumes[0], card.volumes[-1]))
        path = posixpath.join(
            rng.choice((card.house, "")), f"{card.deck.deal(LISTS)}.{rng.choice(('list', 'txt', 'm3u'))}"
        )
        by_name = len(menus) == 1 and not menus[0].outer and rng.random() < 0.4
        things = [thing for menu in menus for thing in menu.things]
        things = rng.sample(things, min(len(things), rng.choice((3, 6, 9))))
        lines = [_list_line(card, thing, volume, path, by_name) for thing in things]
        lines += rng.choice(([], [f"/gone/{card.seed}/Long Lost"])) if not by_name else ["Long Lost"]
        card.add_sheet(volume, path, write_lines(lines))
        rule = {"file": f"{volume.role}:{path}", "format": "lines", "is": "{entry}" if by_name else "{path}"}
        for menu in menus:
            for one in (menu, menu.outer):
                if one is not None:
                    one.add_rule(rule)


def _list_line(card: CardPlan, thing: Thing, volume: VolumePlan, path: str, by_name: bool) -> Marked:
    if by_name:
        return Marked(thing.name, (thing,))
    styles = ["absolute"] + (["volume", "dot", "manifest"] if volume is thing.menu.volume else [])
    line = card.spell(card.rng.choice(styles), thing, path, thing.menu.tail)
    if "cased" in card.traits and thing.name.isascii() and card.rng.random() < 0.2:
        return Marked(line.text.replace(thing.name, thing.name.upper()), line.things)
    return line


def add_scripts(card: CardPlan) -> None:
    """Scripts that the device runs when it starts, and one in each folder entry, by chance."""
    for menu in leaf_menus(card):
        if menu.tail:
            _add_own_scripts(card, menu)
    if card.rng.random() < 0.6:
        _add_start_script(card)


def _add_own_scripts(card: CardPlan, menu: MenuPlan) -> None:
    """Each folder entry has a script that names its own folder, or only opens what lies beside it."""
    style = card.rng.choice(("absolute", "built", "mute"))
    stars = "*/*" if menu.outer else "*"
    for thing in menu.things:
        path = f"{thing.path}/{menu.tail}"
        sheet = Sheet().put("#!/bin/sh\n")
        if style == "mute":
            sheet.put('cd "$(dirname "$0")" || exit 1\nexec ./engine --quiet\n')
        else:
            _own_lines(card, sheet, thing, style)
        card.add_sheet(menu.volume, path, sheet, is_script=True)
    if style != "mute":
        rule = {
            "file": f"{menu.volume.role}:{menu.root}/{stars}/{menu.tail}",
            "format": "shell",
            "is": "{path}",
        }
        for one in (menu, menu.outer):
            if one is not None:
                one.add_rule(rule)


def _own_lines(card: CardPlan, sheet: Sheet, thing: Thing, style: str) -> None:
    home = thing.menu.volume.mount
    folder = card.spell("absolute", thing, "")
    if style == "absolute":
        sheet.put("cd ").mark(folder, "text")
        sheet.put(quoted(folder.text, card.rng.choice(("single", "double", "bare"))) + " || exit 1\n")
        sheet.put("exec ./engine --quiet\n")
        return
    sheet.put(f'PLACE="{home}"\nexport VOLUME_AT=7\n')
    sheet.mark(folder, "text")
    below = quoted(f"/{thing.path}/matter.bin", "double")
    sheet.put(f'exec engine --at 3 "${{PLACE}}{below[1:]}\n')


def _add_start_script(card: CardPlan) -> None:
    rng = card.rng
    volume = card.volumes[-1]
    path = posixpath.join(rng.choice(("", "footings")), f"{card.deck.deal(SCRIPTS)}.sh")
    menu = rng.choice(leaf_menus(card))
    home = menu.volume.mount
    is_built = rng.random() < 0.5
    sheet = Sheet().put("#!/bin/sh\n# what happens when it is switched on\nset -e\n")
    base = f"{home}/{menu.root}".rstrip("/")
    if is_built:
        sheet.put(f"SHELF={base}\n")
    for thing in rng.sample(menu.things, min(3, len(menu.things))):
        place = card.spell("absolute", thing, path, menu.tail)
        sheet.mark(place, "text")
        below = quoted(place.text.removeprefix(base), "double")
        word = f'"$SHELF{below[1:]}' if is_built else quoted(place.text, rng.choice(("single", "double")))
        sheet.put(rng.choice((f"exec_it {word}\n", f"[ -e {word} ] && echo there\n", f"NEXT={word}\n")))
    sheet.put("exec front --calm\n")
    card.add_sheet(volume, path, sheet, is_script=True)
    rule = {"file": f"{volume.role}:{path}", "format": "shell", "is": "{path}"}
    for one in (menu, menu.outer):
        if one is not None:
            one.add_rule(rule)


def add_state(card: CardPlan) -> None:
    """What was open last, by path, among settings that name nothing."""
    rng = card.rng
    format = rng.choice(("keyvalue", "ini", "toml", "json"))
    volume = card.volumes[0]
    path = posixpath.join(card.house, f"{card.deck.deal(STATES)}.{rng.choice(('state', 'conf', 'cfg'))}")
    settings = {"loudness": 7, "mode": "start", "shade": "blue", "dim_after": 300, "front": "list"}
    rule = {"file": f"{volume.role}:{path}", "format": format, "at": "/lastly", "is": "{path}"}
    if rng.random() < 0.7:
        menu = rng.choice(leaf_menus(card))
        thing = rng.choice(menu.things)
        settings["lastly"] = card.spell(card.path_style(menu, volume), thing, path, menu.tail)
        for one in (menu, menu.outer):
            if one is not None:
                one.add_rule(rule | ({"at": "/standing/lastly"} if format == "ini" else {}))
    if format == "keyvalue":
        sheet = write_keyvalue(settings, "=", "written at every step")
    elif format == "ini":
        sheet = write_ini({"standing": settings}, "=", "written at every step")
    elif format == "toml":
        sheet = write_toml(settings, "written at every step")
    else:
        sheet = write_json(settings, "  ", "")
    card.add_sheet(volume, path, sheet)


def add_tongues(card: CardPlan) -> None:
    """Shown names in other languages: one file for each, keyed by the entry.

    Where no register has shown names, these are what the device shows: of several the first by path.
    """
    plain = [menu for menu in leaf_menus(card) if not menu.outer]
    if "tongues" not in card.traits or not plain:
        return
    menu = card.rng.choice(plain)
    folder = posixpath.join(card.house, "tongues")
    tongues = card.rng.sample(("xa", "xb", "xc"), 2)
    is_shown = menu.label is None
    for tongue in tongues:
        words = {
            Marked(thing.name, (thing,)): f"{card.rng.choice(LABELS)} ({tongue})" for thing in menu.things
        }
        if is_shown and tongue == min(tongues):
            for thing, text in zip(menu.things, words.values(), strict=True):
                thing.label = text
        sheet = write_json({"named": words, "yes": "ja", "on": "an"}, "  ", "")
        card.add_sheet(menu.volume, f"{folder}/{tongue}/spoken.json", sheet)
    file = f"{menu.volume.role}:{folder}/*/spoken.json"
    menu.add_rule({"file": file, "format": "json", "at": "/named/{entry}", "names": "key"})
    if is_shown:
        menu.label = {"file": file, "format": "json", "at": "/named/{entry}"}
