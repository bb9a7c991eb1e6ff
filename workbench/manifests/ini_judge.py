"""Judges INI files: Python's configparser at its most permissive has to read the same out of them."""

from __future__ import annotations

import re

from workbench.errors import ManifestError
from workbench.manifests.byte_lines import encode
from workbench.manifests.positions import refused

_NO_SECTION = "\x01"

Written = dict[str, dict[str, bytes | None]]
"""Section (`""` before the first) → key → value as written."""


def judge_ini(text: bytes, written: Written, path: str) -> ManifestError | None:
    """The error where configparser finds other sections, keys or values than `written` in the text."""
    import configparser

    if re.search(rb"[ \t]{200}", text):  # its patterns take a time that grows with the square of this
        return refused(path, None, "a line holds hundreds of blanks in a row", "take them out first")
    parser = configparser.RawConfigParser(
        strict=False,
        allow_no_value=True,
        empty_lines_in_values=False,
        default_section="\x02",
        comment_prefixes=("#", ";"),
        delimiters=("=", ":"),
    )
    parser.optionxform = str  # type: ignore[method-assign, assignment]
    # As ASCII with stray bytes kept: blanks of other alphabets are no blanks here.
    ascii_text = text.decode("ascii", "surrogateescape")
    problem = "it is read in another way by Python's configparser"
    try:
        parser.read_string(f"[{_NO_SECTION}]\n{ascii_text}")
    except (configparser.Error, AttributeError) as error:
        return refused(path, None, problem, f"edit it by hand ({type(error).__name__})")
    theirs = {name: dict(parser.items(name)) for name in parser.sections()}
    ours = {_as_theirs(name): members for name, members in written.items()}
    for name in {*theirs, *ours}:
        mine = {_as_theirs(key): value for key, value in ours.get(name, {}).items()}
        if mine != {key: _as_bytes(value) for key, value in theirs.get(name, {}).items()}:
            return refused(path, None, f"{problem} (section {name!r})", "edit it by hand")
    return None


def _as_theirs(name: str) -> str:
    return encode(name).decode("ascii", "surrogateescape") if name else _NO_SECTION


def _as_bytes(value: str | None) -> bytes | None:
    return None if value is None else value.encode("ascii", "surrogateescape")
