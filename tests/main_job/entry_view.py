"""What a device's reader sees of one entry, and its problems, for tests of whole entries."""

from __future__ import annotations

from typing import Any


def seen_entry(seen: dict[str, Any], menu_id: str, name: str) -> dict[str, Any] | None:
    """What the device shows for an entry; None where it does not list it."""
    entries = [entry for menu in seen["menus"] if menu["id"] == menu_id for entry in menu["entries"]]
    return next((entry for entry in entries if entry["name"] == name), None)


def others(seen: dict[str, Any], menu_id: str, name: str) -> dict[str, Any]:
    """All that the device shows of every other entry, by menu and name; positions aside."""
    return {
        f"{menu['id']}:{entry['name']}": entry
        for menu in seen["menus"]
        for entry in menu["entries"]
        if (menu["id"], entry["name"]) != (menu_id, name)
    }


def dangling(seen: dict[str, Any]) -> list[str]:
    """The reader's problems, without those that a removal must leave: companions whose entry is gone."""
    kept = ("keep/", "memory/", "manuals/", "logs/")
    return [one for one in seen["problems"] if not (one.startswith(kept) and "belongs to no" in one)]
