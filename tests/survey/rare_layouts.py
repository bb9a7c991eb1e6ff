"""Card layouts written by hand, each around a convention that the seeded ones never deal out.

As there: what names an entry is put down while the card is made, beside a profile as a person would write it,
and no code of the workbench has a say in either.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterable, Sequence

from layout_card import CardPlan, MenuPlan, Place, Thing, VolumePlan
from layout_pictures import bmp, draw, png, raw
from layout_sheet import (
    Element,
    Marked,
    Sheet,
    write_ini,
    write_json,
    write_keyvalue,
    write_lines,
    write_toml,
    write_xml,
)
from layout_words import LABELS, PLAIN, Deck

RARE: dict[str, Callable[[], CardPlan]] = {}
"""The layouts by name."""

_CYRILLIC = ("Тихий дом", "Ветер и рожь", "Северный мост", "Лунный сад", "Ещё одна дверь", "Ключ")
_KANA = ("月の船", "風の谷間", "古い橋", "雨の庭", "三つの鐘")


def rare(make: Callable[[Desk], None]) -> Callable[[Desk], None]:
    """Keep a layout under its function's name."""

    def made() -> CardPlan:
        desk = Desk(make.__name__)
        make(desk)
        return desk.card

    RARE[make.__name__] = made
    return make


class Desk:
    """One card in the making, of one volume unless more are asked for."""

    def __init__(self, name: str, roles: Sequence[str] = ("hold",)) -> None:
        rng = random.Random(name)
        self.card = CardPlan(0, rng, Deck(rng), set())
        self.card.volumes = [VolumePlan(roles[0], "", "/srv/keel", ["."])]
        self.hold = self.card.volumes[0]

    def menu(
        self, root: str, names: Iterable[str], suffixes: Sequence[str] = (), outer: MenuPlan | None = None
    ) -> MenuPlan:
        """A menu of files where it has suffixes, else of folders."""
        kind = "files" if suffixes else "folders"
        menu = MenuPlan(f"menu{len(self.card.menus)}", self.hold, root, kind, tuple(suffixes), outer)
        self.card.menus.append(menu)
        for name in names:
            self.thing(menu, name)
        if self.hold.identify == ["."]:
            self.hold.identify = [f"{root}/"] if root else []
        return menu

    def thing(self, menu: MenuPlan, name: str, parent: Thing | None = None) -> Thing:
        thing = Thing(menu, name, parent)
        menu.things.append(thing)
        blob = self.card.rng.randbytes(40) + b"\0\xff\xfe\0"
        if menu.entries == "files":
            self.card.add(self.hold, thing.path, blob)
        else:
            self.card.folders.add(("", thing.path))
        return thing

    def fill(self, menu: MenuPlan, inner: str = "matter.bin") -> None:
        """Something in each folder entry."""
        for thing in menu.things:
            self.card.add(self.hold, f"{thing.path}/{inner}", self.card.rng.randbytes(40) + b"\0\xff\0")

    def label(self, menu: MenuPlan, rule: dict[str, object]) -> None:
        """Shown names for all entries, as this rule finds them."""
        for number, thing in enumerate(menu.things):
            thing.label = LABELS[(7 * number + 3 + len(menu.root)) % len(LABELS)]
        menu.label = rule

    def sheet(self, path: str, sheet: Sheet) -> str:
        self.card.add_sheet(self.hold, path, sheet)
        return f"hold:{path}"

    def pictures(self, menu: MenuPlan, pattern: str, size: tuple[int, int] = (48, 48)) -> None:
        """An icon for each entry; `pattern` holds `{stem}` or `{entry}`."""
        menu.pictures.append({"kind": "icon", "path": f"hold:{pattern}", "size": size})
        for number, thing in enumerate(menu.things):
            path = pattern.replace("{stem}", thing.stem).replace("{entry}", thing.name)
            self.card.add(self.hold, path, png(draw(*size, number)))
            # What bears the name moves: the file, or the folder that the picture lies in.
            is_folder = "}/" in pattern
            named = path.rpartition("/")[0] if is_folder else path
            self.card.note(thing, Place("", named, None, "file"))

    def splash(self, path: str, moment: str = "start", kind: str = "bmp") -> None:
        rows = draw(*self.card.panel, 9 + len(self.card.splashes))
        kinds: dict[str, tuple[dict[str, object], Callable[[], bytes]]] = {
            "bmp": ({"container": "bmp", "bits": 24, "rows": "bottom-up"}, lambda: bmp(rows, 24)),
            "png": ({"container": "png", "bits": 24}, lambda: png(rows)),
            "raw": ({"container": "raw", "bits": 32}, lambda: raw(rows, 32)),
        }
        said, make = kinds[kind]
        self.card.add(self.hold, path, make())
        self.card.splashes.append({"moment": moment, "file": f"hold:{path}", "kind": said})


def one(thing: Thing, text: str | None = None) -> Marked:
    """A text that names a thing, by its whole name where nothing else is said."""
    return Marked(thing.name if text is None else text, (thing,))


def names(start: int, count: int, suffix: str = "") -> list[str]:
    return [f"{name}.{suffix}" if suffix else name for name in PLAIN[start : start + count]]


@rare
def rows_of_a_toml_array(desk: Desk) -> None:
    """A menu as `[[row]]` tables; icons in a folder for each entry; upper-case roots."""
    menu = desk.menu("YARNS", names(0, 9, "YRN"), ("yrn",))
    desk.label(menu, {})
    rows = [{"tape": one(t), "spoken": t.label, "turns": n, "loud": True} for n, t in enumerate(menu.things)]
    file = desk.sheet("HOUSE/ALMANACK.TOM", write_toml({"made": 3, "row": rows}, "kept by the house"))
    menu.label = {"file": file, "format": "toml", "at": "/row/{row}/spoken", "key": "/row/{row}/tape"}
    menu.add_rule({"file": file, "format": "toml", "at": "/row/{row}/tape", "is": "{entry}"})
    desk.pictures(menu, "HOUSE/FACES/{stem}/icon.png")
    desk.splash("HOUSE/DAWN.BMP")


@rare
def xml_name_in_two_attributes(desk: Desk) -> None:
    """The stem in one attribute, the suffix in another; the shown name is the element's text."""
    menu = desk.menu("granary", names(3, 10, "bobbin"), ("bobbin",))
    desk.label(menu, {})
    rows = [Element("grain", {"stem": one(t, t.stem), "kind": "bobbin"}, [], t.label) for t in menu.things]
    root = Element("store", {"version": "2"}, [Element("bins", {}, rows)])
    file = desk.sheet("upkeep/store.xml", write_xml(root, "all that is kept"))
    at = "/store/0/bins/0/grain/{row}"
    menu.label = {
        "file": file,
        "format": "xml",
        "at": f"{at}/#text",
        "key": f"{at}/@stem",
        "is": "{stem}",
    }
    menu.add_rule({"file": file, "format": "xml", "at": f"{at}/@stem", "is": "{stem}"})
    desk.pictures(menu, "upkeep/stamps/{stem}.png")
    desk.splash("upkeep/welcome.bmp")


@rare
def numbered_keys_in_ini(desk: Desk) -> None:
    """`item1=`, `item1_says=` in one section, as many as there are; the count beside them."""
    menu = desk.menu("loft/reels", names(8, 12, "reel"), ("reel",))
    desk.label(menu, {})
    keys: dict[object, object] = {"count": len(menu.things)}
    for number, t in enumerate(menu.things, 1):
        keys[f"item{number}"] = one(t)
        keys[f"item{number}_says"] = t.label
    keys["sorted"] = "no"
    file = desk.sheet("setup.ini", write_ini({"list": keys, "sound": {"loud": 4}}, "=", "written on leaving"))
    menu.label = {
        "file": file,
        "format": "ini",
        "at": "/list/item{row}_says",
        "key": "/list/item{row}",
    }
    menu.add_rule({"file": file, "format": "ini", "at": "/list/item{row}", "is": "{entry}"})
    desk.splash("begin.bmp")


@rare
def playlists_with_remarks(desk: Desk) -> None:
    """Lists of paths with `#` remarks in them that speak of entries; no register at all."""
    menu = desk.menu("croft", names(12, 10, "skein"), ("skein",))
    first, second = menu.things[:6], menu.things[4:]
    one_list = ["# what we like best", *(one(t, t.path) for t in first), "# the end"]
    other = ["#EXTM3U", *(x for t in second for x in (f"#EXTINF:-1,{LABELS[len(t.name)]}", one(t, t.path)))]
    for path, lines in (("dear.m3u", one_list), ("lately.m3u8", other)):
        file = desk.sheet(path, write_lines(lines))
        menu.add_rule({"file": file, "format": "lines", "is": "{path}"})
    desk.pictures(menu, "croft/{stem}.png")
    desk.splash("workings/rise.bmp")


@rare
def everything_in_the_entry(desk: Desk) -> None:
    """Each folder has its own icon and its own words; nothing lists the folders."""
    menu = desk.menu("vault", names(15, 11))
    desk.fill(menu)
    desk.label(menu, {"file": "hold:vault/{entry}/about.json", "format": "json", "at": "/title"})
    for n, t in enumerate(menu.things):
        about = {"title": t.label, "made": 1990 + n, "opens": "matter.bin"}
        desk.card.add(desk.hold, f"{t.path}/about.json", write_json(about, "  ", "").text.encode())
        desk.card.add(desk.hold, f"{t.path}/icon.png", png(draw(48, 48, n)))
    menu.pictures.append({"kind": "icon", "path": "hold:vault/{entry}/icon.png", "size": (48, 48)})
    desk.splash("workings/hello.bmp")


@rare
def files_without_any_register(desk: Desk) -> None:
    """Entries, their icons and what was saved share stems; no text names any of them."""
    menu = desk.menu("trove", names(20, 14, "tap"), ("tap",))
    desk.pictures(menu, "innards/faces/{stem}.png")
    menu.companions.append("hold:leavings/{stem}.*")
    for t in menu.things[::2]:
        desk.card.add_named_file(desk.hold, f"leavings/{t.stem}.mem", b"\0\1\2\xff" * 9, t)
    settings = {"loud": 4, "shade": "blue", "front": "list"}
    desk.card.add(desk.hold, "innards/house.conf", write_keyvalue(settings, "=", "x").text.encode())
    desk.splash("innards/dawn.bmp")


@rare
def rooms_without_any_register(desk: Desk) -> None:
    """The same with rooms: `trove/ROOM/x.tap` beside `faces/ROOM/x.png`."""
    outer = desk.menu("trove", ("Attic", "Cellar", "Long Gallery"))
    menu = desk.menu("trove", (), ("tap",), outer)
    for number, name in enumerate(names(20, 18, "tap")):
        desk.thing(menu, name, outer.things[number % 3])
    menu.pictures.append({"kind": "icon", "path": "hold:faces/{parent}/{stem}.png", "size": (48, 48)})
    outer.companions.append("hold:faces/{entry}")
    for number, t in enumerate(menu.things):
        assert t.parent
        path = f"faces/{t.parent.name}/{t.stem}.png"
        desk.card.add_named_file(desk.hold, path, png(draw(48, 48, number)), t)
        desk.card.note_folder(desk.hold, f"faces/{t.parent.name}", t.parent)
    desk.splash("innards/dawn.bmp")


@rare
def menus_three_deep(desk: Desk) -> None:
    """`tales/AGE/ROOM/x.yarn`, listed by path from the volume on, and told again in a list."""
    ages = desk.menu("tales", ("Bronze", "Iron"))
    desk.card.menus[0].id = "ages"
    leaves: list[MenuPlan] = []
    rooms_of: list[tuple[MenuPlan, Thing, list[Thing]]] = []
    for number, age in enumerate(ages.things):
        rooms = desk.menu(age.path, ("Cellar", "Attic") if number else ("Kitchen", "Porch", "Yard"))
        leaf = desk.menu(age.path, (), ("yarn",), rooms)
        for n, name in enumerate(names(20 * number, 12, "yarn")):
            desk.thing(leaf, name, rooms.things[n % len(rooms.things)])
        leaves.append(leaf)
        rooms_of.append((rooms, age, rooms.things))
    everything = [
        (t, leaf, r[0], r[1]) for leaf, r in zip(leaves, rooms_of, strict=True) for t in leaf.things
    ]
    rows = []
    for t, _, _, age in everything:
        assert t.parent
        rows.append({"via": Marked(t.path, (t, t.parent, age)), "turns": len(t.name)})
    file = desk.sheet("house/muster.json", write_json({"pieces": rows}, "  ", ""))
    lines = [Marked(f"/srv/keel/{t.path}", (t, t.parent, age)) for t, _, _, age in everything[::3]]
    other = desk.sheet("house/lately.txt", write_lines(lines))
    for menu in desk.card.menus:
        menu.add_rule({"file": file, "format": "json", "at": "/pieces/{row}/via", "is": "{path}"})
        menu.add_rule({"file": other, "format": "lines", "is": "{path}"})
    desk.splash("house/dawn.bmp")


@rare
def words_of_each_language(desk: Desk) -> None:
    """Shown names only in files of languages, INI by entry; a start list names the entries by paths."""
    menu = desk.menu("paddock", names(30, 9))
    desk.fill(menu, "engine.bin")
    desk.label(menu, {"file": "hold:lang/aa/words.ini", "format": "ini", "at": "/titles/{entry}"})
    for tongue in ("aa", "ab"):
        words = {one(t): f"{t.label}" if tongue == "aa" else f"{t.label} ({tongue})" for t in menu.things}
        said = {"general": {"yes": "Jo", "no": "Nee"}, "titles": words}
        desk.sheet(f"lang/{tongue}/words.ini", write_ini(said, "=", "words"))
    menu.add_rule({"file": "hold:lang/*/words.ini", "format": "ini", "at": "/titles/{entry}", "names": "key"})
    lines = [one(t, f"/srv/keel/{t.path}/engine.bin") for t in menu.things[:5]]
    menu.add_rule({"file": desk.sheet("lately.lst", write_lines(lines)), "format": "lines", "is": "{path}"})
    desk.splash("curtain.bmp")


@rare
def names_in_other_scripts(desk: Desk) -> None:
    """Cyrillic, kana and Arabic names, escaped in JSON and percent-encoded in a list; upper-case roots."""
    every = (*_CYRILLIC, *_KANA, "بيت هادئ", "ריח הגשם")
    menu = desk.menu("ПОЛКА", [f"{name}.TAP" for name in every], ("tap",))
    desk.label(menu, {})
    rows = [{"what": one(t), "wording": t.label} for t in menu.things]
    file = desk.sheet("ДОМ/СПИСОК.JSN", write_json({"things": rows}, "", "ascii"))
    menu.label = {"file": file, "format": "json", "at": "/things/{row}/wording", "key": "/things/{row}/what"}
    menu.add_rule({"file": file, "format": "json", "at": "/things/{row}/what", "is": "{entry}"})
    desk.pictures(menu, "ДОМ/ЛИЦА/{stem}.png")
    lines = [desk.card.spell("address", t, "") for t in menu.things[:5]]
    menu.add_rule({"file": desk.sheet("ДОМ/dear.lst", write_lines(lines)), "format": "lines", "is": "{path}"})
    desk.splash("ДОМ/DAWN.BMP")


@rare
def parts_of_two_suffixes(desk: Desk) -> None:
    """Each entry is a sheet and a body of one stem; the register names the sheets."""
    menu = desk.menu("barn", names(33, 10, "sheet"), ("sheet",))
    menu.companions.append("hold:barn/{stem}.body")
    for t in menu.things:
        desk.card.add_named_file(desk.hold, f"barn/{t.stem}.body", b"\0\xff\0\1" * 20, t)
    desk.label(menu, {})
    keyed = {one(t): {"headline": t.label, "turns": n} for n, t in enumerate(menu.things)}
    file = desk.sheet("husk/docket.json", write_json({"all": keyed}, "\t", ""))
    menu.label = {"file": file, "format": "json", "at": "/all/{entry}/headline"}
    menu.add_rule({"file": file, "format": "json", "at": "/all/{entry}", "names": "key"})
    desk.splash("husk/dawn.bmp")


@rare
def a_card_full_of_music(desk: Desk) -> None:
    """Hundreds of tunes in folders of their own, a playlist of them, and one small menu."""
    menu = desk.menu("silo", names(40, 8))
    desk.fill(menu)
    desk.label(menu, {})
    rows = {one(t): {"spoken": t.label} for t in menu.things}
    file = desk.sheet("house/rollcall.json", write_json({"in_it": rows}, "  ", ""))
    menu.label = {"file": file, "format": "json", "at": "/in_it/{entry}/spoken"}
    menu.add_rule({"file": file, "format": "json", "at": "/in_it/{entry}", "names": "key"})
    for band in range(20):
        for tune in range(15):
            path = f"tunes/Band {band}/{tune:02d} {PLAIN[(band * 3 + tune) % len(PLAIN)]}.mp3"
            desk.card.add(desk.hold, path, b"ID3\4\0\0\0\0\0\0\xff\xfb" + bytes((band, tune)) * 20)
        desk.card.add(desk.hold, f"tunes/Band {band}/cover.png", png(draw(64, 64, band)))
    desk.splash("house/dawn.bmp")


@rare
def two_devices_on_one_card(desk: Desk) -> None:
    """Each has its own folders, register, format and habits; some of their entries share names."""
    first = desk.menu("lark/shelf", names(0, 9))
    second = desk.menu("fern/tapes", names(5, 11, "tap"), ("tap",))
    desk.fill(first)
    desk.label(first, {})
    desk.label(second, {})
    rows = [{"id": one(t), "says": t.label} for t in first.things]
    file = desk.sheet("lark/house/register.json", write_json(rows, "  ", ""))
    first.label = {"file": file, "format": "json", "at": "/{row}/says", "key": "/{row}/id"}
    first.add_rule({"file": file, "format": "json", "at": "/{row}/id", "is": "{entry}"})
    sections = {one(t): {"headline": t.label, "turns": 3} for t in second.things}
    other = desk.sheet("fern/conf/tapes.ini", write_ini(sections, " = ", "tapes"))
    second.label = {"file": other, "format": "ini", "at": "/{entry}/headline"}
    second.add_rule({"file": other, "format": "ini", "at": "/{entry}", "names": "key"})
    desk.pictures(first, "lark/house/small/{entry}_s.png")
    desk.pictures(second, "fern/conf/faces/{stem}.png", (64, 64))
    desk.splash("lark/greet/hello.bmp")


@rare
def columns_between_bars(desk: Desk) -> None:
    """A register of `name|label|path` lines: no rule can say that; icons and a list can be ruled."""
    menu = desk.menu("hutch", names(14, 10, "tap"), ("tap",))
    desk.pictures(menu, "faces/{stem}.png")
    rows = [f"{t.name}|{LABELS[n]}|/srv/keel/{t.path}" for n, t in enumerate(menu.things)]
    desk.card.add(desk.hold, "census.csv", ("\n".join(rows) + "\n").encode())
    lines = [one(t, t.path) for t in menu.things[:4]]
    menu.add_rule({"file": desk.sheet("dear.lst", write_lines(lines)), "format": "lines", "is": "{path}"})
    desk.splash("dawn.bmp")


@rare
def columns_alone(desk: Desk) -> None:
    """Only a register of columns, with tabs, and icons beside: the menu is to be found all the same."""
    menu = desk.menu("hutch", names(24, 10, "tap"), ("tap",))
    desk.pictures(menu, "faces/{stem}.png")
    rows = [f"{n}\t{t.name}\t{LABELS[n]}" for n, t in enumerate(menu.things)]
    desk.card.add(desk.hold, "house/census.tsv", ("\n".join(rows) + "\n").encode())
    desk.splash("house/dawn.bmp")


@rare
def a_record_on_each_line(desk: Desk) -> None:
    """JSON lines: no rule can say that; the menu and its saved things are to be found all the same."""
    menu = desk.menu("gable", names(2, 9, "tap"), ("tap",))
    rows = [
        f'{{"what": "{t.name}", "wording": "{LABELS[n]}", "via": "/srv/keel/{t.path}"}}'
        for n, t in enumerate(menu.things)
    ]
    desk.card.add(desk.hold, "house/rollcall.jsonl", ("\n".join(rows) + "\n").encode())
    menu.companions.append("hold:house/kept/{stem}.*")
    for t in menu.things[:6]:
        desk.card.add_named_file(desk.hold, f"house/kept/{t.stem}.mem", b"\0\1\2\xff" * 9, t)
    desk.splash("house/dawn.bmp")


@rare
def skins_within_skins(desk: Desk) -> None:
    """Every skin has its own pictures and its own words for the entries, two folders down."""
    menu = desk.menu("turret", names(18, 8))
    desk.fill(menu)
    rows = [{"which": one(t), "turns": n} for n, t in enumerate(menu.things)]
    file = desk.sheet("house/tally.json", write_json({"leaf": rows}, "  ", ""))
    menu.add_rule({"file": file, "format": "json", "at": "/leaf/{row}/which", "is": "{entry}"})
    for skin in ("dim", "bright"):
        tiles = [Element("tile", {"of": one(t), "x": str(40 * n)}) for n, t in enumerate(menu.things)]
        sheet = write_xml(Element("skin", {}, [Element("page", {}, tiles)]), skin)
        desk.sheet(f"house/skins/{skin}/layout/tiles.xml", sheet)
        desk.pictures(menu, f"house/skins/{skin}/faces/{{entry}}.png")
    rule = {"file": "hold:house/skins/*/layout/tiles.xml", "format": "xml", "is": "{entry}"}
    menu.add_rule({**rule, "at": "/skin/0/page/0/tile/{row}/@of"})
    desk.splash("house/dawn.bmp")


@rare
def nested_groups_by_path(desk: Desk) -> None:
    """Groups within groups within a register, entries by a path from the menu's folder on."""
    menu = desk.menu("wharf", names(26, 12, "skein"), ("skein",))
    groups = []
    for start in (0, 4, 8):
        some = menu.things[start : start + 4]
        inner = [{"title": f"Bay {start}", "all": [one(t, f"../wharf/{t.name}") for t in some[:2]]}]
        groups.append(
            {"title": f"Hall {start}", "all": [one(t, f"../wharf/{t.name}") for t in some[2:]], "in": inner}
        )
    file = desk.sheet("house/halls.json", write_json({"halls": groups}, "  ", "slash"))
    menu.add_rule({"file": file, "format": "json", "at": "/halls/{row}/all/{n}", "is": "{path}"})
    menu.add_rule({"file": file, "format": "json", "at": "/halls/{row}/in/{m}/all/{n}", "is": "{path}"})
    desk.splash("house/dawn.bmp")


@rare
def picture_at_the_root(desk: Desk) -> None:
    """A lone PNG of the panel's size at the volume's root; another splash lies in the house."""
    menu = desk.menu("cabinet", names(9, 8))
    desk.fill(menu)
    rows = [{"which": one(t)} for t in menu.things]
    file = desk.sheet("house/tally.json", write_json({"leaf": rows}, "  ", ""))
    menu.add_rule({"file": file, "format": "json", "at": "/leaf/{row}/which", "is": "{entry}"})
    desk.splash("house/dawn.bmp")
    desk.splash("curtain.png", "shutdown", "png")


@rare
def one_folder_of_everything(desk: Desk) -> None:
    """Entries at the root of the volume, beside the house's own folders; named by a settings file."""
    menu = desk.menu("", names(44, 9, "reel"), ("reel",))
    desk.label(menu, {})
    keys: dict[object, object] = {}
    for number, t in enumerate(menu.things):
        keys[f"slot.{number}.file"] = one(t)
        keys[f"slot.{number}.text"] = t.label
    file = desk.sheet("house/slots.properties", write_keyvalue(keys, "=", "slots"))
    menu.label = {"file": file, "format": "keyvalue", "at": "/slot.{row}.text", "key": "/slot.{row}.file"}
    menu.add_rule({"file": file, "format": "keyvalue", "at": "/slot.{row}.file", "is": "{entry}"})
    desk.hold.identify = ["house/slots.properties"]
    desk.splash("house/dawn.bmp")


@rare
def ids_between_names(desk: Desk) -> None:
    """Records under ids of their own; the order in which they come names ids only."""
    menu = desk.menu("bothy", names(6, 9))
    desk.fill(menu)
    desk.label(menu, {})
    records = {f"k{n:02d}": {"dir": one(t), "text": t.label, "rank": n} for n, t in enumerate(menu.things)}
    data = {"order": list(records)[::-1], "records": records}
    file = desk.sheet("house/almanack.json", write_json(data, "  ", ""))
    menu.label = {"file": file, "format": "json", "at": "/records/{id}/text", "key": "/records/{id}/dir"}
    menu.add_rule({"file": file, "format": "json", "at": "/records/{id}/dir", "is": "{entry}"})
    desk.splash("house/dawn.bmp")


@rare
def numbered_sections(desk: Desk) -> None:
    """`[leaf 1]`, `[leaf 2]`: the section counts, a key in it names the entry, another leads to it."""
    menu = desk.menu("gable/reels", names(11, 10, "reel"), ("reel",))
    desk.label(menu, {})
    sections = {
        f"leaf {n}": {"what": one(t, t.stem), "goes": one(t, f"gable/reels/{t.name}"), "title": t.label}
        for n, t in enumerate(menu.things, 1)
    }
    file = desk.sheet("house/leaves.cfg", write_ini({"house": {"loud": 3}, **sections}, " = ", "leaves"))
    at = "/leaf {row}"
    label = {"at": f"{at}/title", "key": f"{at}/what", "is": "{stem}"}
    menu.label = {"file": file, "format": "ini", **label}
    menu.add_rule({"file": file, "format": "ini", "at": f"{at}/what", "is": "{stem}"})
    menu.add_rule({"file": file, "format": "ini", "at": f"{at}/goes", "is": "{path}"})
    desk.splash("house/dawn.bmp")


@rare
def pictures_in_two_sizes(desk: Desk) -> None:
    """The same icons in folders named by their width; a folder of papers for each entry."""
    menu = desk.menu("silo", names(16, 9, "tape"), ("tape",))
    rows = [one(t, t.path) for t in menu.things]
    file = desk.sheet("house/all.json", write_json({"all": rows}, "", ""))
    menu.add_rule({"file": file, "format": "json", "at": "/all/{row}", "is": "{path}"})
    desk.pictures(menu, "house/faces/32/{stem}.png", (32, 32))
    desk.pictures(menu, "house/faces/64/{stem}.png", (64, 64))
    menu.companions.append("hold:papers/{stem}")
    for t in menu.things[:6]:
        desk.card.add(desk.hold, f"papers/{t.stem}/read me.txt", b"Turn it twice.\nThen wait.\n")
        desk.card.note_folder(desk.hold, f"papers/{t.stem}", t)
    desk.splash("house/dawn.bmp")


@rare
def quoted_values_and_stems(desk: Desk) -> None:
    """`piece_1="…"` with quotes in a shell's manner; a list of stems, one a line."""
    menu = desk.menu("dresser", names(21, 10, "yarn"), ("yarn",))
    lines = Sheet().put("# kept by the house\n")
    for number, t in enumerate(menu.things, 1):
        lines.mark(one(t), "text")
        lines.put(f'PIECE_{number}="{t.name}"\n')
    lines.put("LOUD=4\n")
    file = desk.sheet("house/pieces.env", lines)
    menu.add_rule({"file": file, "format": "keyvalue", "at": "/PIECE_{row}", "is": "{entry}"})
    stems = [one(t, t.stem) for t in menu.things[2:8]]
    other = desk.sheet("house/cherished.txt", write_lines(stems))
    menu.add_rule({"file": other, "format": "lines", "is": "{stem}"})
    desk.splash("house/dawn.bmp")


@rare
def tables_of_toml(desk: Desk) -> None:
    """A table from name to shown name, an array of favourites, what was open last."""
    menu = desk.menu("cloister", names(27, 9, "skein"), ("skein",))
    desk.label(menu, {})
    data = {
        "lastly": one(menu.things[3]),
        "dear": [one(t) for t in menu.things[1:6]],
        "shown": {one(t): t.label for t in menu.things},
    }
    file = desk.sheet("house/cloister.toml", write_toml(data, "cloister"))
    menu.label = {"file": file, "format": "toml", "at": "/shown/{entry}"}
    menu.add_rule({"file": file, "format": "toml", "at": "/shown/{entry}", "names": "key"})
    menu.add_rule({"file": file, "format": "toml", "at": "/dear/{row}", "is": "{entry}"})
    menu.add_rule({"file": file, "format": "toml", "at": "/lastly", "is": "{entry}"})
    desk.splash("house/dawn.bmp")


@rare
def rooms_as_keys(desk: Desk) -> None:
    """Rooms are keys, their entries lie in lists below; saved things by room."""
    outer = desk.menu("garth", ("Attic", "Cellar", "Long Gallery"))
    menu = desk.menu("garth", (), ("tap",), outer)
    for number, name in enumerate(names(30, 15, "tap")):
        desk.thing(menu, name, outer.things[number % 3])
    data = {
        one(room): {"kind": "room", "has": [one(t) for t in menu.things if t.parent is room]}
        for room in outer.things
    }
    file = desk.sheet("house/rooms.json", write_json(data, "  ", ""))
    outer.add_rule({"file": file, "format": "json", "at": "/{entry}", "names": "key"})
    menu.add_rule({"file": file, "format": "json", "at": "/{parent}/has/{row}", "is": "{entry}"})
    desk.splash("house/dawn.bmp")


@rare
def commands_with_paths(desk: Desk) -> None:
    """A command for each entry, its path in quotes among the words; a label cannot be told by one."""
    menu = desk.menu("alcove", names(34, 8, "tape"), ("tape",))
    rows = [
        {"says": LABELS[n], "do": one(t, f"play --loop 3 '/srv/keel/{t.path}' --calm")}
        for n, t in enumerate(menu.things)
    ]
    file = desk.sheet("house/does.json", write_json({"rows": rows}, "  ", ""))
    menu.add_rule({"file": file, "format": "json", "at": "/rows/{row}/do", "is": "{path}"})
    desk.splash("house/dawn.bmp")


@rare
def names_in_lower_case(desk: Desk) -> None:
    """A FAT card whose names are all upper case; what is written of them is lower case."""
    menu = desk.menu("TAPES", [name.upper() for name in names(37, 10, "tap")], ("tap",))
    rows = [{"file": one(t, t.name.lower()), "turns": n} for n, t in enumerate(menu.things)]
    file = desk.sheet("HOUSE/ALL.JSN", write_json(rows, " ", ""))
    menu.add_rule({"file": file, "format": "json", "at": "/{row}/file", "is": "{entry}"})
    lines = [one(t, f"/srv/keel/tapes/{t.name.lower()}") for t in menu.things[:5]]
    menu.add_rule(
        {"file": desk.sheet("HOUSE/DEAR.LST", write_lines(lines)), "format": "lines", "is": "{path}"}
    )
    desk.splash("HOUSE/DAWN.BMP")


@rare
def words_in_each_folder(desk: Desk) -> None:
    """`piece.conf` in each entry has its shown name and opens a file beside it; a list names some."""
    menu = desk.menu("turret", names(42, 10))
    desk.fill(menu, "body.bin")
    desk.label(menu, {"file": "hold:turret/{entry}/piece.conf", "format": "keyvalue", "at": "/calledas"})
    for n, t in enumerate(menu.things):
        keys = {"calledas": t.label, "opens": "body.bin", "turns": n}
        desk.card.add(desk.hold, f"{t.path}/piece.conf", write_keyvalue(keys, "=", "x").text.encode())
    lines = [one(t) for t in menu.things[:5]]
    file = desk.sheet("house/lately.lst", write_lines(lines))
    menu.add_rule({"file": file, "format": "lines", "is": "{entry}"})
    desk.splash("house/dawn.bmp")


@rare
def motion_at_a_rate(desk: Desk) -> None:
    """A boot animation of BMP frames counted from 1, its rate and count in the house's own settings."""
    menu = desk.menu("vault", names(45, 8, "tap"), ("tap",))
    rows = [{"what": one(t)} for t in menu.things]
    file = desk.sheet("house/all.json", write_json({"all": rows}, "", ""))
    menu.add_rule({"file": file, "format": "json", "at": "/all/{row}/what", "is": "{entry}"})
    for n in range(1, 25):
        desk.card.add(desk.hold, f"house/motion/rise/p{n:03d}.bmp", bmp(draw(160, 120, n), 24))
    settings = {"start": {"motion": "rise", "frames": 24, "fps": 12}, "sound": {"loud": 4}}
    desk.sheet("house/motion/rise/rise.json", write_json(settings, "  ", ""))
    desk.card.animation = {
        "folder": "hold:house/motion/{name}",
        "frames": {"pattern": "p{n}.bmp", "first": 1, "pad": 3},
        "settings": {
            "file": "hold:house/motion/{name}/rise.json",
            "format": "json",
            "count": "/start/frames",
            "rate": "/start/fps",
        },
    }
    desk.splash("house/dawn.bmp")


@rare
def splashes_of_every_moment(desk: Desk) -> None:
    """Four moments, PNG and BMP mixed, in a folder of their own beside a folder of wallpapers."""
    menu = desk.menu("barn", names(50, 8))
    desk.fill(menu)
    rows = [one(t) for t in menu.things]
    file = desk.sheet("house/all.json", write_json(rows, "", ""))
    menu.add_rule({"file": file, "format": "json", "at": "/{row}", "is": "{entry}"})
    desk.splash("house/greetings/on.png", "start", "png")
    desk.splash("house/greetings/plugged.bmp", "charging")
    desk.splash("house/greetings/weak.bmp", "low-battery")
    desk.splash("house/greetings/farewell.png", "shutdown", "png")
    for n in range(5):
        desk.card.add(desk.hold, f"wallpapers/view {n}.png", png(draw(*desk.card.panel, 40 + n)))


@rare
def menus_that_share_pictures(desk: Desk) -> None:
    """Two menus, one folder of icons; names of one begin like names of the other."""
    first = desk.menu(
        "croft", [f"{name}.tap" for name in ("Boat", "Owl", "Knot", "Ash", "Fern", "Moss")], ("tap",)
    )
    second = desk.menu("hutch", ("Boats", "Owl.2", "Knot 9", "Ash Tree", "Ferns", "Mossy"))
    desk.fill(second)
    for menu, where in ((first, "tape"), (second, "room")):
        rows = [{"id": one(t), "x": 4} for t in menu.things]
        file = desk.sheet(f"house/{where}.json", write_json({"in": rows}, "  ", ""))
        menu.add_rule({"file": file, "format": "json", "at": "/in/{row}/id", "is": "{entry}"})
    desk.pictures(first, "house/faces/{stem}.png")
    desk.pictures(second, "house/faces/{entry}.png")
    desk.splash("house/dawn.bmp")


def make_rare(name: str) -> CardPlan:
    """The layout of that name."""
    return RARE[name]()


__all__ = ["RARE", "Place", "make_rare"]
