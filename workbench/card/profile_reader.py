"""Makes a `Profile` from a TOML file, or says exactly what is wrong with it.

The schema is a contract with people who write profiles by hand: a key that is not in it is an error with
the closest match, never ignored.
"""

from __future__ import annotations

import os
import re
from collections.abc import Collection, Mapping
from functools import partial
from pathlib import Path

from workbench.card.menu_rule_reader import read_menu_rules
from workbench.card.patterns import check_path, read_pattern, read_patterns
from workbench.card.profile import (
    DeviceRule,
    Moment,
    NamesRule,
    Origin,
    Panel,
    Profile,
    SplashRule,
    VolumeRule,
)
from workbench.card.profile_table import Table
from workbench.errors import ProfileError
from workbench.late_pattern import late_pattern
from workbench.manifests.toml_reader import read_toml
from workbench.shown import shown
from workbench.typed import TYPE_CHECKING, cast, get_args

if TYPE_CHECKING:
    from workbench.card.animation_rule import AnimationRule

SCHEMA = 1
MAX_BYTES = 1024 * 1024
MOMENTS: tuple[str, ...] = get_args(Moment)

_ROLE = late_pattern(r"[A-Za-z0-9_-]+")
_KEYS = ("schema", "name", "panel", "volumes", "variables", "menus", "splash", "animation", "device")


def read_profile(path: Path, origin: Origin = "given") -> Profile:
    """The profile in a file.

    Raises:
        ProfileError: with the file, and where it can be said the line.
    """
    return parse_profile(_read_file(path), path, origin)


def parse_profile(raw: bytes, path: Path, origin: Origin = "given") -> Profile:
    """The profile in these bytes; `path` is what messages call it."""
    table = _open_table(raw, os.fspath(path)).only(*_KEYS)
    table.whole("schema", SCHEMA, SCHEMA)
    volumes = _read_volumes(table.table("volumes"))
    menus = read_menu_rules(table, volumes)
    return Profile(
        name=table.text("name"),
        source=path,
        panel=_read_panel(table),
        volumes=volumes,
        variables=_read_variables(table.table("variables")),
        menus=menus,
        splashes=_read_splashes(table, volumes),
        animation=_read_animation(table, volumes, [menu.id for menu in menus]),
        device=_read_device(table.table("device"), volumes),
        origin=origin,
        sha256=_digest(raw) if origin == "card" else "",
        trusted=origin != "card",
    )


def _digest(raw: bytes) -> str:
    import hashlib

    return hashlib.sha256(raw).hexdigest()


def _read_animation(table: Table, volumes: Collection[str], menus: Collection[str]) -> AnimationRule | None:
    if not table.has("animation"):
        return None
    from workbench.card.animation_reader import read_animation

    return read_animation(table.table("animation"), volumes, menus)


def _read_file(path: Path) -> bytes:
    try:
        with path.open("rb") as file:
            raw = file.read(MAX_BYTES + 1)
    except OSError as error:
        reason = error.strerror or "the system refused it"
        raise ProfileError(
            f"the profile {shown(str(path))} cannot be read: {reason}", path=os.fspath(path)
        ) from error
    if len(raw) > MAX_BYTES:
        raise ProfileError(f"{shown(str(path))} is over 1 MiB: that is no profile", path=os.fspath(path))
    return raw


def _open_table(raw: bytes, file: str) -> Table:
    try:
        text = raw.decode()
        values = read_toml(text)
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise ProfileError(
            f"{shown(file)}, line {line}: bytes that are no UTF-8; a profile is UTF-8 text",
            path=file,
            line=line,
        ) from error
    except (ValueError, RecursionError) as error:
        place = re.search(r"at line (\d+), column (\d+)", str(error))
        line = int(place[1]) if place else text.count("\n") + 1
        reason = re.sub(r" \(at .*\)$", "", str(error))
        raise ProfileError(
            f"{shown(file)}, line {line}: not well-formed TOML: {shown(reason)}", path=file, line=line
        ) from error
    return Table(file, partial(_find_lines, text), (), values)


def _find_lines(text: str) -> Mapping[tuple[str | int, ...], int]:
    from workbench.card.toml_lines import find_key_lines

    return find_key_lines(text)


def _read_panel(table: Table) -> Panel:
    if not table.has("panel"):
        table.refuse("panel", "is missing", "a table [panel] with width and height has to be given")
    panel = table.table("panel").only("width", "height", "rotate")
    return Panel(panel.whole("width", 1, 16384), panel.whole("height", 1, 16384), panel.turn("rotate"))


def _read_volumes(table: Table) -> dict[str, VolumeRule]:
    if not table.values:
        table.refuse(None, "is missing", "at least one table [volumes.ROLE] has to be given")
    return {role: _read_volume(table, role) for role in table.values}


def _read_volume(parent: Table, role: str) -> VolumeRule:
    if not _ROLE.fullmatch(role):
        parent.refuse(role, "is no role", "letters, digits, '-' and '_' are allowed")
    table = parent.table(role).only("identify", "device_path", "names", "read_only")
    identify = table.texts("identify")
    if not identify:
        table.refuse(
            "identify", "is empty", "at least one path has to be given, a folder with a trailing '/'"
        )
    for path in identify:
        if not check_path(table, "identify", path):
            table.refuse("identify", "holds an empty path", "paths below the volume's root are allowed")
    names = cast(NamesRule, table.word("names", ("fat", "exact"), "fat"))
    read_only = table.word("read_only", ("on purpose", "no"), "no")
    return VolumeRule(role, identify, _read_device_path(table), names, read_only == "on purpose")


def _read_device_path(table: Table) -> str | None:
    path = table.text_or_none("device_path")
    if path is None:
        return None
    parts = path.split("/")
    if not path.startswith("/") or ".." in parts or "." in parts or "\\" in path:
        table.refuse("device_path", f"is {path!r}", "an absolute path of the device without '..' is allowed")
    return "/" + "/".join(part for part in parts if part)


def _read_variables(table: Table) -> dict[str, str]:
    return {name: table.text(name, "") for name in table.values}


def _read_splashes(table: Table, volumes: Collection[str]) -> tuple[SplashRule, ...]:
    rules: dict[str, SplashRule] = {}
    for one in table.tables("splash"):
        rule = _read_splash(one, volumes)
        if rule.moment in rules:
            one.refuse("moment", f"is {rule.moment!r} a second time", "each moment may be given once")
        rules[rule.moment] = rule
    return tuple(rules.values())


def _read_splash(table: Table, volumes: Collection[str]) -> SplashRule:
    table.only("moment", "file", "kind", "rotate", "max_bytes", "max_unpacked")
    file = read_pattern(table, "file", volumes, ())
    if not file.is_plain or not file.path:
        table.refuse("file", f"is {str(file)!r}", "one plain file is allowed, without '*', '?' or '['")
    return SplashRule(
        moment=table.word("moment", MOMENTS, "start"),
        file=file,
        kind=_read_kind(table.table("kind")),
        rotate=table.turn("rotate") if table.has("rotate") else None,
        max_bytes=table.whole_or_none("max_bytes", 1, 1 << 40),
        max_unpacked=table.whole_or_none("max_unpacked", 1, 1 << 40),
    )


def _read_kind(table: Table) -> dict[str, str | int | bool]:
    table.only("container", "bits", "masks", "rows", "gzip", "width", "height")
    kind: dict[str, str | int | bool] = {}
    for key, words in _KIND_WORDS.items():
        if table.has(key):
            kind[key] = table.word(key, words)
    for key in ("width", "height"):
        if table.has(key):
            kind[key] = table.whole(key, 1, 16384)
    if table.has("bits"):
        kind["bits"] = table.whole("bits", 8, 32)
        if kind["bits"] not in (8, 16, 24, 32):
            table.refuse("bits", f"is {kind['bits']}", "allowed are 8, 16, 24 and 32")
    if table.has("gzip"):
        kind["gzip"] = table.flag("gzip", False)
    return kind


_KIND_WORDS = {
    "container": ("bmp", "png", "jpeg", "raw"),
    "masks": ("565", "555", "8888", "565-swapped", "555-swapped", "8888-swapped"),
    "rows": ("bottom-up", "top-down"),
}


def _read_device(table: Table, volumes: Collection[str]) -> DeviceRule:
    table.only("stop", "start", "derived", "rewritten")
    return DeviceRule(
        stop=table.text_or_none("stop"),
        start=table.text_or_none("start"),
        derived=read_patterns(table, "derived", volumes, ()),
        rewritten=read_patterns(table, "rewritten", volumes, ()),
    )
