"""Where a change stands on one volume: a file of fixed size with a checked record for each state reached.

Written in place, so that no state ever needs new space. A record that does not check is not there.
"""

from __future__ import annotations

import os
import time
import zlib

from workbench.changes.ground import Flush, Ground, sync
from workbench.typed import Literal, get_args

State = Literal["prepared", "begun", "done", "back"]
Remark = Literal["let-go", "handed-over"]
"""What is true besides the state: the kept copies were let go; those on the host are the only ones."""

RECORD_BYTES = 64
RECORDS = 8
_STATES = get_args(State)


def make_marks(ground: Ground, path: str, change: str, flush: Flush) -> None:
    """A new file of marks that says `prepared`, to be flushed."""
    with ground.creating(path, flush) as handle:
        blank = (b" " * (RECORD_BYTES - 1) + b"\n") * (RECORDS - 1)
        os.write(handle, _make_record(change, "prepared") + blank)


def put_mark(ground: Ground, path: str, change: str, word: State | Remark) -> None:
    """Say that a state is reached, or that a remark is true; flushed when this returns."""
    with ground.updating(path) as handle:
        standing = os.pread(handle, RECORD_BYTES * RECORDS, 0)
        slot = next((n for n in range(RECORDS) if _read_word(standing, n, change) is None), RECORDS - 1)
        os.pwrite(handle, _make_record(change, word), slot * RECORD_BYTES)
        sync(handle)


def read_state(ground: Ground, path: str, change: str) -> State | None:
    """The last state reached; None where no record checks."""
    words = _read_words(ground, path, change)
    found = [state for word in words for state in _STATES if state == word]
    return found[-1] if found else None


def has_remark(ground: Ground, path: str, change: str, remark: Remark) -> bool:
    """Whether that was said of the change there."""
    return remark in _read_words(ground, path, change)


def _read_words(ground: Ground, path: str, change: str) -> list[str]:
    try:
        raw = ground.read(path)
    except OSError:
        return []
    words = (_read_word(raw, number, change) for number in range(RECORDS))
    return [word for word in words if word is not None]


def _make_record(change: str, word: State | Remark) -> bytes:
    text = f"{word} {time.strftime('%Y-%m-%dT%H:%M:%SZ', time.gmtime())}"
    record = f"{text} {_check(change, text)}".ljust(RECORD_BYTES - 1) + "\n"
    return record.encode("ascii")


def _read_word(raw: bytes, number: int, change: str) -> str | None:
    record = raw[number * RECORD_BYTES : (number + 1) * RECORD_BYTES]
    text, _, check = record.decode("ascii", "replace").rstrip().rpartition(" ")
    if not text or check != _check(change, text):
        return None
    return text.partition(" ")[0]


def _check(change: str, text: str) -> str:
    return f"{zlib.crc32(f'{change} {text}'.encode()):08x}"
