"""Proposes a repair of a malformed manifest where the mend is plain. Nothing is ever repaired here.

A mend is proposed only if the repaired document opens well formed; every repair on the way must carry the
judge past the fault that it was made for.
"""

from __future__ import annotations

import re

from workbench.errors import ManifestError
from workbench.late_pattern import late_pattern
from workbench.manifests.document import Edit, Format, Mend
from workbench.manifests.json_judge import blank_extras
from workbench.manifests.mends import Proposal, propose_at
from workbench.manifests.opening import open_document
from workbench.manifests.positions import Positions, count_lines
from workbench.values import dataclass

MAX_MENDED_BYTES = 256 * 1024
"""Larger files get no proposal: each try is judged whole."""
MAX_REPAIRS = 40
_BUDGET = 2 * 1024 * 1024
"""Bytes that the repairs of one file may have judged, about: larger files get fewer repairs."""
_LINE_END = late_pattern(r"\r\n?|\n")


Change = tuple[int, int, str]


@dataclass(frozen=True, slots=True)
class _Draft:
    """A text under repair: what it is now, and the changes that made it so from the original."""

    text: str
    changes: tuple[Change, ...] = ()
    """In characters of the original, in order, none touching another."""
    reasons: tuple[str, ...] = ()

    def repaired(self, proposal: Proposal) -> _Draft:
        """The draft with the proposal carried out."""
        text, changes = self.text, self.changes
        for change in sorted(proposal.changes, reverse=True):
            changes = _add_change(text, changes, change)
            text = text[: change[0]] + change[2] + text[change[1] :]
        return _Draft(text, changes, (*self.reasons, proposal.reason))


def _add_change(text: str, changes: tuple[Change, ...], change: Change) -> tuple[Change, ...]:
    """The changes of the original and one more of the text that they made, merged where they touch."""
    start, end, new = change
    low, high = start, end
    before: list[Change] = []
    after: list[Change] = []
    shift = shift_before = 0
    for earlier in changes:
        place = earlier[0] + shift
        stop = place + len(earlier[2])
        if place > end:
            after.append(earlier)
            continue
        shift += len(earlier[2]) - (earlier[1] - earlier[0])
        if stop < start:
            before.append(earlier)
            shift_before = shift
        else:
            low, high = min(low, place), max(high, stop)
    merged = (low - shift_before, high - shift, text[low:start] + new + text[end:high])
    return (*before, merged, *after)


def propose_mend(raw: bytes, format: Format) -> Mend | None:
    """A minimal repair of the bytes, as edits of them; None where nothing is wrong or no mend is plain."""
    if len(raw) > MAX_MENDED_BYTES:
        return None
    try:
        text = raw.decode()
    except UnicodeDecodeError:
        return None
    draft = _Draft(text)
    whole = _mend_whole(text, format)
    mended = _mend_faults(draft.repaired(whole) if whole else draft, format)
    return _as_mend(text, mended) if mended and mended.changes else None


def _mend_whole(text: str, format: Format) -> Proposal | None:
    """Faults of a whole file: a BOM, CRLF or trailing commas where the format has none."""
    changes: list[Change] = []
    reasons: list[str] = []
    if text.startswith("\ufeff") and (format == "toml" or (format == "shell" and text.startswith("#!", 1))):
        changes.append((0, 1, ""))
        what = "TOML allows none" if format == "toml" else "a device does not start a script that has one"
        reasons.append(f"the byte order mark at the start is taken out ({what})")
    if format == "shell" and "\r\n" in text:
        changes += [(match.start(), match.start() + 1, "") for match in re.finditer("\r\n", text)]
        reasons.append("line ends become LF (a shell takes the CR for a part of the line's last word)")
    if format == "json":
        clean, comments = blank_extras(text)
        commas = [] if comments else [i for i, char in enumerate(text) if char == "," and clean[i] == " "]
        changes += [(i, i + 1, "") for i in commas]
        reasons += [
            "trailing commas are taken out (JSON allows none, and strict readers refuse them)"
        ] * bool(commas)
    return Proposal("; ".join(reasons), tuple(changes)) if changes else None


def _mend_faults(draft: _Draft, format: Format) -> _Draft | None:
    for _ in range(min(MAX_REPAIRS, 2 + _BUDGET // (1 + len(draft.text)))):
        fault = _find_fault(draft.text, format)
        if fault is None:
            return draft
        better = _step(draft, format, fault)
        if better is None:
            return None
        draft = better
    return None


def _step(draft: _Draft, format: Format, fault: int) -> _Draft | None:
    """The first repair that ends all faults, else the one that carries the judge furthest past this one."""
    best, furthest = None, fault
    for proposal in propose_at(draft.text, format, fault):
        trial = draft.repaired(proposal)
        next_fault = _find_fault(trial.text, format)
        if next_fault is None:
            return trial
        passed = next_fault - (len(trial.text) - len(draft.text))
        if passed > furthest:
            best, furthest = trial, passed
    return best


def _find_fault(text: str, format: Format) -> int | None:
    """The character at which the text stops being well formed; None where it is well formed."""
    try:
        document = open_document(text.encode(), format)
        if format == "shell":
            document.check_editable()  # type: ignore[attr-defined]  # opening a script judges nothing
    except ManifestError as error:
        return _index(text, error.line or 1, error.column or 1)
    return None


def _index(text: str, line: int, column: int) -> int:
    start = int(text.startswith("\ufeff"))
    for _ in range(line - 1):
        found = _LINE_END.search(text, start)
        if found is None:
            break
        start = found.end()
    return min(start + column - 1, len(text))


def _as_mend(original: str, draft: _Draft) -> Mend:
    positions = Positions(original)
    edits = tuple(
        Edit(positions.byte(start), positions.byte(end), new.encode()) for start, end, new in draft.changes
    )
    line = 1 + count_lines(original, 0, draft.changes[0][0])
    reasons = [_counted(reason, draft.reasons.count(reason)) for reason in dict.fromkeys(draft.reasons)]
    sentence = "; ".join(reasons)
    return Mend(f"{sentence[0].upper()}{sentence[1:]}.", line, edits)


def _counted(reason: str, times: int) -> str:
    return reason if times == 1 else f"{reason} ({times} times)"
