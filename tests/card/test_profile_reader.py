"""Profiles: the schema as written by hand, and what is said when it is wrong."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

from workbench.card.profile import FilePattern, Profile
from workbench.card.profile_reader import parse_profile, read_profile
from workbench.card.toml_lines import find_key_lines, line_of_key
from workbench.errors import ProfileError

TEXT = """\
schema = 1
name = "Larkspur"
[panel]
width = 512
height = 384
[volumes.data]
identify = ["shelf/", "house/register.json"]
device_path = "/mnt/store/"
[volumes.system]
identify = ["greet/hello.bmp"]
names = "exact"
[variables]
STORE = "/mnt/store"
[[menus]]
id = "shelf"
root = "data:shelf"
order = "bytes"
prefix = { style = "shortest", separator = " ", shown = true, limit = 64 }
label = { file = "data:house/register.json", format = "json", at = "/things/{entry}/says" }
companions = ["data:keep/{entry}.*"]
[[menus.references]]
file = "data:house/register.json"
format = "json"
at = "/things/{entry}"
[[menus.references]]
file = "data:house/register.json"
format = "json"
at = "/things/{key}/{field}"
is = "{path}"
[[menus.references]]
file = "data:shelf/**/begin"
format = "shell"
is = "{path}"
[[menus.pictures]]
kind = "icon"
path = "data:house/small/{entry}_s.png"
size = [64, 64]
[[menus]]
id = "rooms"
root = "data:rooms/{parent}"
entries = "files"
match = ["*.tale"]
[[menus.references]]
file = "data:rooms/{parent}/list.txt"
format = "lines"
is = "./{stem}.tale"
[[splash]]
moment = "start"
file = "system:greet/hello.bmp"
kind = { container = "bmp", bits = 24, rows = "bottom-up" }
max_bytes = 1048576
[animation]
folder = "data:house/motion/{name}"
frames = { pattern = "{n}.png" }
[device]
stop = "menu off"
derived = ["data:house/cache/*.bin"]
"""


def parse(text: str) -> Profile:
    return parse_profile(text.encode(), Path("larkspur.toml"))


def line_with(part: str, text: str) -> int:
    return next(number for number, line in enumerate(text.splitlines(), 1) if part in line)


def test_a_whole_profile_is_read() -> None:
    """Every table lands in its place, with the defaults that the schema gives."""
    profile = parse(TEXT)
    shelf, rooms = profile.menus
    assert profile.name == "Larkspur" and profile.panel.rotate == 0
    assert profile.volumes["data"].device_path == "/mnt/store" and profile.volumes["data"].names == "fat"
    assert profile.volumes["system"].names == "exact" and profile.volumes["system"].device_path is None
    assert shelf.entries == "folders" and shelf.match == ("*",) and shelf.hide == (".*",)
    assert shelf.prefix.limit == 64 and rooms.prefix.limit == 255 and rooms.prefix.separator == " "
    assert shelf.pictures[0].size == (64, 64)
    assert rooms.root == FilePattern("data", "rooms/{parent}") and rooms.match == ("*.tale",)
    assert profile.splashes[0].kind == {"container": "bmp", "bits": 24, "rows": "bottom-up"}
    assert profile.animation is not None and profile.animation.frames.first == 0
    assert profile.device.stop == "menu off" and profile.device.derived[0].path == "house/cache/*.bin"


def test_a_reference_names_a_key_where_its_selector_ends_in_the_entry() -> None:
    """Without `is`, `/things/{entry}` is a key; with it, a value; `names` says it outright."""
    keys = [rule.names_key for rule in parse(TEXT).menus[0].references]
    assert keys == [True, False, False]
    explicit = TEXT.replace('at = "/things/{entry}"\n', 'at = "/things/{entry}"\nnames = "value"\n', 1)
    assert parse(explicit).menus[0].references[0].names_key is False
    stem = TEXT.replace('at = "/things/{entry}"\n', 'at = "/things/{stem}"\n', 1)
    assert parse(stem).menus[0].references[0].is_ == "{stem}"


@pytest.mark.parametrize(
    ("old", "new", "key", "said"),
    [
        ("schema = 1", "schema = 2", "schema", "is 2"),
        ('name = "Larkspur"', 'nam = "Larkspur"', "nam", "Did you mean 'name'?"),
        ('name = "Larkspur"', 'name = ""', "name", "is empty"),
        ("width = 512", 'width = "512"', "panel.width", "a whole number from 1 to 16384"),
        ("height = 384", "height = 0", "panel.height", "is 0"),
        ("height = 384", "height = true", "panel.height", "is true"),
        ("height = 384", "height = 384\nrotate = 45", "panel.rotate", "0, 90, 180 and 270"),
        ('identify = ["greet', 'idenify = ["greet', "volumes.system.idenify", "Did you mean 'identify'?"),
        ('["greet/hello.bmp"]', "[]", "volumes.system.identify", "is empty"),
        ('["greet/hello.bmp"]', '["/greet"]', "volumes.system.identify", "never one of this computer"),
        ('["greet/hello.bmp"]', '["a/../b"]', "volumes.system.identify", "'..' is refused"),
        ('"/mnt/store/"', '"mnt/store"', "volumes.data.device_path", "an absolute path of the device"),
        ('names = "exact"', 'names = "exakt"', "volumes.system.names", "Did you mean 'exact'?"),
        ('STORE = "/mnt/store"', "STORE = 1", "variables.STORE", "a text in quotes"),
        ('id = "rooms"', 'id = "shelf"', "menus[2].id", "a second time"),
        ('root = "data:shelf"', 'root = "dta:shelf"', "menus[1].root", "Did you mean 'data'?"),
        ('root = "data:shelf"', 'root = "shelf"', "menus[1].root", "VOLUME:PATH"),
        ('root = "data:shelf"', 'root = "data:../shelf"', "menus[1].root", "'..' is refused"),
        ('root = "data:shelf"', 'root = "data:/shelf"', "menus[1].root", "below the volume's root"),
        ('root = "data:shelf"', 'root = "data:C:/shelf"', "menus[1].root", "below the volume's root"),
        ('root = "data:shelf"', "root = 'data:a\\b'", "menus[1].root", "separated by '/'"),
        ('root = "data:shelf"', 'root = "data:.cardwright/x"', "menus[1].root", "record of changes"),
        ('root = "data:shelf"', 'root = "data:shelf/*"', "menus[1].root", "plain folder"),
        ('root = "data:rooms/{parent}"', 'root = "data:rooms/{parnt}"', "menus[2].root", "'{parent}'?"),
        ('order = "bytes"', 'order = "byte"', "menus[1].order", "Did you mean 'bytes'?"),
        ("limit = 64", "limit = 900", "menus[1].prefix.limit", "from 1 to 255"),
        ("shown = true", 'shown = "yes"', "menus[1].prefix.shown", "true or false"),
        ('"/things/{entry}/says"', '"/things/says"', "menus[1].label.at", "has to hold {entry} or {stem}"),
        ('"/things/{entry}/says"', '"things"', "menus[1].label.at", "must be empty or start with '/'"),
        ('"/things/{entry}/says"', '"/{a}{b}"', "menus[1].label.at", "more than one placeholder"),
        ('"/things/{entry}/says"', '"/{En}"', "menus[1].label.at", "lower-case letters"),
        ('["data:keep/{entry}.*"]', '["data:keep/x.*"]', "menus[1].companions", "{entry} or {stem}"),
        ('["data:keep/{entry}.*"]', '"data:keep/x"', "menus[1].companions", "a list of texts"),
        ('format = "lines"', 'format = "line"', "menus[2].references[1].format", "Did you mean 'lines'?"),
        (
            'is = "./{stem}.tale"',
            'is = "x"',
            "menus[2].references[1].is",
            "one of {entry}, {stem} and {path}",
        ),
        ('is = "./{stem}.tale"', 'iss = "x"', "menus[2].references[1].iss", "Did you mean 'is'?"),
        ('is = "./{stem}.tale"', 'names = "key"', "menus[2].references[1].at", "end in {entry} or {stem}"),
        ("size = [64, 64]", "size = [64]", "menus[1].pictures[1].size", "[width, height]"),
        ("{entry}_s.png", "icon.png", "menus[1].pictures[1].path", "{entry} or {stem}"),
        ('moment = "start"', 'moment = "begin"', "splash[1].moment", "is 'begin'"),
        ('"system:greet/hello.bmp"', '"system:greet/*.bmp"', "splash[1].file", "one plain file"),
        ("bits = 24", "bits = 12", "splash[1].kind.bits", "8, 16, 24 and 32"),
        ('container = "bmp"', 'container = "bmq"', "splash[1].kind.container", "Did you mean 'bmp'?"),
        ('pattern = "{n}.png"', 'pattern = "frame.png"', "animation.frames.pattern", "{n}"),
        ('stop = "menu off"', 'stopp = "menu off"', "device.stopp", "Did you mean 'stop'?"),
        ("[panel]\nwidth = 512\nheight = 384\n", "", "panel", "is missing"),
    ],
)
def test_what_is_wrong_is_said_with_file_line_and_key(old: str, new: str, key: str, said: str) -> None:
    """One mistake, one sentence: where it is, which key, what was found, what is allowed."""
    assert TEXT.count(old) >= 1
    broken = TEXT.replace(old, new, 1)
    with pytest.raises(ProfileError) as refused:
        parse(broken)
    error = refused.value
    assert f"{key} " in error.message and said in error.message
    assert error.path == "larkspur.toml"
    if new and not key.endswith("].at"):
        assert error.line == TEXT.count("\n", 0, TEXT.index(old)) + new.count("\n") + 1
        assert error.message.startswith(f"larkspur.toml, line {error.line}: ")


def test_a_complaint_about_a_table_points_at_its_header() -> None:
    """A missing key has no line of its own: the table's header stands for it."""
    broken = TEXT.replace('format = "lines"\n', "", 1)
    with pytest.raises(ProfileError, match="format is missing") as refused:
        parse(broken)
    assert refused.value.line == line_with('file = "data:rooms/{parent}/list.txt"', broken) - 1


@pytest.mark.parametrize(
    ("raw", "line", "said"),
    [
        (b"schema = 1\nname = Larkspur\n", 2, "not well-formed TOML"),
        (b'schema = 1\nname = "\xff"\n', 2, "no UTF-8"),
        (b"a = 1\na = 2\n", 2, "not well-formed TOML"),
        (b"schema = 1\n[panel\n", 2, "not well-formed TOML"),
        (b"x = " + b"[" * 5000, 1, "not well-formed TOML"),
    ],
)
def test_what_is_no_toml_is_said_with_its_line(raw: bytes, line: int, said: str) -> None:
    """A typing slip in the file itself names its line."""
    with pytest.raises(ProfileError, match=said) as refused:
        parse_profile(raw, Path("larkspur.toml"))
    assert refused.value.line == line


def test_a_missing_or_huge_file_is_said_to_be_so(tmp_path: Path) -> None:
    """A path without a profile gives a sentence."""
    with pytest.raises(ProfileError, match="cannot be read"):
        read_profile(tmp_path / "none.toml")
    (tmp_path / "huge.toml").write_bytes(b"#" * (1 << 20) + b"\n")
    with pytest.raises(ProfileError, match="over 1 MiB"):
        read_profile(tmp_path / "huge.toml")


def test_escape_codes_in_a_profile_are_shown_not_obeyed() -> None:
    """A hostile word in a profile cannot drive the terminal through the message."""
    with pytest.raises(ProfileError) as refused:
        parse(TEXT.replace('order = "bytes"', 'order = "\\u001b[2J"', 1))
    assert "\x1b" not in refused.value.message


def test_lines_of_keys_are_found_through_all_ways_to_write_them() -> None:
    """Dotted and quoted keys, values over several lines, comments, arrays of tables."""
    text = (
        '# first\na.b = 1\n"odd \\"key\\"" = """\nx = 9\n[no]\n"""\nlist = [\n  1, # ]\n  2,\n]\n'
        "[t.'q.r']\nz = 1\n[[arr]]\nk = 1\n[[arr]]\nk = 2\n[arr.sub]\nm = 1\n[[arr.deep]]\nn = 1\n"
    )
    tomllib.loads(text)
    lines = find_key_lines(text)
    assert lines["a", "b"] == 2 and lines['odd "key"',] == 3 and lines["list",] == 7
    assert lines["t", "q.r", "z"] == 12 and lines["arr", 0, "k"] == 14 and lines["arr", 1, "k"] == 16
    assert lines["arr", 1, "sub", "m"] == 18 and lines["arr", 1, "deep", 0, "n"] == 20
    assert line_of_key(lines, ("arr", 1, "k", "below")) == 16 and line_of_key(lines, ("none",)) is None


def test_every_key_of_the_example_has_a_line() -> None:
    """Nothing that tomllib sees is missed by the scan, inline tables by their own line."""
    lines = find_key_lines(TEXT)

    def check(value: Any, path: tuple[str | int, ...]) -> None:
        assert line_of_key(lines, path) is not None
        if isinstance(value, dict):
            for key, below in value.items():
                check(below, (*path, key))
        elif isinstance(value, list) and value and isinstance(value[0], dict):
            for index, below in enumerate(value):
                check(below, (*path, index))

    for key, value in tomllib.loads(TEXT).items():
        check(value, (key,))
