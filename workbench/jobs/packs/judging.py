"""Which names of a pack are refused, before anything is read or written. Pure rules on strings.

PKWARE APPNOTE 4.4.17.1 allows no drive letter, no leading slash and forward slashes only; nothing forbids
`..`, doubles, or names that a card takes for one, so the reader must.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from workbench.card.names import find_fault, fold_name
from workbench.card.paths import LEDGER_FOLDER
from workbench.card.profile import NamesRule
from workbench.host.archives.member import Member
from workbench.late_pattern import late_pattern
from workbench.shown import shown

_DRIVE = late_pattern(r"[A-Za-z]:")
_MOST_UNITS = 1024
"""UTF-16 units in a whole path: no file system of a card and no host takes longer ones well."""


def clean_path(path: str) -> str:
    """A member's path without the `./` in front that tar writes of its own accord."""
    while path.startswith("./"):
        path = path[2:]
    return path


def find_path_fault(path: str, rule: NamesRule, depth: int) -> str:
    """Why a path in an archive is refused, as the end of a sentence; empty where it may be taken.

    Args:
        path: as `clean_path` gives it.
        rule: the stricter of the rules of the volumes that it may go to.
        depth: the most folders in one another.
    """
    if "\\" in path:
        return "holds a backslash, which some hosts take for a way into other folders"
    if path.startswith("/"):
        return "starts at the root of the disk"
    if _DRIVE.match(path):
        return "starts with a drive letter"
    if not path:
        return "is empty"
    parts = path.split("/")
    if ".." in parts:
        return "leads out of its folder ('..')"
    if "" in parts or "." in parts:
        return "has an empty part between two slashes" if "" in parts else "has a part '.' that says nothing"
    if len(parts) > depth:
        return f"lies {len(parts) - 1} folders deep; at most {depth} are taken"
    if len(path.encode("utf-16-le", "surrogatepass")) // 2 > _MOST_UNITS:
        return f"is longer than {_MOST_UNITS} UTF-16 units"
    for part in parts:
        fault = find_fault(part, rule)
        if fault is not None:
            return fault if len(parts) == 1 else f"has a part {shown(part)!r} that {fault}"
    if fold_name(parts[0], "fat") == LEDGER_FOLDER.upper():
        return "would write into Cardwright's own record of changes"
    return ""


def find_clashing_names(members: Iterable[tuple[str, Member]], rule: NamesRule) -> Mapping[str, str]:
    """Paths of one pack that are in each other's way, each with why.

    Doubles, names that differ in case or in composed letters alone, a file and a folder of one name.
    """
    spelled: dict[str, str] = {}
    files: dict[str, str] = {}
    folders: dict[str, str] = {}
    faults: dict[str, str] = {}
    for path, member in members:
        parts = path.split("/")
        for end in range(1, len(parts) + 1):
            part = "/".join(parts[:end])
            folded = fold_path(part, rule)
            first = spelled.setdefault(folded, part)
            if first != part:
                faults[path] = f"is the same to the device as {shown(first)!r}, which is in the pack too"
            if end < len(parts) or member.kind == "folder":
                folders.setdefault(folded, path)
                if folded in files:
                    faults[path] = f"is a folder, or in one, where {shown(files[folded])!r} is a file"
        if member.kind != "folder":
            folded = fold_path(path, rule)
            if folded in files:
                faults.setdefault(path, "is in the pack twice")
            elif folded in folders:
                faults[path] = f"is a file where {shown(folders[folded])!r} needs a folder"
            files[folded] = path
    return faults


def fold_path(path: str, rule: NamesRule) -> str:
    """What two paths have in common when they are one to the device."""
    return "/".join(fold_name(part, rule) for part in path.split("/"))
