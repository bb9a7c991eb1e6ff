"""Runs a long work in a child process: told how far it is, stopped when asked, under limits throughout.

The child speaks in lines of JSON on its standard output. However it ends, no process of it is left; what it
wrote is its caller's to throw away.
"""

from __future__ import annotations

import contextlib
import json
import os
import queue
import subprocess
import threading
import time
from collections.abc import Callable, Sequence
from typing import IO, Any

from workbench.host.worker import WorkerError, child_command

Told = Callable[[int, int], None]
"""Done, of how many."""

MEMORY = 3 << 30
"""Bytes of address space: far more than is ever held, since threads and libraries reserve without using."""
SECONDS = 3600
"""Of processor time."""
SILENCE = 120.0
"""Seconds without a line after which it is stuck."""
OUTPUT = 1 << 30
"""Bytes of one file that it may write."""

_EACH = 0.05
"""Seconds between two looks at whether somebody wants it stopped."""
_LONGEST_LINE = 64 << 20
_SURROUNDINGS = {"OPENBLAS_NUM_THREADS": "1", "MALLOC_ARENA_MAX": "2", "NUMPY_MADVISE_HUGEPAGE": "0"}
"""One thread for matrices, few heaps, small pages: all that these are for only costs memory here."""


class StoppedError(WorkerError):
    """Somebody wanted it stopped; it was."""

    kind = "cancelled"


def run_told(
    module: str,
    words: Sequence[str],
    *,
    progress: Told = lambda _done, _total: None,
    cancelled: Callable[[], bool] = lambda: False,
    memory: int = MEMORY,
    seconds: int = SECONDS,
    silence: float = SILENCE,
) -> dict[str, Any]:
    """What `python -m module words…` says last, as the JSON object that it is.

    Lines with `done` and `total` before that go to `progress`, in this thread.

    Raises:
        StoppedError: `cancelled` said so. WorkerError: a limit stopped it, or it died.
    """
    command = child_command(module, words, memory=memory, seconds=seconds, output=OUTPUT)
    try:
        child = subprocess.Popen(
            command,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env={**os.environ, **_SURROUNDINGS},
        )
    except OSError as error:
        raise WorkerError(f"no child process could be started: {error.strerror}") from error
    try:
        last = _listen(child, progress, cancelled, silence)
        child.wait(timeout=silence)
    except subprocess.TimeoutExpired as error:
        raise WorkerError("it did not end by itself and was stopped") from error
    finally:
        _end(child)
    if child.returncode != 0 or last is None:
        raise WorkerError(
            f"it needed more than {memory >> 20} MiB or {seconds} s of processing, or made its reader fail"
        )
    return last


def _listen(
    child: subprocess.Popen[bytes], progress: Told, cancelled: Callable[[], bool], silence: float
) -> dict[str, Any] | None:
    lines: queue.SimpleQueue[bytes | None] = queue.SimpleQueue()
    assert child.stdout is not None
    threading.Thread(target=_read, args=(child.stdout, lines), name="told", daemon=True).start()
    last: dict[str, Any] | None = None
    heard = time.monotonic()
    while True:
        if cancelled():
            raise StoppedError("it was stopped, and nothing of it is left")
        try:
            line = lines.get(timeout=_EACH)
        except queue.Empty:
            if time.monotonic() - heard > silence:
                raise WorkerError(f"nothing was heard of it for {silence:.0f} s, so it was stopped") from None
            continue
        if line is None:
            return last
        heard = time.monotonic()
        said = _understand(line)
        if said is None:
            continue
        if "done" in said:
            progress(int(said["done"]), int(said["total"]))
        else:
            last = said


def _read(pipe: IO[bytes], lines: queue.SimpleQueue[bytes | None]) -> None:
    with contextlib.suppress(OSError, ValueError):  # closed under it, once the child was ended
        while line := pipe.readline(_LONGEST_LINE):
            lines.put(line)
    lines.put(None)


def _understand(line: bytes) -> dict[str, Any] | None:
    try:
        said = json.loads(line)
    except ValueError:
        return None
    return said if isinstance(said, dict) else None


def _end(child: subprocess.Popen[bytes]) -> None:
    if child.poll() is None:
        child.kill()
    child.wait()
    if child.stdout is not None:
        child.stdout.close()
