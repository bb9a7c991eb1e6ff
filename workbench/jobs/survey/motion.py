"""Finds numbered sequences of pictures: whether one is a boot animation is told in `animations`."""

from __future__ import annotations

import re
from collections import defaultdict

from workbench.jobs.survey.pictures import is_picture
from workbench.jobs.survey.places import Places
from workbench.values import dataclass

_NUMBERED = re.compile(r"(?P<before>.*?)(?P<number>[0-9]{1,6})(?P<after>[^0-9]*\.[A-Za-z0-9]+)")
_LEAST = 4


@dataclass(frozen=True, slots=True)
class Sequence:
    """Pictures in one folder that are numbered without a gap."""

    folder: int
    before: str
    after: str
    first: int
    pad: int
    """Digits that numbers are filled up to; 0 where they are not."""
    count: int

    @property
    def pattern(self) -> str:
        return f"{self.before}{{n}}{self.after}"

    def name(self, number: int) -> str:
        """The name of a frame."""
        return f"{self.before}{number:0{self.pad}d}{self.after}"


def find_sequences(places: Places) -> tuple[Sequence, ...]:
    """Every numbered sequence on the card."""
    found = []
    for folder in places.folders:
        names = [name for name, is_folder in folder.listing if not is_folder and is_picture(name)]
        if len(names) < _LEAST:
            continue
        numbers: dict[tuple[str, str], list[str]] = defaultdict(list)
        for name in names:
            match = _NUMBERED.fullmatch(name)
            if match is not None:
                numbers[match["before"], match["after"]].append(match["number"])
        for (before, after), digits in numbers.items():
            one = _make(folder.number, before, after, digits)
            if one is not None and 2 * len(digits) > len(names):
                found.append(one)
    return tuple(found)


def _make(folder: int, before: str, after: str, digits: list[str]) -> Sequence | None:
    values = sorted(map(int, digits))
    if len(values) < _LEAST or values != list(range(values[0], values[0] + len(values))):
        return None
    widths = {len(one) for one in digits}
    is_padded = any(len(one) > 1 and one.startswith("0") for one in digits)
    if is_padded and len(widths) > 1:
        return None
    return Sequence(folder, before, after, values[0], widths.pop() if is_padded else 0, len(values))
