"""What stands in for `typing` does what the standard names do while a program runs."""

from __future__ import annotations

import subprocess
import sys
import typing

import pytest

from workbench import typed

PROFILE = """\
schema = 1
name = "Plain"
[panel]
width = 64
height = 48
[volumes.data]
identify = ["shelf/"]
[[menus]]
id = "shelf"
root = "data:shelf"
[[menus.references]]
file = "data:register.json"
format = "json"
at = "/{entry}"
[[menus.references]]
file = "data:register.json"
format = "json"
at = "/{key}"
is = "{path}"
[[menus.references]]
file = "data:list.ini"
format = "ini"
at = "/{entry}"
"""


def _make(tuples: typing.Any) -> typing.Any:
    class Place(tuples.NamedTuple):
        """A place."""

        path: str
        line: int = 1

        @property
        def name(self) -> str:
            return self.path.rpartition("/")[2]

        def later(self) -> Place:
            return self._replace(line=self.line + 1)

    return Place


@pytest.mark.parametrize("tuples", [typing, typed], ids=["standard", "ours"])
def test_tuples_with_names(tuples):
    """Fields, defaults, properties, methods and the docstring."""
    place = _make(tuples)("a/b")
    assert (place, place.name, place.later(), repr(place)) == (
        ("a/b", 1),
        "b",
        ("a/b", 2),
        "Place(path='a/b', line=1)",
    )
    assert _make(tuples).__doc__ == "A place." and place._fields == ("path", "line")


def test_the_words_of_a_literal():
    """Either `get_args` tells them, and a Literal joins others with `|`."""
    word = typed.Literal["a", "b"]
    assert (
        typed.get_args(word)
        == typing.get_args(word)
        == ("a", "b")
        == typing.get_args(typing.Literal["a", "b"])
    )
    assert typing.get_args(word | None) == (word, type(None))


def test_a_dry_run_loads_none_of_it(tmp_path):
    """Nothing that every dry run imports brings `typing` along, or another part that only looks small."""
    (tmp_path / "shelf" / "Boats").mkdir(parents=True)
    (tmp_path / "register.json").write_text('{"Boats": "./shelf/Boats/x"}')
    (tmp_path / "list.ini").write_text("[Boats]\nopens=shelf/Boats\n")
    profile = tmp_path / "plain.toml"
    profile.write_text(PROFILE)
    words = ["rename", str(tmp_path), "Boats", "Kites", "--dry-run", "--profile", str(profile)]
    heavy = (
        "{'typing', 'argparse', 'tomllib', 'json', 'platformdirs', 'weakref', 'string', 'signal', "
        "'_hashlib', 'urllib.parse'}"
    )
    code = (
        f"import sys\nfrom workbench.cli.main import main\nmain({words!r})\n"
        f"print('LOADED', *{heavy} & {{*sys.modules}})"
    )
    done = subprocess.run([sys.executable, "-S", "-c", code], capture_output=True, text=True, check=True)
    assert "in 2 places" in done.stdout
    assert done.stdout.splitlines()[-1] == "LOADED"
