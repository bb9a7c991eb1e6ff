"""One selector language for all formats: `/things/{entry}/says`.

Tokens are JSON Pointer tokens (RFC 6901, `~0` and `~1`). A token `{name}` binds one token; a literal
part may stand around it (`{entry}_s`). XML is read as element → list → `@attr` or `#text`; INI as
`/section/key`; key=value and shell assignments as `/NAME`; shell words as `/#word`; lines as `/#line`.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

from workbench.errors import ManifestError
from workbench.late_pattern import late_pattern
from workbench.values import dataclass

_PLACEHOLDER = late_pattern(r"\{([a-z_]+)\}")


def split_pointer(pointer: str) -> tuple[str, ...]:
    """The tokens of a JSON Pointer, unescaped.

    Raises:
        ManifestError: it is neither empty nor starts with `/`, or holds a `~` that is no escape.
    """
    if pointer == "":
        return ()
    if not pointer.startswith("/"):
        raise ManifestError(f"the pointer {pointer!r} must be empty or start with '/'")
    if "~" not in pointer:
        return tuple(pointer[1:].split("/"))
    if "~" in pointer and re.search(r"~(?![01])", pointer):
        raise ManifestError(f"the pointer {pointer!r} holds a '~' that is neither ~0 nor ~1")
    return tuple(token.replace("~1", "/").replace("~0", "~") for token in pointer[1:].split("/"))


def escape_token(token: str) -> str:
    """One JSON Pointer token as it is written."""
    return token.replace("~", "~0").replace("/", "~1") if "~" in token or "/" in token else token


def join_pointer(tokens: tuple[str, ...] | list[str]) -> str:
    """The JSON Pointer of these tokens."""
    plain = "/" + "/".join(tokens) if tokens else ""
    if "~" not in plain and plain.count("/") == len(tokens):
        return plain
    return "".join("/" + escape_token(token) for token in tokens)


@dataclass(frozen=True, slots=True)
class Token:
    """One step of a selector: a literal, or a placeholder with literal affixes."""

    before: str
    name: str | None
    """The placeholder's name; None for a literal (then `before` is the whole)."""
    after: str = ""

    def match(self, text: str) -> dict[str, str] | None:
        """What the placeholder stands for, or None where the text does not fit."""
        if self.name is None:
            return {} if text == self.before else None
        end = len(text) - len(self.after)
        if end <= len(self.before) or not text.startswith(self.before) or not text.endswith(self.after):
            return None
        return {self.name: text[len(self.before) : end]}

    def bind(self, text: str, bindings: dict[str, str]) -> bool:
        """Whether the text fits, and agrees with what its placeholder stood for so far; that is put down."""
        name, before, after = self.name, self.before, self.after
        if name is None:
            return text == before
        if before or after:
            end = len(text) - len(after)
            if end <= len(before) or not text.startswith(before) or not text.endswith(after):
                return False
            text = text[len(before) : end]
        return text != "" and bindings.setdefault(name, text) == text


def bind(token: Token, text: str, bindings: dict[str, str]) -> dict[str, str] | None:
    """The bindings, and what the token's placeholder stands for there; None where the text does not fit."""
    if token.name is None:
        return bindings if text == token.before else None
    bound = dict(bindings)
    return bound if token.bind(text, bound) else None


@dataclass(frozen=True, slots=True)
class Selector:
    """A parsed selector."""

    source: str
    tokens: tuple[Token, ...]

    @classmethod
    def parse(cls, text: str) -> Selector:
        return cls(text, tuple(map(_parse_token, split_pointer(text))))

    @property
    def binds_last(self) -> bool:
        """Whether the last token is a placeholder: then it can name a key."""
        return bool(self.tokens) and self.tokens[-1].name is not None

    def match(self, path: tuple[str, ...]) -> dict[str, str] | None:
        """The bindings under which this path fits, or None. One name means one text throughout."""
        if len(path) != len(self.tokens):
            return None
        bindings: dict[str, str] = {}
        for token, text in zip(self.tokens, path, strict=True):
            if not token.bind(text, bindings):
                return None
        return bindings

    def fill(self, bindings: Mapping[str, str]) -> str | None:
        """The JSON Pointer with every placeholder filled in, or None where one has no binding."""
        parts: list[str] = []
        for token in self.tokens:
            if token.name is None:
                parts.append(token.before)
            elif token.name in bindings:
                parts.append(token.before + bindings[token.name] + token.after)
            else:
                return None
        return join_pointer(parts)


def _parse_token(text: str) -> Token:
    found = list(_PLACEHOLDER.finditer(text)) if "{" in text else []
    if not found:
        return Token(text, None)
    if len(found) > 1:
        raise ManifestError(f"the selector token {text!r} holds more than one placeholder")
    return Token(text[: found[0].start()], found[0][1], text[found[0].end() :])
