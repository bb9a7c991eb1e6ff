"""Templates: every text lands inert, in the quoting that its place has."""

from __future__ import annotations

import configparser
import json
import shutil
import subprocess
import tomllib
import xml.etree.ElementTree as ET
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbench.errors import ManifestError
from workbench.jobs.animate.template import fill_template, fit_text
from workbench.manifests.document import Format

HOSTILE = "a \"b\" 'c' $(touch pwned) `id` ${HOME} $HOME \\ ]x; & é雨 {name} #z !d *"
LINES = HOSTILE + "\nsecond $(id) 'line'\n]"

PLACES = [
    "say {label}\n",
    'say "{label}"\n',
    "say '{label}'\n",
    'say pre"{label}"\n',
    'T={label}\nsay "$T"\n',
    'T="{label}"; say "$T"\n',
    "T='{label}'\nsay \"$T\" {count}\n",
]

needs_sh = pytest.mark.skipif(shutil.which("sh") is None, reason="no sh on this computer")


def run_script(raw: bytes, folder: Path) -> str:
    """What the script says, one word a record."""
    script = folder / "script"
    script.write_bytes(b"say() { for w do printf '%s\\0' \"$w\"; done; }\n" + raw)
    ended = subprocess.run(["sh", str(script)], capture_output=True, cwd=folder, timeout=10, check=True)
    assert ended.stderr == b""
    return ended.stdout.decode().split("\0")[0]


@needs_sh
@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("text", [HOSTILE, LINES, "-n", "", "~", "$1"])
def test_a_text_comes_out_of_a_script_as_it_went_in(place: str, text: str, tmp_path: Path) -> None:
    """Run by sh: nothing is expanded, nothing is run, line ends stay."""
    raw = fill_template(place, "shell", {"label": text, "name": "N", "count": "7"}, "begin")
    assert run_script(raw, tmp_path) == ("pre" if "pre" in place else "") + text
    assert [item.name for item in tmp_path.iterdir()] == ["script"]


@needs_sh
@settings(max_examples=20, deadline=None)
@given(text=st.text(st.characters(exclude_categories=("Cs", "Cc", "Co", "Cn")), max_size=30))
def test_any_text_comes_out_of_a_script(tmp_path_factory: pytest.TempPathFactory, text: str) -> None:
    """Whatever a person types."""
    raw = fill_template('say "{label}"\n', "shell", {"label": text}, "begin")
    assert run_script(raw, tmp_path_factory.mktemp("any")) == text


def _ini(raw: bytes) -> str:
    parser = configparser.ConfigParser(interpolation=None, delimiters=("=",))
    parser.read_string(raw.decode())
    return parser["s"]["t"]


FORMATS: list[tuple[Format, str, Callable[[bytes], str]]] = [
    ("ini", "[s]\nt = {label}\n", _ini),
    ("keyvalue", "t={label}\n", lambda raw: raw.decode().partition("=")[2].rstrip("\n")),
    ("toml", 't = "{label}"\n', lambda raw: str(tomllib.loads(raw.decode())["t"])),
    ("json", '{"t": "{label}"}', lambda raw: str(json.loads(raw)["t"])),
    ("xml", '<a t="{label}"/>', lambda raw: ET.fromstring(raw).attrib["t"]),
    ("xml", "<a>{label}</a>", lambda raw: ET.fromstring(raw).text or ""),
]


@pytest.mark.parametrize(("format", "template", "parse"), FORMATS)
@pytest.mark.parametrize("text", [HOSTILE, LINES])
def test_a_text_comes_out_of_settings_by_their_reference_parser(
    format: Format, template: str, parse: Callable[[bytes], str], text: str
) -> None:
    """As it went in; on one line where the format holds no more."""
    wanted = fit_text(text, format)
    raw = fill_template(template, format, {"label": wanted, "name": "N"}, "settings")
    assert parse(raw) == wanted
    assert (wanted == text) or ("\n" in text and format in ("ini", "keyvalue"))


def test_what_is_no_open_place_stays() -> None:
    """`${name}` is the script's own, other braces are text, and comments are filled on one line."""
    raw = fill_template('\n#!/bin/sh\n# {name}\nsay "${name}" {x} {n}\n', "shell", {"name": "a\nb"}, "begin")
    assert raw == b'#!/bin/sh\n# a b\nsay "${name}" {x} {n}\n'


def test_a_template_that_is_malformed_is_refused() -> None:
    """With its line."""
    with pytest.raises(ManifestError, match="line 2"):
        fill_template("a = 1\nb = = {count}\n", "toml", {"count": "2"}, "tempo.toml")
