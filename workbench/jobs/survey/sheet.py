"""An existing profile laid out as findings, so that it can be looked through and edited like a surveyed one.

Edits go into the profile's own text: every comment and every line that nobody touched stays as it is.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from workbench.jobs.survey.findings import Finding, Line, Standing
from workbench.manifests.document import apply_edits
from workbench.manifests.selector import join_pointer
from workbench.values import dataclass, field, replace

_APART = ("order", "prefix", "label", "companions")
"""Lines of a menu that are findings of their own, as in a survey."""

Edited = tuple[Standing, Mapping[str, object]]


@dataclass(frozen=True, slots=True)
class Part:
    """A finding, and where its lines stand in the text."""

    finding: Finding
    pointer: tuple[str, ...]
    """The table that the lines stand in."""
    is_whole: bool
    """Whether dropping it takes the table away, and not just its lines."""
    is_there: bool = True
    """False: the file leaves it out; the line says what holds then."""


@dataclass(frozen=True, slots=True)
class Sheet:
    """A profile in parts. Never changed: an edit makes another."""

    raw: bytes = field(repr=False)
    source: Path
    parts: tuple[Part, ...] = field(repr=False)
    edits: Mapping[str, Edited] = field(default_factory=dict)

    @property
    def findings(self) -> tuple[Finding, ...]:
        """The parts as they stand now."""
        return tuple(self._edited(part.finding) for part in self.parts)

    def _edited(self, finding: Finding) -> Finding:
        standing, values = self.edits.get(finding.id, ("proposed", {}))
        lines = tuple(replace(line, value=values.get(line.key, line.value)) for line in finding.lines)
        known = {line.key for line in lines}
        lines += tuple(Line(key, value, "") for key, value in values.items() if key not in known)
        return replace(finding, standing=standing, lines=lines)


def read_sheet(raw: bytes, source: Path) -> Sheet:
    """The sheet of a profile's bytes.

    Raises:
        ProfileError: it is no valid profile.
    """
    from workbench.card.profile_reader import parse_profile
    from workbench.manifests.toml_reader import read_toml

    parse_profile(raw, source)
    return Sheet(raw, source, tuple(_parts(read_toml(raw.decode()))))


def drop_part(sheet: Sheet, finding: Finding) -> Sheet:
    """The sheet without a part."""
    values = sheet.edits.get(finding.id, ("proposed", {}))[1]
    return replace(sheet, edits={**sheet.edits, finding.id: ("dropped", values)})


def leave_part(sheet: Sheet, finding: Finding) -> Sheet:
    """The sheet with a part as the file has it."""
    return replace(sheet, edits={key: edit for key, edit in sheet.edits.items() if key != finding.id})


def amend_part(sheet: Sheet, finding: Finding, values: Mapping[str, object]) -> Sheet:
    """The sheet with other values in a part, under new lines where it has none for them."""
    before = sheet.edits.get(finding.id, ("proposed", {}))[1]
    return replace(sheet, edits={**sheet.edits, finding.id: ("corrected", {**before, **values})})


def sheet_text(sheet: Sheet) -> str:
    """The profile's text with the edits in it.

    Raises:
        ManifestError: the text is laid out so that a part cannot be edited safely.
    """
    raw = sheet.raw
    by_id = {part.finding.id: part for part in sheet.parts}
    for key, (standing, values) in sheet.edits.items():
        if standing == "corrected":
            raw = _put(raw, by_id[key], values)
    # From the last to the first, so that places in lists keep their numbers.
    for part in reversed(sheet.parts):
        if part.is_there and sheet.edits.get(part.finding.id, ("", {}))[0] == "dropped":
            raw = _take_out(raw, part)
    return raw.decode()


def _put(raw: bytes, part: Part, values: Mapping[str, object]) -> bytes:
    from workbench.manifests.opening import open_document

    for key, value in values.items():
        document = open_document(raw, "toml", "the profile")
        pointer = join_pointer([*part.pointer, key])
        is_there = part.is_there and any(line.key == key for line in part.finding.lines)
        raw = apply_edits(raw, (document.set if is_there else document.insert)(pointer, value))
    return raw


def _take_out(raw: bytes, part: Part) -> bytes:
    from workbench.manifests.opening import open_document

    if part.is_whole:
        document = open_document(raw, "toml", "the profile")
        return apply_edits(raw, document.delete(join_pointer(list(part.pointer))))
    for line in part.finding.lines:
        document = open_document(raw, "toml", "the profile")
        raw = apply_edits(raw, document.delete(join_pointer([*part.pointer, line.key])))
    return raw


# From a profile's data to parts


def _parts(data: Mapping[str, Any]) -> Iterator[Part]:
    plain = {key: value for key, value in data.items() if not isinstance(value, dict | list)}
    yield _part("profile", (), plain, (), is_whole=False)
    for name, table in data.items():
        if name == "menus":
            for number, menu in enumerate(table):
                yield from _menu_parts(menu, ("menus", str(number)))
        elif name == "splash":
            for number, splash in enumerate(table):
                yield _part(f"splash.{splash['moment']}", ("splash",), splash, ("splash", str(number)))
        elif name == "volumes":
            for role, volume in table.items():
                yield _part(f"volumes.{role}", ("volumes", role), volume, ("volumes", role))
        elif name == "variables":
            for key, value in table.items():
                yield _part(f"variables.{key}", (name,), {key: value}, (name,), is_whole=False)
        elif isinstance(table, dict):
            yield _part(name, (name,), table, (name,))


def _menu_parts(menu: Mapping[str, Any], pointer: tuple[str, ...]) -> Iterator[Part]:
    menu_id = menu["id"]
    table = ("menus", menu_id)
    own = {key: value for key, value in menu.items() if key not in (*_APART, "references", "pictures")}
    yield _part(f"menus.{menu_id}", table, own, pointer)
    for key in _APART:
        if key in menu:
            yield _part(f"menus.{menu_id}.{key}", table, {key: menu[key]}, pointer, is_whole=False)
        elif key == "order":
            unsaid = _part(f"menus.{menu_id}.{key}", table, {key: "bytes"}, pointer, is_whole=False)
            yield replace(unsaid, is_there=False)
    for kind in ("references", "pictures"):
        for number, rule in enumerate(menu.get(kind, ())):
            yield _part(
                f"menus.{menu_id}.{kind}.{number}", (*table, kind), rule, (*pointer, kind, str(number))
            )


def _part(
    part_id: str,
    table: tuple[str, ...],
    values: Mapping[str, Any],
    pointer: tuple[str, ...],
    *,
    is_whole: bool = True,
) -> Part:
    lines = tuple(Line(key, value, "") for key, value in values.items())
    return Part(Finding(part_id, table, lines, "", 1.0), pointer, is_whole)
