"""A routine as a file: a TOML list of wishes that a person can read, edit and hand on."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from workbench.card.profile_table import Table
from workbench.card.toml_lines import find_key_lines
from workbench.errors import ProfileError
from workbench.jobs.routine.wish import KINDS, Wish, read_wish
from workbench.manifests.toml_reader import read_toml
from workbench.shown import shown
from workbench.values import dataclass

SCHEMA = 1
_LARGEST = 1024 * 1024
_HOST_FILES = {"icon": "picture", "splash": "picture", "pack": "file"}
"""Which word of a wish names a file of the user's computer."""


@dataclass(frozen=True, slots=True)
class Routine:
    """Wishes, in the order in which they are carried out."""

    name: str
    wishes: tuple[Wish, ...]
    folder: Path
    """Relative paths in it start here."""

    def host_file(self, wish: Wish) -> Path:
        """The file of the user's computer that a wish names."""
        return self.folder / Path(str(wish.values[_HOST_FILES[wish.do]])).expanduser()


def read_routine(path: Path) -> Routine:
    """The routine in a file.

    Raises:
        ProfileError: it cannot be read or is wrong somewhere, with the line and what is allowed.
    """
    try:
        with path.open("rb") as file:
            raw = file.read(_LARGEST + 1)
        text = raw.decode("utf-8")
        found = read_toml(text)
    except OSError as error:
        raise ProfileError(
            f"the routine cannot be read ({error.strerror}); nothing was changed", path=str(path)
        ) from error
    except ValueError as error:
        raise ProfileError(f"the routine is no TOML: {error}; nothing was changed", path=str(path)) from error
    if len(raw) > _LARGEST:
        raise ProfileError("the routine is larger than a megabyte; nothing was changed", path=str(path))
    top = Table(str(path), lambda: find_key_lines(text), (), found)
    top.only("schema", "name", "wishes")
    top.whole("schema", SCHEMA, SCHEMA)
    lines = find_key_lines(text)
    wishes = tuple(
        read_wish(table, lines.get(("wishes", number), 0))
        for number, table in enumerate(top.tables("wishes"))
    )
    if not wishes:
        top.refuse("wishes", "are missing", "one or more tables [[wishes]] are needed")
    return Routine(top.text("name", path.stem), wishes, path.resolve().parent)


def write_routine(name: str, wishes: Iterable[Wish], left: Iterable[str], folder: Path) -> str:
    """The routine as TOML text; `left` are sentences about what could not be recorded.

    Files of the user's computer that lie below `folder` are named from there.
    """
    import tomlkit

    document = tomlkit.document()
    document.add(
        tomlkit.comment("A routine: wishes, carried out in this order on each card that it is run on.")
    )
    document.add(tomlkit.comment("A wish that a card fulfils already comes to nothing."))
    for sentence in left:
        document.add(tomlkit.comment(f"left out: {shown(sentence)}"))
    document["schema"] = SCHEMA
    document["name"] = name
    tables = tomlkit.aot()
    for wish in wishes:
        table = tomlkit.table()
        for key, value in {"do": wish.do, **_near(wish, folder)}.items():
            table[key] = value
        tables.append(table)
    document["wishes"] = tables
    return tomlkit.dumps(document)


def _near(wish: Wish, folder: Path) -> Mapping[str, Any]:
    key = _HOST_FILES.get(wish.do)
    if key is None or key not in wish.values:
        return wish.values
    path = Path(str(wish.values[key]))
    if path.is_relative_to(folder):
        path = path.relative_to(folder)
    return {**wish.values, key: str(path)}


def wish_from_ledger(found: Mapping[str, Any]) -> Wish | None:
    """A wish as plain data in a ledger; None for one that this version does not know."""
    values = dict(found)
    do = str(values.pop("do", ""))
    if do not in KINDS:
        return None
    needs, may = KINDS[do]
    known = {**needs, **may}
    if any(key not in values for key in needs) or any(key not in known for key in values):
        return None
    return Wish(do, values)
