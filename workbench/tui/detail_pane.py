"""Everything that names the entry under the cursor, with file and line; or its picture.

Filled when the keys fall silent, by the page's worker; the pane itself reads nothing.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from workbench.tui.costs import count_words
from workbench.tui.lines import BLANK, Line, Piece, wrap

if TYPE_CHECKING:
    from workbench.card.menu import Entry
    from workbench.card.references import Found

SILENCE_S = 0.15
"""How long the keys have to be silent before the pane follows the cursor."""


def entry_lines(entry: Entry, position: int, count: int, origin_name: str) -> Iterator[Line]:
    """What the entry is."""
    yield Line.of((entry.name, "strong"))
    if entry.label and entry.label != entry.name:
        yield Line.of(("shown as ", "muted"), entry.label)
    prefix: str | Piece = (f", prefix {entry.prefix!r}", "muted") if entry.prefix else ""
    yield Line.of((f"place {position + 1} of {count}", "muted"), prefix)
    if origin_name and origin_name != entry.name:
        yield Line.of(("* on the card now: ", "waiting"), origin_name)
    yield BLANK


def found_lines(found: Found, width: int) -> Iterator[Line]:
    """What names the entry: manifests with lines, files, and what is in the way."""
    for at, error in _blocked(found):
        yield Line.of(("! malformed ", "problem"), (at, "place"))
        for part in wrap(error, width - 4, indent="  "):
            yield Line.of(f"  {part}")
    count = sum(len(manifest.references) for manifest in found.manifests)
    total = count + len(found.files)
    yield Line.of(
        (f"named in {count_words(total, 'place', 'places')}" if total else "nothing names it", "strong")
    )
    for manifest in found.manifests:
        yield Line.of((str(manifest.at), "place"))
        for reference in manifest.references:
            yield Line.of((f"  line {reference.line:<5} ", "muted"), _reference_text(reference))
    for file in found.files:
        yield Line.of((str(file.at), "place"))
        yield Line.of((f"  {file.kind}", "muted"))


def _reference_text(reference: object) -> str:
    return str(getattr(reference, "text", ""))


def _blocked(found: Found) -> Iterator[tuple[str, str]]:
    for block in found.blocked:
        error = getattr(block, "error", block)
        yield str(getattr(block, "at", error.path)), error.message
