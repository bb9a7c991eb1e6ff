"""Registers: the manifest that maps the entries of a menu to what the device shows and opens.

Format, shape, nesting, what names the entry, and the fields beside it are dealt out independently.
"""

from __future__ import annotations

from typing import Any

from layout_card import CardPlan, MenuPlan, Rule, Thing, VolumePlan
from layout_sheet import (
    Element,
    Marked,
    Sheet,
    quoted,
    write_ini,
    write_json,
    write_keyvalue,
    write_lines,
    write_toml,
    write_xml,
)
from layout_words import (
    FACE_KEYS,
    GROUPS,
    ID_KEYS,
    LABEL_KEYS,
    NEAR_KEYS,
    NOISE_KEYS,
    RECORDS,
    RUN_KEYS,
)

SHAPES = {
    "json": ("keyed", "keyed", "rows", "rows", "flat", "slots", "names"),
    "toml": ("keyed", "rows", "flat", "slots", "names"),
    "ini": ("keyed", "rows", "flat", "slots"),
    "keyvalue": ("numbered",),
    "shell": ("numbered", "words"),
    "xml": ("rows",),
    "lines": ("names",),
}
_PATH_ONLY = ("slots", "words")


def _weak(text: str) -> bool:
    """Whether an INI-like file could not hold this text as a key."""
    return any(char in text for char in "[]=:;#") or text != text.strip()


class Register:
    """One register of one menu."""

    def __init__(self, card: CardPlan, menu: MenuPlan, format: str, volume: VolumePlan, path: str) -> None:
        self.card, self.menu, self.format, self.volume, self.path = card, menu, format, volume, path
        self.rng = card.rng
        self.shape = self.rng.choice(SHAPES[format])
        if (menu.outer and self.shape in ("rows", "names", "numbered")) or self.shape in _PATH_ONLY:
            self.by = "path"
        else:
            self.by = self.rng.choice(("name", "name", "stem" if menu.entries == "files" else "name", "path"))
        if self.by == "path" and self.shape in ("keyed", "flat"):
            self.by = "name"
        self.is_nested = bool(menu.outer) and self.shape in ("keyed", "flat")
        if self.is_nested and format == "ini":
            self.shape = "flat"
        self.style = card.path_style(menu, volume)
        if format == "shell" and not menu.root and self.style in ("volume", "manifest"):
            # A word of a script without a slash is an option or a text, by the house's rule.
            self.style = "dot"
        depth = self.rng.choice((0, 1, 1, 2, 3)) if format in ("json", "toml", "xml") else 0
        self.base = self.rng.sample(GROUPS, depth)
        self.keys = {
            "id": self.rng.choice(ID_KEYS),
            "label": self.rng.choice(LABEL_KEYS),
            "run": self.rng.choice(RUN_KEYS),
            "near": self.rng.choice(NEAR_KEYS),
            "face": self.rng.choice(FACE_KEYS),
        }
        rich = self.shape in ("keyed", "rows")
        has_icon = menu.spelled_icon is not None
        self.fields = {
            "label": rich and self.rng.random() < 0.8,
            "run": rich and self.rng.random() < 0.6,
            "near": rich
            and format in ("json", "toml", "xml")
            and menu.outer is None
            and self.rng.random() < 0.4,
            "face": rich and has_icon,
        }
        self.as_attributes = self.rng.random() < 0.6

    # What names the entry

    def name(self, thing: Thing) -> Marked:
        if self.by == "path":
            return self.card.spell(self.style, thing, self.path, thing.menu.tail)
        return Marked(thing.stem if self.by == "stem" else thing.name, (thing,))

    @property
    def is_(self) -> str:
        return {"path": "{path}", "stem": "{stem}", "name": "{entry}"}[self.by]

    @property
    def piece(self) -> str:
        return "{stem}" if self.by == "stem" else "{entry}"

    def record(self, thing: Thing) -> dict[str, Any]:
        fields: dict[str, Any] = {}
        if self.fields["label"]:
            fields[self.keys["label"]] = self._label(thing)
        if self.fields["run"]:
            tail = thing.menu.tail
            fields[self.keys["run"]] = self.card.spell(self.style, thing, self.path, tail)
        if self.fields["face"]:
            before, after = self.menu.spelled_icon or ("", "")
            fields[self.keys["face"]] = Marked(f"{before}{thing.stem}{after}", (thing,))
        if self.fields["near"]:
            others = [other for other in self.menu.things if other is not thing]
            near = self.rng.sample(others, min(len(others), self.rng.choice((1, 2, 2, 3))))
            fields[self.keys["near"]] = [Marked(other.name, (other,)) for other in near]
        for key in self.rng.sample(NOISE_KEYS, 2):
            fields[key] = self.rng.choice((3, 40, True, "blue", "start", "slow tide"))
        return fields

    def _label(self, thing: Thing) -> str:
        if thing.label is None:
            echo = "echo" in self.card.traits and self.rng.random() < 0.25
            thing.label = thing.name if echo else self.card.deck.deal_label()
        return thing.label

    # Rules

    def rule(self, at: str | None, is_: str | None = None, menu: MenuPlan | None = None) -> None:
        file = f"{self.volume.role}:{self.path}"
        found: Rule = {"file": file, "format": self.format}
        if at is not None:
            found["at"] = at
        if is_ is not None:
            found["is"] = is_
        else:
            found["names"] = "key"
        menus = [menu or self.menu]
        if is_ == "{path}" and self.menu.outer:
            menus.append(self.menu.outer)
        for one in menus:
            one.add_rule(found)

    def label_rule(self, at: str, key: str | None = None) -> None:
        if self.menu.label is not None:
            return
        rule: Rule = {"file": f"{self.volume.role}:{self.path}", "format": self.format, "at": at}
        if key:
            rule |= {"key": key, "is": self.is_}
        self.menu.label = {**rule, "otherwise": "name"}

    def pointer(self, *tokens: str) -> str:
        return "".join("/" + token for token in (*self.base, *tokens))

    def field_rules(self, row: str, keys: dict[str, str]) -> None:
        if self.fields["run"]:
            self.rule(f"{row}/{keys['run']}", "{path}")
        if self.fields["near"]:
            self.rule(f"{row}/{keys['near']}", "{entry}")
        if self.fields["face"]:
            before, after = self.menu.spelled_icon or ("", "")
            self.rule(f"{row}/{keys['face']}", f"{before}{{stem}}{after}")

    # Putting it together

    def write(self) -> None:
        makers = {"xml": self._xml, "lines": self._lines, "shell": self._shell, "keyvalue": self._numbered}
        sheet = makers.get(self.format, self._tree)()
        self.card.add_sheet(self.volume, self.path, sheet, is_script=self.format == "shell")

    def _comment(self) -> str:
        return f"kept by the device; {self.rng.choice(self.menu.things).name} was the first"

    def _nest(self, data: Any) -> Any:
        for key in reversed(self.base):
            data = {"weight": 3, key: data} if self.rng.random() < 0.4 else {key: data}
        return data

    def _tree(self) -> Sheet:
        data = self._nest(self._map() if self.shape in ("keyed", "flat") else self._sequence())
        if self.format == "json":
            return write_json(
                data, self.rng.choice(("  ", "    ", "\t", "")), self.rng.choice(("", "slash", "ascii"))
            )
        if self.format == "toml":
            return write_toml(data, self._comment())
        return write_ini(data, self.rng.choice(("=", " = ")), self._comment())

    def _map(self) -> Any:
        keys = self.keys | {"near": f"{self.keys['near']}/{{place}}"}
        if not self.is_nested:
            return self._flat_map(self.menu.things, keys, ())
        rooms: dict[Any, Any] = {}
        for thing in self.menu.things:
            rooms.setdefault(thing.parent, []).append(thing)
        assert self.menu.outer is not None
        self.rule(self.pointer("{entry}"), None, self.menu.outer)
        return {
            Marked(room.name, (room,)): self._flat_map(own, keys, ("{parent}",))
            for room, own in rooms.items()
        }

    def _flat_map(self, things: list[Thing], keys: dict[str, str], above: tuple[str, ...]) -> Any:
        is_section = self.format == "ini" and not above and self.shape == "flat"
        if is_section:
            above = ("hall",)
        self.rule(self.pointer(*above, self.piece))
        self.field_rules(
            self.pointer(*("{room}" if one == "{parent}" else one for one in above), "{key}"), keys
        )
        if self.shape == "flat":
            self.label_rule(self.pointer(*above, self.piece))
            found: Any = {self.name(thing): self._label(thing) for thing in things}
        else:
            if self.fields["label"]:
                self.label_rule(self.pointer(*above, self.piece, keys["label"]))
            found = {self.name(thing): self.record(thing) for thing in things}
        return {"hall": found} if is_section else found

    def _sequence(self) -> Any:
        keys = self.keys | {"near": f"{self.keys['near']}/{{place}}"}
        names = [self.name(thing) for thing in self.menu.things]
        if self.shape == "slots":
            self.rule(self.pointer(*(("hall",) if self.format == "ini" else ()), "{slot}"), self.is_)
            slots = {f"nr{number}": name for number, name in enumerate(names, 1)}
            return {"hall": slots} if self.format == "ini" else slots
        if self.format != "ini" and not self.base and self.format == "toml":
            self.base = [self.rng.choice(GROUPS)]
        if self.shape == "names":
            self.rule(self.pointer("{row}"), self.is_)
            return names
        row = self.pointer("{row}")
        self.rule(f"{row}/{keys['id']}", self.is_)
        self.field_rules(row, keys)
        if self.fields["label"]:
            self.label_rule(f"{row}/{keys['label']}", f"{row}/{keys['id']}")
        rows = [
            {keys["id"]: name, **self.record(thing)}
            for name, thing in zip(names, self.menu.things, strict=True)
        ]
        if self.format == "ini":
            return {f"{RECORDS[0]}-{number}": one for number, one in enumerate(rows, 1)}
        return rows

    def _xml(self) -> Sheet:
        record = self.rng.choice(RECORDS)
        above = [self.rng.choice(GROUPS) + "s", *self.base]
        row = "".join(f"/{name}/0" for name in above) + f"/{record}/{{row}}"
        at = {key: f"@{name}" if self.as_attributes else f"{name}/0/#text" for key, name in self.keys.items()}
        at["near"] = f"{self.keys['near']}/{{place}}/#text"
        at["id"] = f"@{self.keys['id']}" if self.as_attributes or self.rng.random() < 0.5 else at["id"]
        self.rule(f"{row}/{at['id']}", self.is_)
        self.field_rules(row, at)
        if self.fields["label"]:
            self.label_rule(f"{row}/{at['label']}", f"{row}/{at['id']}")
        root = Element(above[-1], children=[self._element(record, thing, at) for thing in self.menu.things])
        for name in reversed(above[:-1]):
            root = Element(name, children=[root])
        return write_xml(root, self._comment())

    def _element(self, record: str, thing: Thing, at: dict[str, str]) -> Element:
        found = Element(record)
        for key, value in {self.keys["id"]: self.name(thing), **self.record(thing)}.items():
            if isinstance(value, list):
                found.children += [Element(key, text=one) for one in value]
            elif self.as_attributes or (key == self.keys["id"] and at["id"].startswith("@")):
                found.attributes[key] = value
            else:
                found.children.append(Element(key, text=value))
        return found

    def _lines(self) -> Sheet:
        self.rule(None, self.is_)
        return write_lines(self.name(thing) for thing in self.menu.things)

    def _numbered_pairs(self, upper: bool) -> dict[str, Any]:
        id_key, label_key = self.keys["id"], self.keys["label"]
        if upper:
            id_key, label_key = id_key.upper(), label_key.upper()
        has_labels = self.rng.random() < 0.7
        self.rule(f"/{id_key}_{{n}}", self.is_)
        if has_labels:
            self.label_rule(f"/{label_key}_{{n}}", f"/{id_key}_{{n}}")
        pairs: dict[str, Any] = {}
        for number, thing in enumerate(self.menu.things, 1):
            pairs[f"{id_key}_{number}"] = self.name(thing)
            if has_labels:
                pairs[f"{label_key}_{number}"] = self._label(thing)
        return pairs

    def _numbered(self) -> Sheet:
        return write_keyvalue(self._numbered_pairs(False), self.rng.choice(("=", " = ")), self._comment())

    def _shell(self) -> Sheet:
        sheet = Sheet().put(f"#!/bin/sh\n# {self._comment()}\n")
        style = self.rng.choice(("single", "double", "bare"))
        if self.style == "variable":
            style = "double"
        if self.shape == "words":
            self.rule(None, "{path}")
            pairs = [("offer", self.name(thing)) for thing in self.menu.things]
        else:
            pairs = list(self._numbered_pairs(True).items())
        for key, value in pairs:
            sheet.put(f"{key} " if self.shape == "words" else f"{key}=")
            sheet.mark(value, "text")
            sheet.put(quoted(value.text if isinstance(value, Marked) else value, style) + "\n")
        return sheet
