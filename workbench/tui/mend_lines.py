"""A proposed mend in words: which line says what, and what it would say."""

from __future__ import annotations

from difflib import SequenceMatcher
from typing import TYPE_CHECKING

from workbench.manifests.document import apply_edits

if TYPE_CHECKING:
    from workbench.manifests.document import Mend

MOST_PLACES = 6


def mend_text(raw: bytes, mend: Mend) -> str:
    """`Line 12 says …` / `it would say …`, for the first few places."""
    before = _lines(raw)
    after = _lines(apply_edits(raw, mend.edits))
    places = [
        op for op in SequenceMatcher(None, before, after, autojunk=False).get_opcodes() if op[0] != "equal"
    ]
    said = [mend.reason, ""]
    for _word, start, end, new_start, new_end in places[:MOST_PLACES]:
        said += [f"line {start + 1 + n} says:      {line}" for n, line in enumerate(before[start:end][:3])]
        said += [f"it would say:   {line}" for line in after[new_start:new_end][:3]]
    if len(places) > MOST_PLACES:
        said.append(f"… and {len(places) - MOST_PLACES} places more")
    if not places:
        said.append(
            "No line changes what it says: only signs that cannot be seen (line endings, a byte order mark)."
        )
    return "\n".join(said)


def _lines(raw: bytes) -> list[str]:
    return raw.decode("utf-8", "surrogateescape").split("\n")
