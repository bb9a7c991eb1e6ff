"""Reads `[animation]` of a profile: where frames, settings and sound of a boot animation lie."""

from __future__ import annotations

from collections.abc import Collection

from workbench.card.menu_rule_reader import FORMATS
from workbench.card.patterns import check_placeholders, read_pattern
from workbench.card.profile import AnimationRule
from workbench.card.profile_table import Table
from workbench.card.selector_reader import read_selector

_POINTERS = ("count", "last", "delay", "rate", "loops", "author")
_UNITS = ("us", "ms", "s", "fps")
_NAME = ("name",)


def read_animation(table: Table, volumes: Collection[str]) -> AnimationRule:
    """The animation table, checked."""
    table.only("folder", "frames", "settings", "sound", "chosen", "draw_ms")
    return AnimationRule(
        folder=read_pattern(table, "folder", volumes, _NAME),
        frames=_read_frames(table.table("frames")),
        settings=_read_settings(table.table("settings"), volumes),
        sound=_read_sound(table.table("sound"), volumes),
        chosen=_read_chosen(table.table("chosen"), volumes),
        draw_ms=table.number("draw_ms", 0),
    )


def _read_frames(table: Table) -> dict[str, str | int]:
    table.only("pattern", "first", "pad", "format", "width", "height")
    frames: dict[str, str | int] = {
        "pattern": table.text("pattern"),
        "first": table.whole("first", 0, 1_000_000, 0),
        "pad": table.whole("pad", 0, 9, 0),
    }
    if "{n}" not in str(frames["pattern"]) or "/" in str(frames["pattern"]):
        table.refuse("pattern", f"is {frames['pattern']!r}", "a file name with {n} is allowed")
    check_placeholders(table, "pattern", str(frames["pattern"]), ("n", "name"))
    if table.has("format"):
        frames["format"] = table.text("format")
    for key in ("width", "height"):
        if table.has(key):
            frames[key] = table.whole(key, 1, 16384)
    return frames


def _read_settings(table: Table, volumes: Collection[str]) -> dict[str, str]:
    table.only("file", "format", "unit", *_POINTERS)
    if not table.values:
        return {}
    settings = {
        "file": str(read_pattern(table, "file", volumes, _NAME)),
        "format": table.word("format", FORMATS),
        "unit": table.word("unit", _UNITS, "ms"),
    }
    for key in _POINTERS:
        if table.has(key):
            settings[key] = read_selector(table, key).source
    return settings


def _read_sound(table: Table, volumes: Collection[str]) -> dict[str, str | int]:
    table.only("file", "format", "rate", "channels")
    if not table.values:
        return {}
    sound: dict[str, str | int] = {"file": str(read_pattern(table, "file", volumes, _NAME))}
    if table.has("format"):
        sound["format"] = table.text("format")
    if table.has("rate"):
        sound["rate"] = table.whole("rate", 1000, 384_000)
    if table.has("channels"):
        sound["channels"] = table.whole("channels", 1, 8)
    return sound


def _read_chosen(table: Table, volumes: Collection[str]) -> dict[str, str]:
    table.only("file", "format", "at", "is")
    if not table.values:
        return {}
    text = table.text("is", "{name}")
    check_placeholders(table, "is", text, _NAME)
    return {
        "file": str(read_pattern(table, "file", volumes, ())),
        "format": table.word("format", FORMATS),
        "at": read_selector(table, "at").source,
        "is": text,
    }
