"""Reads `[animation]` of a profile: where frames, settings and sound of a boot animation lie."""

from __future__ import annotations

from collections.abc import Collection

from workbench.card.animation_rule import (
    AnimationRule,
    ArtRule,
    ChosenRule,
    EntryRule,
    FramesRule,
    ScriptRule,
    SettingsRule,
    SoundRule,
    TextRule,
)
from workbench.card.menu_rule_reader import FORMATS, read_size
from workbench.card.patterns import check_path, check_placeholders, read_pattern
from workbench.card.profile_table import Table
from workbench.card.selector_reader import read_selector, read_selector_or_none
from workbench.typed import Any, cast

_UNITS = ("us", "ms", "s", "fps")
_NAME = ("name",)
_FRAME_KINDS = {".png": "png", ".jpg": "jpeg", ".jpeg": "jpeg", ".bmp": "bmp", ".raw": "raw"}
_SOUND_KINDS = ("mp3", "wav", "ogg")
_MASKS = ("565", "555", "8888", "565-swapped", "555-swapped", "8888-swapped")


def read_animation(table: Table, volumes: Collection[str], menus: Collection[str] = ()) -> AnimationRule:
    """The animation table, checked; `menus` are the ids of the profile's menus."""
    table.only(
        "folder", "frames", "settings", "sound", "chosen", "script", "label", "art", "entry", "draw_ms",
        "delay_ms",
    )  # fmt: skip
    return AnimationRule(
        folder=read_pattern(table, "folder", volumes, _NAME),
        frames=_read_frames(table.table("frames")),
        settings=_read_settings(table.table("settings"), volumes),
        sound=_read_sound(table.table("sound"), volumes),
        chosen=_read_chosen(table.table("chosen"), volumes),
        script=_read_script(table.table("script"), volumes),
        label=_read_label(table.table("label"), volumes),
        art=_read_art(table.table("art"), volumes),
        entry=_read_entry(table.table("entry"), menus),
        draw_ms=table.number("draw_ms", 0),
        delay_ms=table.number("delay_ms", 0) if table.has("delay_ms") else None,
    )


def _read_frames(table: Table) -> FramesRule:
    table.only(
        "pattern", "first", "pad", "format", "bits", "masks", "rows", "colours", "width", "height", "rotate"
    )
    pattern = table.text("pattern")
    folder, _, name = pattern.rpartition("/")
    if "{n}" not in name or "{n}" in folder or name.count("{n}") > 1:
        table.refuse(
            "pattern", f"is {pattern!r}", "a file name with {n} once is allowed, in one folder or none"
        )
    check_placeholders(table, "pattern", pattern, ("n", "name"))
    check_path(table, "pattern", pattern)
    if table.has("width") != table.has("height"):
        table.refuse(
            None, "names one of width and height", "both are needed, or neither: then the panel's count"
        )
    return FramesRule(
        pattern=pattern,
        first=table.whole("first", 0, 1_000_000, 0),
        pad=table.whole("pad", 0, 9, 0),
        format=cast(Any, _read_kind(table, name)),
        bits=table.whole("bits", 8, 32, 0) if table.has("bits") else 0,
        masks=table.word("masks", _MASKS) if table.has("masks") else None,
        rows=cast(Any, table.word("rows", ("bottom-up", "top-down")) if table.has("rows") else None),
        colours=table.whole_or_none("colours", 2, 256),
        size=(table.whole("width", 1, 16384), table.whole("height", 1, 16384))
        if table.has("width")
        else None,
        rotate=table.turn("rotate") if table.has("rotate") else None,
    )


def _read_kind(table: Table, name: str) -> str:
    suffix = name[name.rfind(".") :].lower() if "." in name else ""
    kinds = tuple(dict.fromkeys(_FRAME_KINDS.values()))
    if table.has("format") or suffix not in _FRAME_KINDS:
        return table.word("format", kinds)
    return _FRAME_KINDS[suffix]


def _read_settings(table: Table, volumes: Collection[str]) -> SettingsRule | None:
    table.only(
        "file", "format", "unit", "decimals", "template", "count", "last", "delay", "rate", "loops", "author"
    )
    if not table.values:
        return None
    if table.has("delay") and table.has("rate"):
        table.refuse("rate", "stands beside delay", "one of the two is allowed: a device heeds one number")
    pace = "rate" if table.has("rate") else "delay"
    return SettingsRule(
        file=read_pattern(table, "file", volumes, _NAME),
        format=cast(Any, table.word("format", FORMATS)),
        count=read_selector_or_none(table, "count"),
        last=read_selector_or_none(table, "last"),
        pace=read_selector_or_none(table, pace),
        unit=cast(Any, table.word("unit", _UNITS, "fps" if pace == "rate" else "ms")),
        decimals=table.whole_or_none("decimals", 0, 6),
        loops=read_selector_or_none(table, "loops"),
        author=read_selector_or_none(table, "author"),
        template=table.text_or_none("template"),
    )


def _read_sound(table: Table, volumes: Collection[str]) -> SoundRule | None:
    table.only("file", "format", "rate", "channels")
    if not table.values:
        return None
    file = read_pattern(table, "file", volumes, _NAME)
    suffix = file.path.rpartition(".")[2].lower()
    kind = (
        suffix if suffix in _SOUND_KINDS and not table.has("format") else table.word("format", _SOUND_KINDS)
    )
    return SoundRule(
        file=file,
        format=cast(Any, kind),
        rate=table.whole("rate", 1000, 384_000, 44100),
        channels=table.whole("channels", 1, 8, 2),
    )


def _read_chosen(table: Table, volumes: Collection[str]) -> ChosenRule | None:
    table.only("file", "format", "at", "is", "none")
    if not table.values:
        return None
    text = table.text("is", "{name}")
    if "name" not in check_placeholders(table, "is", text, _NAME) or text.count("{name}") > 1:
        table.refuse("is", f"is {text!r}", "a text with {name} once is allowed")
    return ChosenRule(
        file=read_pattern(table, "file", volumes, ()),
        format=cast(Any, table.word("format", FORMATS)),
        at=read_selector(table, "at"),
        is_=text,
        none=table.text("none", "") if table.has("none") else None,
    )


def _read_script(table: Table, volumes: Collection[str]) -> ScriptRule | None:
    table.only("file", "template")
    if not table.values:
        return None
    return ScriptRule(read_pattern(table, "file", volumes, _NAME), table.text_or_none("template"))


def _read_label(table: Table, volumes: Collection[str]) -> TextRule | None:
    table.only("file", "format", "at")
    if not table.values:
        return None
    file = read_pattern(table, "file", volumes, _NAME)
    return TextRule(file, cast(Any, table.word("format", FORMATS)), read_selector(table, "at"))


def _read_art(table: Table, volumes: Collection[str]) -> ArtRule | None:
    table.only("file", "size")
    if not table.values:
        return None
    return ArtRule(read_pattern(table, "file", volumes, _NAME), read_size(table))


def _read_entry(table: Table, menus: Collection[str]) -> EntryRule | None:
    table.only("menu", "name")
    if not table.values:
        return None
    menu = table.text("menu")
    if menu.partition("/")[0] not in menus:
        table.word("menu", menus)
    name = table.text("name", "{name}")
    if "name" not in check_placeholders(table, "name", name, _NAME) or "/" in name:
        table.refuse("name", f"is {name!r}", "the name of one entry with {name} in it is allowed")
    return EntryRule(menu, name)
