"""Does the same to many things, with a forked child where there are enough of them to pay.

Both take the next few that nobody took, until there are none: whichever has more of a processor does more.
The child only computes. Where there is none, or it comes to a bad end, what it took is done here.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence

from workbench.card.forked import can_fork, end_child, receive, send, widen
from workbench.typed import Any, Generic, NoReturn, TypeVar

_MANY = 64
"""Things of which half take longer than a fork: about a third of a millisecond each."""
_TURNS = 128
"""How often a few things are taken, at most; each turn is told by one byte."""

Thing = TypeVar("Thing")
Result = TypeVar("Result")


def share(things: Sequence[Thing], work: Callable[[Thing], Result]) -> list[Result]:
    """What `work` makes of each thing, in their order: values that `marshal` knows, tuples of such.

    Raises:
        Exception: whatever `work` raises, here.
    """
    if len(things) < _MANY or not can_fork():
        return [work(one) for one in things]
    turns = _Turns(things, work)
    out, child = _start(turns)
    if not child:
        turns.close()
        return [work(one) for one in things]
    try:
        done = turns.take()
        rest: dict[int, list[Result]] = receive(out) or {}
    finally:
        turns.close()
        os.close(out)
        end_child(child)
    done |= rest
    return [one for turn in range(turns.count) for one in done.get(turn) or turns.do(turn)]


class _Turns(Generic[Thing, Result]):
    """Things, a few for each turn, and the turns that nobody took: bytes in a pipe, each read by one only."""

    def __init__(self, things: Sequence[Thing], work: Callable[[Thing], Result]) -> None:
        self._things, self._work = things, work
        self._size = -(-len(things) // _TURNS)
        self.count = -(-len(things) // self._size)
        self._pipe, into = os.pipe()
        os.write(into, bytes(range(self.count)))
        os.close(into)

    def take(self) -> dict[int, list[Result]]:
        """Do what is left, until the other and this one have taken all of it; results by their turn."""
        done: dict[int, list[Result]] = {}
        while turn := os.read(self._pipe, 1):
            done[turn[0]] = self.do(turn[0])
        return done

    def do(self, turn: int) -> list[Result]:
        first = turn * self._size
        return [self._work(one) for one in self._things[first : first + self._size]]

    def close(self) -> None:
        os.close(self._pipe)


def _start(turns: _Turns[Any, Any]) -> tuple[int, int]:
    """The pipe and the child that works; twice 0 where there can be none."""
    pipe, out = os.pipe()
    try:
        child = os.fork()
    except OSError:
        os.close(pipe)
        os.close(out)
        return 0, 0
    if child == 0:
        _work(out, turns)
    os.close(out)
    return pipe, child


def _work(out: int, turns: _Turns[Any, Any]) -> NoReturn:
    """In the child: tell what came out, and end without any of the parent's own endings."""
    try:
        widen(out)
        send(out, turns.take())
        os._exit(0)
    finally:
        os._exit(1)
