"""Everything that names the entry under the cursor, with file and line; or its picture.

Filled when the keys fall silent, by the page's worker; the pane itself reads nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import TYPE_CHECKING

from workbench.tui.costs import count_words
from workbench.tui.lines import BLANK, Line, wrap

if TYPE_CHECKING:
    from workbench.card.entry import Entry, Menu
    from workbench.card.reference import FileReference, Found, Reference
    from workbench.errors import CardwrightError

SILENCE_S = 0.15
"""How long the keys have to be silent before the pane follows the cursor."""


def entry_lines(entry: Entry, menu: Menu, origin_name: str) -> Iterator[Line]:
    """What the entry is."""
    yield Line.of((entry.name, "strong"))
    if entry.has_label and entry.label != entry.name:
        yield Line.of(("shown as ", "muted"), entry.label)
    prefix = f", prefix “{entry.prefix}”" if entry.prefix else ""
    yield Line.of((f"place {entry.position} of {len(menu.entries)}{prefix}", "muted"))
    if origin_name and origin_name != entry.name:
        yield Line.of(("* on the card now: ", "waiting"), origin_name)
    if menu.label_error is not None:
        yield Line.of(("! no shown names: ", "problem"), menu.label_error.message)
    yield BLANK


def found_lines(found: Found, width: int) -> Iterator[Line]:
    """What names the entry: manifests with lines, files, and what is in the way."""
    for block in found.blocked:
        line = block.error.line
        where = f"{block.at}, line {line}" if line else str(block.at)
        yield Line.of(("! malformed ", "problem"), (where, "place"), target=(block.at, line))
        yield from _paragraph(block.error.message, width)
    for doubt in found.ambiguous:
        where = f"{doubt.at}, line {doubt.line}" if doubt.line else str(doubt.at)
        yield Line.of(("! could be another's ", "problem"), (where, "place"), target=(doubt.at, doubt.line))
        yield from _paragraph(doubt.text, width)
    yield from reference_lines(found.references)


def reference_lines(references: Sequence[Reference | FileReference]) -> Iterator[Line]:
    """The places that name an entry: lines by manifest, then files."""
    total = len(references)
    yield Line.of(
        (f"named in {count_words(total, 'place', 'places')}" if total else "nothing names it", "strong")
    )
    for at, group in groupby(references, key=lambda one: None if one.line is None else one.at):
        if at is not None:
            yield Line.of((str(at), "place"), target=(at, 1))
        for one in group:
            yield _reference_line(one)


def _reference_line(one: Reference | FileReference) -> Line:
    if one.line is None:
        return Line.of((f"  {one.kind:<10} ", "muted"), (str(one.at), "place"))
    return Line.of((f"  line {one.line:<5} ", "muted"), one.text.strip(), target=(one.at, one.line))


def error_lines(error: CardwrightError, width: int) -> Iterator[Line]:
    """Why something could not be read."""
    yield Line.of(("! cannot be read", "problem"))
    if error.path:
        yield Line.of((error.path + (f", line {error.line}" if error.line else ""), "place"))
    yield from _paragraph(error.message, width)


def _paragraph(text: str, width: int) -> Iterator[Line]:
    for part in wrap(text, width - 2):
        yield Line.of("  ", part)
