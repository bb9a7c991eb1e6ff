"""Does the same to many things, half of them in a forked child where there are enough of them to pay.

The child only computes. Where there is none, or it comes to a bad end, its half is done here.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence

from workbench.card.forked import can_fork, end_child, receive, send
from workbench.typed import NoReturn, TypeVar

_MANY = 64
"""Things of which half take longer than a fork: about a third of a millisecond each."""

Thing = TypeVar("Thing")
Result = TypeVar("Result")


def share(things: Sequence[Thing], work: Callable[[Thing], Result]) -> list[Result]:
    """What `work` makes of each thing, in their order: values that `marshal` knows, tuples of such.

    Raises:
        Exception: whatever `work` raises, here.
    """
    half = (len(things) + 1) // 2
    out = child = 0
    if len(things) >= _MANY and can_fork():
        out, child = _start(things[half:], work)
    if not child:
        return [work(one) for one in things]
    try:
        done = [work(one) for one in things[:half]]
        rest: list[Result] | None = receive(out)
    finally:
        os.close(out)
        end_child(child)
    return done + ([work(one) for one in things[half:]] if rest is None else rest)


def _start(things: Sequence[Thing], work: Callable[[Thing], Result]) -> tuple[int, int]:
    """The pipe and the child that works; twice 0 where there can be none."""
    pipe, out = os.pipe()
    try:
        child = os.fork()
    except OSError:
        os.close(pipe)
        os.close(out)
        return 0, 0
    if child == 0:
        _work(out, things, work)
    os.close(out)
    return pipe, child


def _work(out: int, things: Sequence[Thing], work: Callable[[Thing], Result]) -> NoReturn:
    """In the child: tell what came out, and end without any of the parent's own endings."""
    try:
        send(out, [work(one) for one in things])
        os._exit(0)
    finally:
        os._exit(1)
