"""Invented card layouts for the survey, made from a seed, with the truth about each.

Every convention is dealt out on its own: where menus lie, what their entries are, which manifests name them
and how, where pictures and saved things lie, how paths are spelled, what the splashes are. The truth is a
profile as a person would write it, and the places that name each entry, both put down while the card is made:
no code of the workbench has a say in either.
"""

from __future__ import annotations

import random

from layout_card import CardPlan, MenuPlan, Thing, VolumePlan
from layout_extras import add_animation, add_distractors, add_litter, add_prose, add_splashes
from layout_lists import add_lists, add_scripts, add_state, add_tongues
from layout_pictures import draw, jpeg, png
from layout_registers import Register
from layout_words import (
    ART_FOLDERS,
    FOLDERS,
    HOUSE_FOLDERS,
    KEEP_FOLDERS,
    MANIFESTS,
    MOUNTS,
    PICTURE_FOLDERS,
    ROOMS,
    SUFFIXES,
    VOLUMES,
    Deck,
    pick_names,
)

FIXED_SEEDS = (3, 7, 11, 19, 23, 42, 58, 64, 77, 91, 105, 128)

TRAITS = {
    "families": 0.5,
    "common": 0.4,
    "signs": 0.5,
    "foreign": 0.5,
    "numbered": 0.15,
    "echo": 0.3,
    "crlf": 0.5,
    "bom": 0.4,
    "upper": 0.4,
    "disguise": 0.35,
    "litter": 0.6,
    "distractors": 0.7,
    "cased": 0.25,
    "tongues": 0.3,
}
PANELS = ((320, 240), (480, 320), (400, 240), (240, 400), (360, 360), (640, 480))
_SUFFIX_OF = {
    "json": "json",
    "toml": "toml",
    "ini": "ini",
    "keyvalue": "conf",
    "shell": "sh",
    "xml": "xml",
    "lines": "txt",
}
_DISGUISES = {
    "json": ("dat", "db"),
    "toml": ("cfg",),
    "ini": ("cfg", "way"),
    "xml": ("menu", "dat"),
    "lines": ("lst",),
}


def make_layout(seed: int) -> CardPlan:
    """The layout of that seed: the same each time."""
    rng = random.Random(f"layout {seed}")
    traits = {trait for trait, chance in TRAITS.items() if rng.random() < chance}
    card = CardPlan(seed, rng, Deck(rng), traits)
    card.panel = rng.choice(PANELS)
    card.rotate = rng.choice((0, 0, 90, 270))
    card.order = rng.choice(("bytes", "letters", "natural"))
    card.house = card.deck.deal(HOUSE_FOLDERS)
    _add_volumes(card)
    for number in range(rng.choice((1, 1, 2, 2, 3))):
        _add_menus(card, number)
    for menu in card.menus:
        _add_pictures(card, menu)
        _add_companions(card, menu)
    for menu in list(card.menus):
        _add_registers(card, menu)
    add_scripts(card)
    add_lists(card)
    add_state(card)
    add_tongues(card)
    add_splashes(card)
    add_animation(card)
    add_prose(card)
    add_distractors(card)
    add_litter(card)
    _identify(card)
    return card


def _add_volumes(card: CardPlan) -> None:
    count = card.rng.choice((1, 1, 2))
    is_flat = count == 1 and card.rng.random() < 0.5
    mounts = card.rng.sample(MOUNTS, count)
    for mount in mounts:
        word = card.deck.deal(VOLUMES)
        card.volumes.append(VolumePlan(word, "" if is_flat else word, mount))
    if card.rng.random() < 0.4:
        card.variables[card.rng.choice(("STOW", "KEEP_AT", "HOME_OF"))] = card.volumes[0].mount


def _add_menus(card: CardPlan, number: int) -> None:
    """One menu, or a menu of rooms and the menus in them."""
    rng = card.rng
    entries = rng.choice(("folders", "files", "files"))
    depth = rng.choice((0, 1, 1, 2, 3) if entries == "files" and number == 0 else (1, 1, 2, 3))
    root = "/".join(card.deck.deal(FOLDERS) for _ in range(depth))
    suffixes: tuple[str, ...] = ()
    if entries == "files":
        suffixes = tuple(card.deck.deal(SUFFIXES) for _ in range(rng.choice((1, 1, 2)) if number == 0 else 1))
    has_rooms = depth > 0 and rng.random() < 0.3
    volume = card.volumes[0]
    menu = MenuPlan(f"menu{number}", volume, root, entries, suffixes)
    menu.tail = rng.choice(("", "go", "begin.run")) if entries == "folders" else ""
    rooms: list[Thing] = []
    if has_rooms:
        menu.outer = MenuPlan(f"rooms{number}", volume, root, "folders", ())
        rooms = [Thing(menu.outer, card.deck.deal(ROOMS)) for _ in range(rng.choice((2, 3)))]
        menu.outer.things = rooms
        card.menus.append(menu.outer)
    card.menus.append(menu)
    _add_things(card, menu, rooms)


def _add_things(card: CardPlan, menu: MenuPlan, rooms: list[Thing]) -> None:
    rng = card.rng
    taken = {thing.stem.lower() for thing in card.things}
    names = [
        name
        for name in pick_names(rng, rng.choice((6, 10, 14, 20)), card.traits)
        if name.lower() not in taken
    ]
    for number, name in enumerate(names):
        if menu.entries == "files":
            suffix = rng.choice(menu.suffixes)
            name += "." + (suffix.upper() if "upper" in card.traits and rng.random() < 0.3 else suffix)
        thing = Thing(menu, name, rooms[number % len(rooms)] if rooms else None)
        menu.things.append(thing)
        if menu.entries == "files":
            card.add(menu.volume, thing.path, rng.randbytes(40) + b"\0\xff\xfe\0" + rng.randbytes(40))
        else:
            card.folders.add((menu.volume.folder, thing.path))
            card.add(menu.volume, f"{thing.path}/matter.bin", rng.randbytes(60) + b"\0\xff\0")


def manifest_path(card: CardPlan, words: tuple[str, ...] | list[str], format: str) -> str:
    """Where a manifest lies and what it is called: at the root or in the device's own folders."""
    rng = card.rng
    folders = [card.deck.deal(HOUSE_FOLDERS)] if rng.random() < 0.25 else []
    folders = folders or ([card.house] if rng.random() < 0.75 else [])
    suffix = _SUFFIX_OF[format]
    if "disguise" in card.traits and format in _DISGUISES and rng.random() < 0.5:
        suffix = rng.choice(_DISGUISES[format])
    if "upper" in card.traits and rng.random() < 0.3:
        suffix = suffix.upper()
    return "/".join((*folders, f"{card.deck.deal(words)}.{suffix}"))


def _add_registers(card: CardPlan, menu: MenuPlan) -> None:
    """One register; sometimes a second, in another format."""
    rng = card.rng
    if menu.entries == "folders" and not menu.outer and any(one.outer is menu for one in card.menus):
        count = rng.choice((0, 1))
    else:
        count = rng.choice((1, 1, 1, 2))
    for _ in range(count):
        formats = ["json", "json", "toml", "ini", "keyvalue", "shell", "xml", "lines"]
        format = rng.choice(formats)
        volume = rng.choice((menu.volume, menu.volume, card.volumes[-1]))
        Register(card, menu, format, volume, manifest_path(card, MANIFESTS, format)).write()


def _add_pictures(card: CardPlan, menu: MenuPlan) -> None:
    if any(one.outer is menu for one in card.menus):
        return
    for kind, chance, words in (("icon", 0.75, PICTURE_FOLDERS), ("art", 0.35, ART_FOLDERS)):
        if card.rng.random() < chance:
            _add_picture_set(card, menu, kind, words)


def _add_picture_set(card: CardPlan, menu: MenuPlan, kind: str, words: list[str]) -> None:
    rng = card.rng
    is_beside = menu.entries == "files" and kind == "icon" and bool(menu.root) and rng.random() < 0.25
    folder = (
        menu.root
        if is_beside
        else "/".join(filter(None, (rng.choice((card.house, "")), card.deck.deal(words))))
    )
    before = rng.choice(("", "", "of-", "~")) if not is_beside else ""
    after = rng.choice(("", "", "_s", "-wide", " (small)"))
    suffix = rng.choice(("png", "png", "png", "jpg"))
    size = rng.choice(
        ((32, 32), (48, 48), (64, 64), (80, 60)) if kind == "icon" else ((160, 90), (120, 200), (200, 80))
    )
    piece = "{stem}" if menu.entries == "files" and (is_beside or rng.random() < 0.7) else "{entry}"
    middle = "/{parent}" if menu.outer else ""
    mixed = "upper" in card.traits and rng.random() < 0.6
    menu.pictures.append(
        {
            "kind": kind,
            "path": f"{menu.volume.role}:{folder}{middle}/{before}{piece}{after}.{suffix}",
            "size": size,
        }
    )
    content = jpeg(draw(*size, 1)) if suffix == "jpg" else b""
    for number, thing in enumerate(menu.things):
        if rng.random() < 0.15:
            continue
        name = thing.stem if piece == "{stem}" else thing.name
        ending = suffix.upper() if mixed and rng.random() < 0.4 else suffix
        room = f"{thing.parent.name}/" if thing.parent else ""
        path = f"{folder}/{room}{before}{name}{after}.{ending}"
        picture = content or png(draw(*size, number + len(folder)))
        card.add_named_file(menu.volume, path, picture, thing)
        if thing.parent and not is_beside:
            _note_room(card, menu, folder, thing.parent)
    can_spell = kind == "icon" and not menu.outer and piece == "{stem}" and not mixed
    if can_spell and rng.random() < 0.5:
        head = rng.choice((f"{folder}/", ""))
        menu.spelled_icon = (f"{head}{before}", f"{after}.{suffix}")


def _note_room(card: CardPlan, menu: MenuPlan, folder: str, room: Thing) -> None:
    """A folder of pictures or saved things that bears a room's name."""
    assert menu.outer is not None
    pattern = f"{menu.volume.role}:{folder}/{{entry}}"
    if pattern not in menu.outer.companions:
        menu.outer.companions.append(pattern)
    card.note_folder(menu.volume, f"{folder}/{room.name}", room)


def _add_companions(card: CardPlan, menu: MenuPlan) -> None:
    rng = card.rng
    if any(one.outer is menu for one in card.menus) or rng.random() < 0.5:
        return
    folder = "/".join(filter(None, (rng.choice((card.house, "")), card.deck.deal(KEEP_FOLDERS))))
    middle = "/{parent}" if menu.outer else ""
    menu.companions.append(f"{menu.volume.role}:{folder}{middle}/{{stem}}.*")
    for thing in menu.things:
        for suffix in rng.sample(("mem", "st1", "prefs"), rng.choice((0, 1, 1, 2))):
            room = f"{thing.parent.name}/" if thing.parent else ""
            content = rng.randbytes(30) + b"\0\0\xff"
            card.add_named_file(menu.volume, f"{folder}/{room}{thing.stem}.{suffix}", content, thing)
            if thing.parent:
                _note_room(card, menu, folder, thing.parent)


def _identify(card: CardPlan) -> None:
    """What tells each volume from another: a menu's root, and one file."""
    for volume in card.volumes:
        roots = [menu.root + "/" for menu in card.menus if menu.volume is volume and menu.root][:1]
        entries = {thing.path for thing in card.things}
        files = sorted(
            path
            for folder, path in card.files
            if folder == volume.folder
            and path not in entries
            and path.count("/") < 2
            and not path.startswith(".")
        )
        named = {place.path for places in card.places.values() for place in places if place.line is None}
        volume.identify = roots + [path for path in files if path not in named][:1]
