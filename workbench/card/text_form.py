"""What a text looks like where a rule points: `{entry}`, `{stem}` or `{path}` with literal text around it."""

from __future__ import annotations

import re
from functools import lru_cache

from workbench.card.profile import NamesRule
from workbench.late_pattern import late_pattern
from workbench.manifests.selector import Token
from workbench.typed import Literal
from workbench.values import dataclass

Wanted = Literal["entry", "stem", "path"]

_PLACEHOLDER = late_pattern(r"\{(entry|stem|path|parent)\}")


@dataclass(frozen=True, slots=True)
class Fit:
    """Where the wanted part stands in a text that has the form."""

    start: int
    end: int
    parent: str | None
    """What `{parent}` stood for, if the form holds it."""


@dataclass(frozen=True, slots=True)
class TextForm:
    """One form, ready to match."""

    wanted: Wanted
    pattern: re.Pattern[str] | None
    """None: the whole text is the wanted part."""

    def match(self, text: str) -> Fit | None:
        """Where the entry or path stands in the text; None where the text does not have this form."""
        if self.pattern is None:
            return Fit(0, len(text), None) if text else None
        found = self.pattern.fullmatch(text)
        if found is None:
            return None
        return Fit(*found.span("wanted"), found.groupdict().get("parent"))


_WHOLE: dict[str, TextForm] = {
    "{entry}": TextForm("entry", None),
    "{stem}": TextForm("stem", None),
    "{path}": TextForm("path", None),
}
"""Forms without literal text, which most are."""


@lru_cache(maxsize=512)
def read_form(form: str, rule: NamesRule) -> TextForm:
    """The form that a profile writes as `house/{entry}_s.png`."""
    if form in _WHOLE:
        return _WHOLE[form]
    wanted: Wanted = "entry"
    pieces: list[str] = []
    for number, piece in enumerate(_PLACEHOLDER.split(form)):
        if number % 2 == 0:
            pieces.append(re.escape(piece))
        elif piece == "parent":
            pieces.append("(?P<parent>[^/]+)")
        else:
            wanted = piece  # type: ignore[assignment]
            pieces.append("(?P<wanted>.+)")
    flags = re.DOTALL | (re.IGNORECASE if rule == "fat" else 0)
    return TextForm(wanted, re.compile("".join(pieces), flags))


def key_form(token: Token, rule: NamesRule) -> TextForm:
    """The form of a key under a selector whose last token is `{entry}` or `{stem}`, affixes and all."""
    return read_form(f"{token.before}{{{token.name}}}{token.after}", rule)
