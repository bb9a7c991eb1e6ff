"""What type checkers read, for modules that a short command imports.

`typing` makes hundreds of objects when it is imported, a few milliseconds that no short command gets anything
for: what stands in an annotation is never looked at while it runs. Type checkers see the standard names.
What the standard module asks of a `Literal` (`get_args`) works on these too.
"""

from __future__ import annotations

TYPE_CHECKING = False
"""True to a type checker, which knows this name."""

__all__ = [
    "TYPE_CHECKING",
    "Any",
    "AnyStr",
    "ClassVar",
    "Generic",
    "Literal",
    "NamedTuple",
    "NoReturn",
    "Protocol",
    "TypeVar",
    "cast",
    "get_args",
]

if TYPE_CHECKING:
    from typing import (
        Any,
        AnyStr,
        ClassVar,
        Generic,
        Literal,
        NamedTuple,
        NoReturn,
        Protocol,
        TypeVar,
        cast,
        get_args,
    )
else:
    from collections import namedtuple
    from types import GenericAlias

    class Any:
        """Any value."""

    AnyStr = ClassVar = NoReturn = Any

    class Generic:
        """A class of which a checker knows different kinds."""

        def __class_getitem__(cls, kind):
            return cls

    class Literal:
        """One of a few words."""

        def __class_getitem__(cls, words):
            return GenericAlias(cls, words)

    class Protocol:
        """What others have to offer."""

    def TypeVar(name):
        """A kind that a checker works out."""
        return name

    def cast(_kind, value):
        """The value itself."""
        return value

    def get_args(kind):
        """The words of a `Literal`."""
        return kind.__args__

    class _NamedTupleMaker(type):
        """Makes the class from its annotations, as the standard one does."""

        def __new__(cls, name, bases, members):
            if not bases:
                return super().__new__(cls, name, bases, members)
            fields = members.get("__annotations__", {})
            defaults = [members.pop(field) for field in fields if field in members]
            made = namedtuple(name, fields, defaults=defaults, module=members["__module__"])
            for key, member in members.items():
                if key not in ("__module__", "__qualname__"):
                    setattr(made, key, member)
            made.__qualname__ = members["__qualname__"]
            return made

    class NamedTuple(metaclass=_NamedTupleMaker):
        """A tuple whose places have names."""
