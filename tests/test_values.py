"""Our late-made values behave as the standard library's dataclasses do."""

from __future__ import annotations

import copy
import dataclasses
import pickle
import subprocess
import sys
from collections.abc import Callable
from typing import Any, ClassVar

import pytest

from workbench import values


def make_pair(decorate: Any, field: Any) -> tuple[Any, Any]:
    """The same two classes by either decorator: a frozen ordered value and a mutable thing."""

    @decorate(frozen=True, slots=True, order=True)
    class Place:
        """A place."""

        volume: str
        path: str = ""
        found: int = field(default=0, compare=False)
        kind: ClassVar[str] = "place"

        def __post_init__(self) -> None:
            if self.path == "..":
                raise ValueError(self.path)

        @property
        def name(self) -> str:
            return self.path.rpartition("/")[2]

    @decorate(slots=True)
    class Shelf:
        """A shelf."""

        label: str
        names: list[str] = field(default_factory=list)
        secret: str = field(default="x", repr=False)

    return Place, Shelf


OURS = make_pair(values.dataclass, values.field)
THEIRS = make_pair(dataclasses.dataclass, dataclasses.field)

ASK: dict[str, Callable[[Any, Any], Any]] = {
    "repr": lambda place, shelf: (repr(place("a", "b/c")), repr(shelf("s", ["x"]))),
    "defaults": lambda place, shelf: (place("a").path, shelf("s").names, shelf(label="s").secret),
    "equal": lambda place, _: place("a", "b", 1) == place("a", path="b", found=2),
    "unequal": lambda place, shelf: (
        place("a") == place("b"),
        place("a") == shelf("a"),
        place("a") == ("a", ""),
    ),
    "hash": lambda place, _: len({place("a"), place("a", "", 5), place("b")}),
    "unhashable": lambda _, shelf: shelf.__hash__,
    "order": lambda place, _: [
        (one.volume, one.path) for one in sorted(place(*pair) for pair in ("ba", "ab", "aa"))
    ],
    "signs": lambda place, _: (place("a") < place("b"), place("a") <= place("a"), place("b") > place("a")),
    "property": lambda place, _: (place("a", "b/c").name, place.kind),
    "replace": lambda place, _: repr(dataclasses.replace(place("a", "b"), path="c")),
    "fields": lambda place, shelf: [one.name for cls in (place, shelf) for one in dataclasses.fields(cls)],
    "asdict": lambda _, shelf: dataclasses.asdict(shelf("s", ["n"])),
    "is dataclass": lambda place, shelf: (
        dataclasses.is_dataclass(place),
        dataclasses.is_dataclass(shelf("s")),
    ),
    "deepcopy": lambda place, shelf: repr(copy.deepcopy([place("a", "b"), shelf("s", ["n"])])),
    "slots": lambda place, _: (place.__slots__, hasattr(place("a"), "__dict__"), place.__match_args__),
    "names": lambda place, shelf: (place.__name__, place.__doc__, shelf.__module__),
}
BREAK: dict[str, Callable[[Any, Any], Any]] = {
    "set a frozen field": lambda place, _: setattr(place("a"), "path", "x"),
    "delete a frozen field": lambda place, _: delattr(place("a"), "path"),
    "no field of that name": lambda _, shelf: setattr(shelf("s"), "other", 1),
    "too few": lambda place, _: place(),
    "too many": lambda place, _: place("a", "b", 1, 2),
    "unknown": lambda place, _: place("a", other=1),
    "refused by the value itself": lambda place, _: place("a", ".."),
    "refused when replaced": lambda place, _: values.replace(place("a"), path=".."),
    "order against another kind": lambda place, _: place("a") < 3,
}


def make_ours(made: int) -> tuple[Any, Any]:
    """Ours after so many instances: first they are filled field by field, then by a compiled method."""
    place, shelf = make_pair(values.dataclass, values.field)
    for _ in range(made):
        place("a"), shelf("s")
    return place, shelf


@pytest.mark.parametrize("made", [0, 100])
@pytest.mark.parametrize("ask", ASK.values(), ids=ASK.keys())
def test_answers_are_those_of_the_standard_library(ask: Callable[[Any, Any], Any], made: int) -> None:
    """Showing, comparing, hashing, ordering, copying, and what `dataclasses` itself finds out."""
    assert ask(*make_ours(made)) == ask(*THEIRS)


@pytest.mark.parametrize("made", [0, 100])
@pytest.mark.parametrize("broken", BREAK.values(), ids=BREAK.keys())
def test_refusals_are_those_of_the_standard_library(broken: Callable[[Any, Any], Any], made: int) -> None:
    """The same kind of error for the same misuse."""
    with pytest.raises(Exception) as theirs:
        broken(*THEIRS)
    with pytest.raises(theirs.type):
        broken(*make_ours(made))


def test_each_instance_gets_its_own_default() -> None:
    """A default list is never shared."""
    one, other = OURS[1]("a"), OURS[1]("b")
    one.names.append("x")
    assert other.names == [] and values.replace(one, label="c").names == ["x"]


@values.dataclass(frozen=True, slots=True)
class Pickled:
    """Pickling needs a class that can be found by its name."""

    text: str
    number: int = 3


@values.dataclass
class Open:
    """Without slots."""

    text: str = "t"
    names: list[str] = values.field(default_factory=list)


def test_a_value_survives_pickling() -> None:
    """A worker process gets what was sent."""
    assert pickle.loads(pickle.dumps(Pickled("a"))) == Pickled("a", 3)


def test_a_class_without_slots_works_too() -> None:
    """Defaults are class attributes, factories are not."""
    made = Open()
    made.extra = 1  # type: ignore[attr-defined]
    assert (made.text, Open.text, made.names) == ("t", "t", []) and not hasattr(Open, "names")


def test_importing_a_value_loads_no_compiler_of_methods() -> None:
    """What it is for: neither `dataclasses` nor `inspect` at start-up."""
    program = """
import sys
from workbench.values import dataclass

@dataclass(frozen=True, slots=True)
class Place:
    path: str

Place("a")
print({"dataclasses", "inspect"} & set(sys.modules))
"""
    made = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert made.stdout.strip() == "set()"
