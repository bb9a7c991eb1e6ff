"""Does ahead, in a thread of its own, what will be needed soon: C code leaves the interpreter free then."""

from __future__ import annotations

import _thread
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from importlib import import_module

from workbench.typed import TypeVar

Result = TypeVar("Result")


@contextmanager
def doing_ahead(work: Callable[[], Result]) -> Iterator[Callable[[], Result | None]]:
    """Have something done by a thread, which has ended when the context does.

    Gives a function that waits for the result: None where the work failed or could not be done, so that
    whoever needs it does it as ever, and gets its errors. The thread is one of `_thread`: the package
    `threading` would take the first thread that imports it for the main one.
    """
    found: list[Result] = []
    ended = _thread.allocate_lock()
    ended.acquire()

    def run() -> None:
        try:
            with suppress(Exception):
                found.append(work())
        finally:
            ended.release()

    def result() -> Result | None:
        with ended:
            return found[0] if found else None

    try:
        _thread.start_new_thread(run, ())
    except RuntimeError:  # no more threads
        ended.release()
    try:
        yield result
    finally:
        ended.acquire()


@contextmanager
def importing_ahead(module: str) -> Iterator[None]:
    """Have a module imported ahead; whoever needs it imports it as ever."""
    with doing_ahead(lambda: import_module(module)):
        yield
