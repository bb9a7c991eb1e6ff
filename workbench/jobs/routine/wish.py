"""What can be wished in a routine: a word for what to do, and the words that it takes.

Wishes are states and not strokes: one that a card fulfils already comes to nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from workbench.card.profile_table import Table
from workbench.values import dataclass

TEXT, TEXTS, TRUE, ANY, SIZE = "text", "texts", "true", "any", "size"
PICTURE_KIND = {"container": TEXT, "bits": SIZE, "masks": TEXT, "rows": TEXT, "gzip": TRUE}

KINDS: Mapping[str, tuple[Mapping[str, str], Mapping[str, str]]] = {
    "rename": ({"entry": TEXT, "to": TEXT}, {"menu": TEXT}),
    "arrange": (
        {},
        {
            "menu": TEXT,
            "carried": TEXTS,
            "entries": TEXTS,
            "first": TEXTS,
            "last": TEXTS,
            "order": TEXTS,
            "number": TRUE,
            "strip": TRUE,
            "style": TEXT,
            "separator": TEXT,
        },
    ),
    "label": ({"entry": TEXT, "text": TEXT}, {"menu": TEXT}),
    "icon": (
        {"entry": TEXT, "picture": TEXT},
        {"menu": TEXT, "kind": TEXT, "fit": TEXT, "background": TEXT},
    ),
    "add": ({"entry": TEXT}, {"menu": TEXT, "label": TEXT, "like": TEXT}),
    "copy": ({"entry": TEXT, "to": TEXT}, {"menu": TEXT, "label": TEXT, "companions": TRUE}),
    "hide": ({"entry": TEXT}, {"menu": TEXT}),
    "show": ({"entry": TEXT}, {"menu": TEXT}),
    "remove": ({"entry": TEXT}, {"menu": TEXT}),
    "splash": (
        {},
        {"picture": TEXT, "blank": TRUE, "moments": TEXTS, "fit": TEXT, "background": TEXT, "dither": TEXT}
        | PICTURE_KIND,
    ),
    "set": ({"file": TEXT, "at": TEXT, "value": ANY}, {}),
    "insert": ({"file": TEXT, "at": TEXT, "value": ANY}, {}),
    "delete": ({"file": TEXT, "at": TEXT}, {}),
    "mend": ({"file": TEXT}, {}),
    "pack": ({"file": TEXT}, {}),
}
"""By what is to be done: the words that it needs, and those that it may have."""

_WORDS = {
    "fit": ("contain", "cover", "stretch", "centre"),
    "dither": ("none", "ordered", "diffuse"),
    "style": ("shortest", "numbers", "letters"),
    "container": ("bmp", "png", "jpeg", "raw"),
    "rows": ("bottom-up", "top-down"),
}
_ARRANGE = ("first", "last", "order", "number", "strip")


@dataclass(frozen=True, slots=True)
class Wish:
    """One wish of a routine."""

    do: str
    values: Mapping[str, Any]
    line: int = 0
    """Where it stands in the routine's file; 0 where it came from a ledger."""

    @property
    def title(self) -> str:
        """`rename Boats`: to be shown through `shown`."""
        about = self.values.get("entry") or self.values.get("file") or self.values.get("picture") or ""
        return f"{self.do} {about}".strip()


def read_wish(table: Table, line: int) -> Wish:
    """One table of a routine, checked.

    Raises:
        ProfileError: what is wrong, with its line and what is allowed.
    """
    do = table.word("do", KINDS)
    needs, may = KINDS[do]
    table.only("do", *needs, *may)
    values = {key: _read(table, key, kind) for key, kind in needs.items()}
    values |= {key: _read(table, key, kind) for key, kind in may.items() if table.has(key)}
    if do == "arrange" and sum(key in values for key in _ARRANGE) != 1:
        table.refuse(
            "do", "is an arrange without one wish", f"exactly one of {', '.join(_ARRANGE)} is needed"
        )
    if do == "splash" and ("picture" in values) == ("blank" in values):
        table.refuse("do", "is a splash without one wish", "either picture or blank = true is needed")
    return Wish(do, values, line)


def _read(table: Table, key: str, kind: str) -> Any:
    if key in _WORDS:
        return table.word(key, _WORDS[key])
    if kind == TEXT:
        return table.text(key)
    if kind == TEXTS:
        return list(table.texts(key))
    if kind == SIZE:
        return table.whole(key, 1, 64)
    if kind == TRUE:
        return table.flag(key, True)
    if not table.has(key):
        table.refuse(key, "is missing", "a value is needed")
    return table.values[key]
