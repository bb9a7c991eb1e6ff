"""What a check found, in lines: rule by rule with its findings below, and one finding with its place."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from workbench.tui.costs import count_words
from workbench.tui.lines import BLANK, Line, cut_front, wrap
from workbench.tui.tones import Tone
from workbench.values import dataclass

if TYPE_CHECKING:
    from workbench.jobs.check.finding import Finding, Level

SIGNS: dict[Level, tuple[str, Tone]] = {
    "error": ("! error", "problem"),
    "warning": ("~ warning", "waiting"),
    "note": ("· note", "muted"),
}
"""Sign, word and tone: no level is told by its colour alone."""

AROUND = 4
"""Lines of a file that are shown before and after the line of a finding."""


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the list: a finding, or the heading of its kind."""

    kind: tuple[Finding, ...]
    """All findings of that rule and level."""
    finding: Finding | None
    """None for the heading."""


def list_rows(findings: Sequence[Finding]) -> tuple[Row, ...]:
    """Headings, each with its findings below; the findings come sorted."""
    rows: list[Row] = []
    for _, group in itertools.groupby(findings, key=lambda one: (one.level, one.rule)):
        kind = tuple(group)
        rows += [Row(kind, None), *(Row(kind, one) for one in kind)]
    return tuple(rows)


def row_line(row: Row, words: str, width: int) -> Line:
    """`! error  dangling-reference (3)`, or `    data:lately.txt, line 4   names 'Gone' …`."""
    if row.finding is None:
        sign, tone = SIGNS[row.kind[0].level]
        count = len(row.kind)
        return Line.of((sign, tone), (f"  {row.kind[0].rule}", "strong"), f" ({count}): {words}")
    one = row.finding
    where = f"{one.at}, {one.line}" if one.line is not None else f"{one.at}"
    mend = "+ " if one.remedy is not None else "  "
    return Line.of(
        (f"  {mend}", "good"),
        (cut_front(where, max(12, width // 2 - 4)), "place"),
        f"  {one.message}",
        target=(one.at, one.line),
    )


def finding_lines(one: Finding, words: str, context: Sequence[Line], width: int) -> Iterator[Line]:
    """One finding in full: what, where, the lines around it, and what would mend it."""
    sign, tone = SIGNS[one.level]
    yield Line.of((sign, tone), (f"  {one.rule}: {words}", "muted"))
    for part in wrap(f"{one.at}{f', line {one.line}' if one.line is not None else ''}", width):
        yield Line.of((part, "place"))
    for part in wrap(one.message, width):
        yield Line.of(part)
    if one.remedy is not None:
        for part in wrap(f"+ Mend: {one.remedy.words} (m)", width, indent="  "):
            yield Line.of((part, "good"))
    else:
        yield Line.of(("No mend is known; it takes a person.", "muted"))
    if context:
        yield BLANK
        yield from context


def kind_lines(row: Row, words: str, width: int) -> Iterator[Line]:
    """A kind of findings in full."""
    sign, tone = SIGNS[row.kind[0].level]
    yield Line.of((sign, tone), (f"  {row.kind[0].rule}", "strong"))
    for part in wrap(words, width):
        yield Line.of(part)
    mendable = sum(1 for one in row.kind if one.remedy is not None)
    yield Line.of(
        (f"{count_words(len(row.kind), 'finding', 'findings')}, {mendable} of them can be mended", "muted")
    )
    if mendable:
        yield Line.of(("+ Mend them all: m", "good"))


def context_lines(raw: bytes, line: int) -> list[Line]:
    """The lines of a file around one, numbered; that one is marked."""
    texts = raw.decode("utf-8", "replace").splitlines()
    first = max(1, line - AROUND)
    last = min(len(texts), line + AROUND)
    digits = len(str(last))
    lines = []
    for number in range(first, last + 1):
        mark = ("› ", "key") if number == line else ("  ", "muted")
        text = texts[number - 1].replace("\t", "    ")
        tone: Tone = "strong" if number == line else "plain"
        lines.append(Line.of(mark, (f"{number:>{digits}}  ", "muted"), (text, tone)))  # type: ignore[arg-type]
    return lines


def sum_up(findings: Sequence[Finding]) -> str:
    """`Check: 2 errors, 1 warning, 4 notes`."""
    words: dict[Level, tuple[str, str]] = {
        "error": ("error", "errors"),
        "warning": ("warning", "warnings"),
        "note": ("note", "notes"),
    }
    counts = [(sum(1 for one in findings if one.level == level), *said) for level, said in words.items()]
    said = ", ".join(count_words(count, one, many) for count, one, many in counts if count)
    return f"Check: {said}" if said else "Check"
