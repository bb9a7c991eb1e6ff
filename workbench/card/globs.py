"""Matches the profile's patterns against paths. `**` stands for any folders, `*` and `?` stay within a name,
`{name}` binds within a component. Every pattern is translated once.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from functools import lru_cache
from types import MappingProxyType

from workbench.late_pattern import late_pattern
from workbench.values import dataclass

_SPECIAL = late_pattern(r"(\{[a-z_]+\}|\*+|\?|\[[^\]/]+\])")
_NOTHING: Mapping[str, str] = MappingProxyType({})
_ANY_FOLDERS = "(?:[^/]+/)*"


@dataclass(frozen=True, slots=True)
class Glob:
    """One translated pattern, in two parts: the folder, and the name in it."""

    prefix: str
    """The folders before the first special part, each with its slash: whatever matches starts so."""
    is_plain: bool
    """Whether the folder is `prefix` and nothing else."""
    folder: re.Pattern[str]
    """Matches the folder's path with a slash at its end (`""` for the root)."""
    name: re.Pattern[str]
    fold: bool
    """Case does not count; `prefix` is in lower case then."""

    def match_folder(self, path: str) -> Mapping[str, str] | None:
        """The bindings under which a folder (no slash at its end) fits, or None."""
        slashed = f"{path}/" if path else ""
        if not (slashed.lower() if self.fold else slashed).startswith(self.prefix):
            return None
        found = self.folder.fullmatch(slashed)
        return None if found is None else found.groupdict()

    def match_name(self, name: str, bindings: Mapping[str, str] = _NOTHING) -> Mapping[str, str] | None:
        """The bindings under which a name in such a folder fits as well, or None."""
        found = self.name.fullmatch(name)
        if found is None:
            return None
        both = found.groupdict()
        if not bindings:
            return both
        if any(bindings.get(key, value) != value for key, value in both.items()):
            return None
        return {**bindings, **both}

    def match(self, path: str) -> Mapping[str, str] | None:
        """The bindings under which a whole path fits, or None."""
        folder, _, name = path.rpartition("/")
        bindings = self.match_folder(folder)
        return None if bindings is None else self.match_name(name, bindings)


def translate(pattern: str, *, fold: bool, fixed: Mapping[str, str] = _NOTHING) -> Glob:
    """Translate a path pattern.

    Args:
        fold: case does not count.
        fixed: what placeholders stand for, where that is known by now.
    """
    return _translate(pattern, fold, tuple(sorted(fixed.items())))


@lru_cache(maxsize=4096)
def _translate(pattern: str, fold: bool, fixed: tuple[tuple[str, str], ...]) -> Glob:
    values = dict(fixed)
    parts = [_split(part, values) for part in pattern.split("/")]
    if parts[-1] == [("**", True)]:
        parts.append([("*", True)])
    plain: list[str] = []
    for part in parts[:-1]:
        if any(is_special for _, is_special in part):
            break
        plain.append("".join(text for text, _ in part) + "/")
    flags = re.DOTALL | (re.IGNORECASE if fold else 0)
    seen: set[str] = set()
    prefix = "".join(plain)
    return Glob(
        prefix=prefix.lower() if fold else prefix,
        is_plain=len(plain) == len(parts) - 1,
        folder=re.compile("".join(_folder(part, seen) for part in parts[:-1]), flags),
        name=re.compile(_component(parts[-1], set()), flags),
        fold=fold,
    )


def _split(part: str, fixed: Mapping[str, str]) -> list[tuple[str, bool]]:
    """The pieces of a component, each with whether it is special; known placeholders are filled in."""
    pieces = [piece for piece in _SPECIAL.split(part) if piece]
    return [
        (fixed[piece[1:-1]], False)
        if piece[1:-1] in fixed and piece[0] == "{"
        else (piece, _SPECIAL.fullmatch(piece) is not None)
        for piece in pieces
    ]


def _folder(part: list[tuple[str, bool]], seen: set[str]) -> str:
    return _ANY_FOLDERS if part == [("**", True)] else _component(part, seen) + "/"


def _component(part: list[tuple[str, bool]], seen: set[str]) -> str:
    """A regular expression for one component."""
    return "".join(_special(text, seen) if is_special else re.escape(text) for text, is_special in part)


def _special(piece: str, seen: set[str]) -> str:
    if piece[0] == "{":
        name = piece[1:-1]
        if name in seen:
            return f"(?P={name})"
        seen.add(name)
        return f"(?P<{name}>[^/]+)"
    if piece[0] == "[":
        inner = piece[1:-1].replace("\\", "\\\\").replace("[", "\\[")
        return f"[^{inner[1:]}]" if inner[0] == "!" else f"[{inner}]"
    return "[^/]" if piece == "?" else "[^/]*"


def matches_any(name: str, patterns: Iterable[str], *, fold: bool) -> bool:
    """Whether a name fits one of these globs."""
    return any(translate(pattern, fold=fold).name.fullmatch(name) for pattern in patterns)
