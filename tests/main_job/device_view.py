"""What a device shows, with one entry under another name: what a reader must see after a rename."""

from __future__ import annotations

import re
from typing import Any


def expected_view(seen: dict[str, Any], device: str, menu_id: str, old: str, new: str) -> dict[str, Any]:
    """`seen` as it must be once that menu's entry `old` is called `new` and nothing else has changed."""
    return comparable(renamed_view(seen, device, menu_id, old, new))


def renamed_view(seen: dict[str, Any], device: str, menu_id: str, old: str, new: str) -> dict[str, Any]:
    """The same, still in the shape that a reader gives, so that renames can follow one another."""
    view: dict[str, Any] = _renamed(seen, old, new)
    for menu in view["menus"]:
        for entry in menu["entries"]:
            if (menu["id"], entry["name"], entry["label_from"]) == (menu_id, new, "name"):
                entry["label"] = _plain_label(device, new)
    return view


def differences(one: Any, other: Any, at: str = "") -> list[str]:
    """Where two views differ, a line for each place."""
    if isinstance(one, dict) and isinstance(other, dict):
        keys = dict.fromkeys((*one, *other))
        return [line for key in keys for line in differences(one.get(key), other.get(key), f"{at}/{key}")]
    if isinstance(one, list) and isinstance(other, list) and len(one) == len(other):
        pairs = enumerate(zip(one, other, strict=True))
        return [line for number, pair in pairs for line in differences(*pair, f"{at}/{number}")]
    return [] if one == other else [f"{at}: {one!r} is not {other!r}"]


def comparable(seen: dict[str, Any]) -> dict[str, Any]:
    """The same without what a rename may change: the order of entries, paths of pictures and manuals."""
    view = _without_paths(seen)
    for menu in view["menus"]:
        menu["entries"] = {entry["name"]: entry for entry in menu["entries"]}
    view["menus"].sort(key=lambda menu: menu["id"])
    if view["lists"].get("cache") in ("stale", "believed"):
        view["lists"]["cache"] = "made again where it is stale"
    return view


def _plain_label(device: str, name: str) -> str:
    if device != "fernway":
        return name
    return re.sub(r"\A(?:[0-9]+|([a-z])\1)-(?=.)", "", name)


def _renamed(value: Any, old: str, new: str) -> Any:
    """Every name, and every path component, that is the entry's; labels stay."""
    if isinstance(value, dict):
        kept = ("label", "label_from", "kind", "sha256", "program", "device")
        return {
            _text_renamed(key, old, new): inner if key in kept else _renamed(inner, old, new)
            for key, inner in value.items()
        }
    if isinstance(value, list):
        return [_renamed(inner, old, new) for inner in value]
    return _text_renamed(value, old, new) if isinstance(value, str) else value


def _text_renamed(text: str, old: str, new: str) -> str:
    return "/".join(new if part.upper() == old.upper() else part for part in text.split("/"))


def _without_paths(value: Any) -> Any:
    if isinstance(value, dict):
        is_picture = "size" in value or value.get("path", "").startswith("manuals/")
        return {
            key: _without_paths(inner) for key, inner in value.items() if not (is_picture and key == "path")
        }
    return [_without_paths(inner) for inner in value] if isinstance(value, list) else value
