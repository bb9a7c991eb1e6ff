"""Menus that a person names where nothing on the card speaks for them: folders that no manifest mentions."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from workbench.card.paths import VolumePath
from workbench.errors import UsageError
from workbench.jobs.survey.findings import Evidence, Finding, Survey
from workbench.jobs.survey.places import Folder, Places, suffix_of
from workbench.jobs.survey.profile_text import make_line
from workbench.late_pattern import late_pattern
from workbench.order.collation import sort_names
from workbench.shown import shown

MOST_OFFERED = 40
_NO_ID = late_pattern(r"[/:\s]+")
_BEFORE = ("splash", "animation", "device")
"""Tables that stand behind the menus."""


def list_roots(survey: Survey) -> tuple[str, ...]:
    """Folders that could be a menu and are none yet: those with the most in them first."""
    known = {str(line.value) for one in survey.findings for line in one.lines if line.key == "root"}
    folders = [one for one in survey.reading.places.folders if len(one.listing) > 1]
    folders.sort(key=lambda one: (one.path.count("/"), not one.path, -len(one.listing)))
    names = (f"{one.volume}:{one.path}" for one in folders if not one.path.startswith("."))
    return tuple(name for name in names if name not in known)[:MOST_OFFERED]


def make_menu(survey: Survey, root: str) -> tuple[Finding, ...]:
    """The findings of a menu at that root.

    Raises:
        UsageError: there is no such folder, nothing is in it, or it is a menu already.
    """
    volume, _, path = root.strip().partition(":")
    path = path.strip("/")
    folder = survey.reading.places.find(volume, path)
    if folder is None:
        raise UsageError(f"there is no folder {shown(root)}: give it as VOLUME:PATH")
    if any(str(line.value) == f"{volume}:{path}" for one in survey.findings for line in one.lines):
        raise UsageError(f"{shown(root)} is a menu already")
    menu_id = _free_id(survey, path or volume)
    kind, match = _content(survey.reading.places, folder)
    lines = [
        make_line("id", menu_id, "what to call this menu"),
        make_line("root", f"{volume}:{folder.path}", "named by hand"),
    ]
    if kind == "files":
        lines.append(make_line("entries", "files", "it holds more files than folders"))
        lines.append(make_line("match", list(match), "the suffixes of what lies there"))
    order = make_line("order", "bytes", "the commonest; the card does not show it")
    others = tuple(f'order = "{one}"' for one in ("letters", "natural", "letters-up", "directory"))
    place = ("menus", menu_id)
    seen = tuple(Evidence(VolumePath(volume, folder.child(name)), None, name) for name in _names(folder)[:3])
    because = "Named by hand: nothing else on the card speaks of what lies there."
    return (
        Finding(f"menus.{menu_id}", place, tuple(lines), because, 0.9, seen),
        Finding(f"menus.{menu_id}.order", place, (order,), "How the device sorts it.", 0.3, (), others),
    )


def with_added(findings: Sequence[Finding], added: Sequence[Finding]) -> tuple[Finding, ...]:
    """The findings with those of menus named by hand, in front of what stands behind the menus."""
    at = next(
        (n for n, one in enumerate(findings) if one.table[:1] and one.table[0] in _BEFORE), len(findings)
    )
    return (*findings[:at], *added, *findings[at:])


def _free_id(survey: Survey, path: str) -> str:
    plain = _NO_ID.sub("-", path.rpartition("/")[2]).strip("-") or "menu"
    taken = {one.table[1] for one in survey.findings if one.table[:1] == ("menus",)}
    menu_id, number = plain, 2
    while menu_id in taken:
        menu_id, number = f"{plain}-{number}", number + 1
    return menu_id


def _content(places: Places, folder: Folder) -> tuple[str, tuple[str, ...]]:
    """Whether its entries are folders or files, and the suffixes of the files."""
    files = list(places.children(folder.number, folders=False))
    folders = list(places.children(folder.number, folders=True))
    if not files and not folders:
        raise UsageError(f"nothing lies in {folder.volume}:{shown(folder.path)}")
    if len(folders) >= len(files):
        return "folders", ()
    return "files", tuple(dict.fromkeys(_globs(files)))


def _globs(files: Sequence[str]) -> Iterator[str]:
    for name in files:
        suffix = suffix_of(name)
        yield f"*.{suffix}" if suffix else "*"


def _names(folder: Folder) -> list[str]:
    return sort_names([name for name, _ in folder.listing if not name.startswith(".")], "bytes")
