"""Values of this package to JSON and back, exactly: fractions as `3/100`, paths as text, tuples as lists.

What comes back is checked as it is made: a worker's answer is no more trusted than the clip it read.
"""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path
from typing import Any, TypeVar, cast

from workbench.errors import MediaError

V = TypeVar("V")


def to_json(value: object) -> bytes:
    """A frozen value as one line of JSON."""
    return json.dumps(_to_plain(value), separators=(",", ":")).encode()


def from_json(kind: type[V], raw: bytes) -> V:
    """The value that `to_json` was given.

    Raises:
        MediaError: the bytes are no such value.
    """
    try:
        return cast(V, _from_plain(kind, json.loads(raw)))
    except (ValueError, TypeError, KeyError, ArithmeticError, RecursionError) as error:
        raise MediaError(f"what came back from the render is no {kind.__name__}: {error}") from error


def _to_plain(value: Any) -> Any:
    if hasattr(value, "__match_args__"):
        return {name: _to_plain(getattr(value, name)) for name in value.__match_args__}
    if isinstance(value, tuple):
        return [_to_plain(each) for each in value]
    return str(value) if isinstance(value, (Fraction, Path)) else value


def _from_plain(kind: Any, plain: Any) -> Any:
    from types import UnionType

    if isinstance(kind, UnionType):
        if plain is None and type(None) in kind.__args__:
            return None
        return _from_plain(next(each for each in kind.__args__ if each is not type(None)), plain)
    if hasattr(kind, "__origin__"):
        return _from_parts(kind, plain)
    if kind in (Fraction, Path):
        return kind(_checked(str, plain))
    if hasattr(kind, "__match_args__"):
        kinds = _kinds_of(kind)
        return kind(**{name: _from_plain(kinds[name], each) for name, each in _checked(dict, plain).items()})
    return float(plain) if kind is float and type(plain) is int else _checked(kind, plain)


def _from_parts(kind: Any, plain: Any) -> Any:
    """A tuple's parts, or one of a `Literal`'s words."""
    if kind.__origin__ is not tuple:
        if plain not in kind.__args__:
            raise ValueError(f"{plain!r} is none of {kind.__args__}")
        return plain
    parts = _checked(list, plain)
    if kind.__args__[-1] is Ellipsis:
        return tuple(_from_plain(kind.__args__[0], each) for each in parts)
    return tuple(_from_plain(each, part) for each, part in zip(kind.__args__, parts, strict=True))


def _kinds_of(kind: type) -> dict[str, Any]:
    import sys

    scope = vars(sys.modules[kind.__module__])
    return {name: eval(text, scope) for name, text in kind.__annotations__.items()}


def _checked(kind: type, plain: Any) -> Any:
    if type(plain) is not kind:
        raise TypeError(f"{plain!r} is no {kind.__name__}")
    return plain
