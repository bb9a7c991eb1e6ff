"""Which entry a text names, by the device's rule for names.

Spelled exactly so; failing that equal by case (`fat`); failing that equal after NFC. Where the first of
these that fits finds more than one entry, all of them are given back: the caller must not guess.
"""

from __future__ import annotations

from collections.abc import Iterable

from workbench.card.names import fold_name
from workbench.card.profile import NamesRule
from workbench.typed import Generic, TypeVar

T = TypeVar("T")


class Roster(Generic[T]):
    """Names and what bears them."""

    def __init__(self, named: Iterable[tuple[str, T]], rule: NamesRule) -> None:
        self._rule = rule
        self._exact: dict[str, list[T]] = {}
        for name, bearer in named:
            self._exact.setdefault(name, []).append(bearer)
        self._by_case: dict[str, list[T]] | None = None
        self._by_form: dict[str, list[T]] = {}

    def find(self, text: str) -> list[T]:
        """Who bears that name: nobody, one, or the several that could be meant."""
        found = self._exact.get(text)
        if found is not None or self._rule == "exact" or not text:
            return found or []
        if self._by_case is None:
            self._by_case = self._fold()
        return self._by_case.get(fold_case(text)) or self._by_form.get(fold_name(text, "fat"), [])

    def _fold(self) -> dict[str, list[T]]:
        by_case: dict[str, list[T]] = {}
        for name, bearers in self._exact.items():
            by_case.setdefault(fold_case(name), []).extend(bearers)
            self._by_form.setdefault(fold_name(name, "fat"), []).extend(bearers)
        return by_case


def fold_case(name: str) -> str:
    """Upper case, character by character and only up to U+FFFF, as FAT and exFAT do (exFAT 7.2.5.1)."""
    if name.isascii():
        return name.upper()
    return "".join(upper if len(upper := char.upper()) == 1 and char <= "\uffff" else char for char in name)


def is_same_name(one: str, other: str, rule: NamesRule) -> bool:
    """Whether two names are one to the device."""
    return one == other or (rule == "fat" and fold_name(one, rule) == fold_name(other, rule))
