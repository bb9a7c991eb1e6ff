"""Typed reading of a profile's tables. Every complaint names the file, the line, the key, what was found
and what is allowed, with the closest match where a word is nearly right.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

from workbench.errors import ProfileError
from workbench.shown import shown
from workbench.typed import TYPE_CHECKING, Any, NoReturn
from workbench.values import dataclass

if TYPE_CHECKING:
    from workbench.card.toml_lines import KeyPath


@dataclass(frozen=True, slots=True)
class Table:
    """One table of a profile, checked for unknown keys before any value is read."""

    file: str
    find_lines: Callable[[], Mapping[KeyPath, int]]
    """Called for a complaint only: a sound profile never needs its lines."""
    path: KeyPath
    values: Mapping[str, Any]

    def only(self, *allowed: str) -> Table:
        """This table, if it has no key but these."""
        for key in self.values:
            if key not in allowed:
                self.refuse(
                    key,
                    "is not a key of the schema",
                    f"allowed here are {_join(allowed)}",
                    closest(key, allowed),
                )
        return self

    def has(self, key: str) -> bool:
        return key in self.values

    def text(self, key: str, default: str | None = None) -> str:
        """A string; an empty one only where the default is empty too."""
        value = self._get(key, default)
        if not isinstance(value, str):
            self.refuse(key, f"is {describe(value)}", "a text in quotes is allowed")
        if not value and default != "":
            self.refuse(key, "is empty", "a text is needed")
        return value

    def text_or_none(self, key: str) -> str | None:
        return self.text(key) if key in self.values else None

    def word(self, key: str, allowed: Iterable[str], default: str | None = None) -> str:
        """One of a few words."""
        words = tuple(allowed)
        value = self.text(key, default)
        if value not in words:
            self.refuse(key, f"is {shown(value)!r}", f"allowed are {_join(words)}", closest(value, words))
        return value

    def whole(self, key: str, least: int, most: int, default: int | None = None) -> int:
        """A whole number within bounds."""
        value = self._get(key, default)
        if not isinstance(value, int) or isinstance(value, bool) or not least <= value <= most:
            allowed = f"{least} is" if least == most else f"a whole number from {least} to {most} is"
            self.refuse(key, f"is {describe(value)}", f"{allowed} allowed")
        return value

    def whole_or_none(self, key: str, least: int, most: int) -> int | None:
        return self.whole(key, least, most) if key in self.values else None

    def number(self, key: str, default: float) -> float:
        """A number that is not negative."""
        value = self._get(key, default)
        if not isinstance(value, int | float) or isinstance(value, bool) or not 0 <= value < float("inf"):
            self.refuse(key, f"is {describe(value)}", "a number from 0 up is allowed")
        return float(value)

    def turn(self, key: str) -> int:
        """A clockwise turn of a picture."""
        value = self._get(key, 0)
        if value not in (0, 90, 180, 270) or isinstance(value, bool):
            self.refuse(key, f"is {describe(value)}", "allowed are 0, 90, 180 and 270")
        return int(value)

    def flag(self, key: str, default: bool) -> bool:
        value = self._get(key, default)
        if not isinstance(value, bool):
            self.refuse(key, f"is {describe(value)}", "true or false is allowed")
        return value

    def texts(self, key: str, default: tuple[str, ...] | None = None) -> tuple[str, ...]:
        """A list of strings, none empty."""
        value = self._get(key, default)
        if not isinstance(value, list | tuple) or not all(isinstance(one, str) and one for one in value):
            self.refuse(key, f"is {describe(value)}", "a list of texts is allowed")
        return tuple(value)

    def table(self, key: str) -> Table:
        """A table below this one; an empty one where the key is missing."""
        value = self.values.get(key, {})
        if not isinstance(value, dict):
            self.refuse(key, f"is {describe(value)}", "a table is allowed")
        return Table(self.file, self.find_lines, (*self.path, key), value)

    def tables(self, key: str) -> tuple[Table, ...]:
        """An array of tables, in the order of the file."""
        value = self.values.get(key, [])
        if not isinstance(value, list) or not all(isinstance(one, dict) for one in value):
            self.refuse(
                key, f"is {describe(value)}", f"one or more tables [[{self.name_of(key)}]] are allowed"
            )
        return tuple(
            Table(self.file, self.find_lines, (*self.path, key, index), one)
            for index, one in enumerate(value)
        )

    def name_of(self, key: str | None = None) -> str:
        """The dotted name of a key, as a person would write it; an array's elements counted from 1."""
        name = ""
        for part in self.path if key is None else (*self.path, key):
            name += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if name else part
        return name

    def refuse(self, key: str | None, found: str, allowed: str, near: str | None = None) -> NoReturn:
        """Raise the complaint about a key, or about the table itself."""
        from workbench.card.toml_lines import line_of_key

        line = line_of_key(self.find_lines(), self.path if key is None else (*self.path, key))
        where = self.file if line is None else f"{self.file}, line {line}"
        hint = f" Did you mean {near!r}?" if near else ""
        raise ProfileError(
            f"{shown(where)}: {shown(self.name_of(key)) or 'the profile'} {found}; {allowed}.{hint}",
            path=self.file,
            line=line,
        )

    def _get(self, key: str, default: Any) -> Any:
        if key in self.values:
            return self.values[key]
        if default is None:
            self.refuse(key, "is missing", "it has to be given")
        return default


def describe(value: Any) -> str:
    """What was found, short enough for a sentence."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return "a table"
    text = shown(repr(value)) if isinstance(value, str | int | float | list | tuple) else type(value).__name__
    return text if len(text) <= 60 else f"{text[:57]}…"


def closest(word: str, words: Iterable[str]) -> str | None:
    """The allowed word that this one was probably meant to be."""
    import difflib

    near = difflib.get_close_matches(word.lower(), tuple(words), n=1, cutoff=0.6)
    return near[0] if near else None


def _join(words: Iterable[str]) -> str:
    return ", ".join(repr(word) for word in words) or "none"
