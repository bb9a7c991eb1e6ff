"""A small card in a test's own folder, with a profile written beside it."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from workbench.card.disk_tree import DiskTree
from workbench.card.menu import find_entry, read_menus
from workbench.card.profile import Profile
from workbench.card.profile_reader import read_profile
from workbench.card.references import Found, find_references, rewrite
from workbench.card.volumes import Card, Volume

HEAD = """\
schema = 1
name = "Plain"
[panel]
width = 64
height = 48
[volumes.data]
identify = ["shelf/"]
device_path = "/mnt/store"
names = "{names}"
[volumes.system]
identify = ["start/"]
device_path = "/sys-store"
[variables]
STORE = "/mnt/store"
"""

MENU = """\
[[menus]]
id = "shelf"
root = "data:shelf"
entries = "folders"
"""

FILES = """\
[[menus]]
id = "tales"
root = "data:tales"
entries = "files"
match = ["*.tale"]
"""


def rule(file: str, format: str, is_: str = "{entry}", at: str | None = None) -> str:
    """One `[[menus.references]]` table; `is_` empty for a key."""
    lines = [f'file = "{file}"', f'format = "{format}"']
    lines += [f"at = '{at}'"] if at else []
    lines += [f"is = '{is_}'"] if is_ else []
    return "[[menus.references]]\n" + "\n".join(lines) + "\n"


class SmallCard:
    """Files by `role:path` (a trailing slash makes a folder) and the rest of a profile."""

    def __init__(
        self, folder: Path, files: Mapping[str, str | bytes], rules: str, names: str = "fat"
    ) -> None:
        self.folder = folder
        for place, content in files.items():
            self.write(place, content)
        for role in ("data", "system"):
            (folder / role).mkdir(parents=True, exist_ok=True)
        source = folder / "plain.toml"
        source.write_text(HEAD.replace("{names}", names) + rules, encoding="utf-8")
        self.profile: Profile = read_profile(source)

    def path(self, place: str) -> Path:
        role, _, path = place.partition(":")
        return self.folder / role / path

    def write(self, place: str, content: str | bytes) -> None:
        path = self.path(place)
        if place.endswith("/"):
            path.mkdir(parents=True, exist_ok=True)
            return
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content.encode() if isinstance(content, str) else content)

    @property
    def tree(self) -> DiskTree:
        volumes = {role: Volume(role, self.folder / role) for role in ("data", "system")}
        return DiskTree(Card("Plain", volumes, self.profile, "folder"))

    def find(self, entry: str, **wishes: Any) -> Found:
        tree = self.tree
        return find_references(
            tree, self.profile, *find_entry(read_menus(tree, self.profile), entry), **wishes
        )

    def rename(self, entry: str, new_name: str) -> Found:
        """Find, rewrite and move, the plain way: what a plan would do."""
        tree = self.tree
        menu, found_entry = find_entry(read_menus(tree, self.profile), entry)
        found = find_references(tree, self.profile, menu, found_entry)
        for manifest in found.manifests:
            content, _, _ = rewrite(tree, self.profile, manifest, found_entry, new_name)
            self.path(str(manifest.at)).write_bytes(content)
        stem = new_name.rpartition(".")[0] if menu.rule.entries == "files" else new_name
        for file in found.files:
            new = file.renamed(stem if file.piece == "stem" else new_name)
            self.path(str(file.at)).rename(self.path(str(new)))
        self.path(str(found_entry.at)).rename(self.path(str(found_entry.at.with_name(new_name))))
        return found


def places(found: Found) -> list[tuple[str, int, str]]:
    """Each reference as (place, line, text with the name marked)."""
    return [
        (
            str(one.at),
            one.line,
            f"{one.text[: one.start]}[{one.text[one.start : one.end]}]{one.text[one.end :]}",
        )
        for manifest in found.manifests
        for one in manifest.references
    ]
