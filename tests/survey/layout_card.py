"""An invented card in the making: volumes, menus, files, what names what, and the profile that says so."""

from __future__ import annotations

import json
import os
import posixpath
import random
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NamedTuple
from urllib.parse import quote

from layout_sheet import Group, Marked, Sheet
from layout_words import Deck

Rule = dict[str, Any]
"""One table of the profile."""


class Place(NamedTuple):
    """Where something names an entry, without a word of the profile in it."""

    folder: str
    """The volume's folder on the card; empty where the card's folder is the volume."""
    path: str
    line: int | None
    group: Group


@dataclass(eq=False)
class VolumePlan:
    role: str
    folder: str
    mount: str
    identify: list[str] = field(default_factory=list)


@dataclass(eq=False)
class MenuPlan:
    id: str
    volume: VolumePlan
    root: str
    entries: str
    suffixes: tuple[str, ...]
    outer: MenuPlan | None = None
    tail: str = ""
    """What is opened in a folder entry."""
    things: list[Thing] = field(default_factory=list)
    label: Rule | None = None
    references: list[Rule] = field(default_factory=list)
    pictures: list[Rule] = field(default_factory=list)
    companions: list[str] = field(default_factory=list)
    spelled_icon: tuple[str, str] | None = None
    """What stands around the stem where a register spells the icon out."""

    @property
    def pattern(self) -> str:
        return f"{self.root}/{{parent}}" if self.outer else self.root

    def add_rule(self, rule: Rule) -> None:
        if rule not in self.references:
            self.references.append(rule)


@dataclass(eq=False)
class Thing:
    """One entry of a menu."""

    menu: MenuPlan
    name: str
    parent: Thing | None = None
    label: str | None = None

    @property
    def stem(self) -> str:
        fitting = [suffix for suffix in self.menu.suffixes if self.name.lower().endswith("." + suffix)]
        return self.name[: -len(fitting[0]) - 1] if fitting else self.name

    @property
    def path(self) -> str:
        above = self.parent.path if self.parent else self.menu.root
        return f"{above}/{self.name}" if above else self.name


@dataclass
class CardPlan:
    """Everything that is known of one invented card."""

    seed: int
    rng: random.Random
    deck: Deck
    traits: set[str]
    volumes: list[VolumePlan] = field(default_factory=list)
    variables: dict[str, str] = field(default_factory=dict)
    menus: list[MenuPlan] = field(default_factory=list)
    files: dict[tuple[str, str], bytes] = field(default_factory=dict)
    folders: set[tuple[str, str]] = field(default_factory=set)
    places: dict[Thing, list[Place]] = field(default_factory=dict)
    splashes: list[Rule] = field(default_factory=list)
    animation: Rule | None = None
    panel: tuple[int, int] = (320, 240)
    rotate: int = 0
    order: str = "bytes"
    house: str = "innards"
    """The folder that most of the device's own files lie in."""

    @property
    def things(self) -> list[Thing]:
        return [thing for menu in self.menus for thing in menu.things]

    def add(self, volume: VolumePlan, path: str, content: bytes) -> None:
        assert (volume.folder, path) not in self.files, path
        self.files[volume.folder, path] = content

    def add_sheet(self, volume: VolumePlan, path: str, sheet: Sheet, *, is_script: bool = False) -> None:
        """Put a manifest on the card and remember what it names; line ends and BOM by trait."""
        text = sheet.text
        if not is_script and self.rng.random() < 0.3 and "crlf" in self.traits:
            text = text.replace("\n", "\r\n")
        content = text.encode()
        if not is_script and sheet.takes_bom and "bom" in self.traits and self.rng.random() < 0.3:
            content = b"\xef\xbb\xbf" + content
        self.add(volume, path, content)
        for thing, line, group in sheet.marks:
            self.note(thing, Place(volume.folder, path, line, group))

    def note(self, thing: Thing, place: Place) -> None:
        self.places.setdefault(thing, []).append(place)

    def add_named_file(self, volume: VolumePlan, path: str, content: bytes, thing: Thing) -> None:
        """A file whose own name names an entry."""
        self.add(volume, path, content)
        self.note(thing, Place(volume.folder, path, None, "file"))

    def note_folder(self, volume: VolumePlan, path: str, thing: Thing) -> None:
        """A folder that bears an entry's name, noted once."""
        place = Place(volume.folder, path, None, "file")
        if place not in self.places.get(thing, []):
            self.note(thing, place)

    # Paths, as manifests spell them

    def spell(self, style: str, thing: Thing, manifest: str, tail: str = "") -> Marked:
        """A path to the entry (or below it) as that manifest would write it, with what it names."""
        path = f"{thing.path}/{tail}" if tail else thing.path
        home = thing.menu.volume
        things = (thing, thing.parent) if thing.parent else (thing,)
        if style == "manifest":
            text = posixpath.relpath(path, posixpath.dirname(manifest) or ".")
            shown = len(text.replace("../", "").split("/")) - len(tail.split("/") if tail else []) - 1
            return Marked(text, things if shown else things[:1])
        if style == "menu":
            below = path[len(thing.menu.root) :].lstrip("/")
            return Marked(below, (thing,))
        name, value = next(iter(self.variables.items()), ("", ""))
        texts = {
            "absolute": f"{home.mount}/{path}",
            "volume": path,
            "dot": f"./{path}",
            "address": "file://" + quote(f"{home.mount}/{path}"),
            "variable": f"${name}/{path}" if value == home.mount else f"{home.mount}/{path}",
        }
        return Marked(texts[style], things)

    def path_style(self, menu: MenuPlan, volume: VolumePlan, *, name_alone: bool = False) -> str:
        """One way to spell paths, that works from this volume."""
        styles = ["absolute", "absolute", "address"]
        if self.variables:
            styles.append("variable")
        if volume is menu.volume:
            styles += ["volume", "dot", "manifest"]
            if menu.outer is None and menu.entries == "folders" and menu.tail and not name_alone:
                styles.append("menu")
        return self.rng.choice(styles)

    # The card and its profile, written out

    def write(self, folder: Path) -> Path:
        """Lay the card out in a folder."""
        for volume, path in sorted(self.folders):
            (folder / volume / path).mkdir(parents=True, exist_ok=True)
        for (volume, path), content in self.files.items():
            file = folder / volume / path
            file.parent.mkdir(parents=True, exist_ok=True)
            file.write_bytes(content)
            os.utime(file, (1_600_000_000, 1_600_000_000))
        return folder

    @property
    def profile(self) -> str:
        """The hand-written profile: what a person who knows the device would have written."""
        lines = ["schema = 1", f'name = "Layout {self.seed}"', "[panel]"]
        lines += [f"width = {self.panel[0]}", f"height = {self.panel[1]}", f"rotate = {self.rotate}"]
        for volume in self.volumes:
            lines += [f"[volumes.{volume.role}]", f"identify = {_value(volume.identify)}"]
            lines += [f"device_path = {_value(volume.mount)}", 'names = "fat"']
        if self.variables:
            lines += ["[variables]", *(f"{key} = {_value(value)}" for key, value in self.variables.items())]
        for menu in self.menus:
            lines += self._menu_lines(menu)
        for splash in self.splashes:
            lines += ["[[splash]]", *_pairs(splash)]
        if self.animation:
            lines += ["[animation]", *_pairs(self.animation)]
        return "\n".join(lines) + "\n"

    def _menu_lines(self, menu: MenuPlan) -> Iterable[str]:
        yield from (
            "[[menus]]",
            f'id = "{menu.id}"',
            f"root = {_value(f'{menu.volume.role}:{menu.pattern}')}",
        )
        yield from (f'entries = "{menu.entries}"', f'order = "{self.order}"')
        if menu.entries == "files":
            yield f"match = {_value([f'*.{suffix}' for suffix in menu.suffixes])}"
        if menu.label:
            yield f"label = {_value(menu.label)}"
        if menu.companions:
            yield f"companions = {_value(menu.companions)}"
        for rule in menu.references:
            yield from ("[[menus.references]]", *_pairs(rule))
        for rule in menu.pictures:
            yield from ("[[menus.pictures]]", *_pairs(rule))


def _pairs(rule: Rule) -> list[str]:
    return [f"{key} = {_value(value)}" for key, value in rule.items()]


def _value(value: Any) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {_value(one)}" for key, one in value.items()) + " }"
    return json.dumps(list(value) if isinstance(value, tuple) else value, ensure_ascii=False)
