"""Imports what comes next while the present work is done by C code, which leaves the interpreter free."""

from __future__ import annotations

import _thread
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from importlib import import_module


@contextmanager
def importing_ahead(module: str) -> Iterator[None]:
    """Have a module imported by a thread of its own, which has ended when the context does.

    Whoever needs the module imports it as ever, and gets its errors. The thread is one of `_thread`: the
    package `threading` would take the first thread that imports it for the main one.
    """
    ended = _thread.allocate_lock()
    ended.acquire()

    def load() -> None:
        try:
            with suppress(Exception):
                import_module(module)
        finally:
            ended.release()

    try:
        _thread.start_new_thread(load, ())
    except RuntimeError:  # no more threads: then it is imported when it is needed
        ended.release()
    try:
        yield
    finally:
        ended.acquire()
