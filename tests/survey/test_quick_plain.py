"""The quick reading of plain INI and XML gives what the strict readers give, or leaves the file to them."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbench.errors import ManifestError
from workbench.jobs.survey import quick_plain
from workbench.jobs.survey.plain import read_plain

_INI_PARTS = [
    *list("[]=:;#aA'\\"),
    "[a]",
    "[B_b]",
    "[DEFAULT]",
    "b=1",
    "c=x_y",
    '"q"',
    "%(a)s",
    "$a",
    "é",
    "/a/b.c",
]
_INI = st.lists(
    st.sampled_from([*_INI_PARTS, "n=1\n", "[s]\n", "\n", " ", "\t", "\r\n", "\x0b", "\u2028"]), max_size=14
).map("".join)
_XML_PARTS = (
    """<a> </a> <b /> > </b> t &amp; <!----> <![CDATA[x]]> <?pi?> é <a><b/> <c>word</c> x="1" x='2'"""
)
_XML = st.lists(st.sampled_from([*_XML_PARTS.split(" "), " ", "\n", "\r\n", "\t"]), max_size=14).map(
    lambda parts: "<r>" + "".join(parts) + "</r>"
)


def strictly(raw: bytes, format: str, monkeypatch: pytest.MonkeyPatch) -> Any:
    """What the strict readers say; the error where they refuse."""
    with monkeypatch.context() as patch:
        patch.setattr(quick_plain, "read_quick_ini", lambda _: None)
        patch.setattr(quick_plain, "read_quick_xml", lambda _: None)
        try:
            return read_plain(raw, format, "x")  # type: ignore[arg-type]
        except ManifestError as error:
            return error


@settings(max_examples=400, deadline=None)
@given(_INI)
def test_quick_ini_is_what_the_strict_reader_reads(text: str) -> None:
    """Whatever is taken quickly, the strict reader takes and reads the same."""
    _compare(text.encode(), "ini", quick_plain.read_quick_ini)


@settings(max_examples=400, deadline=None)
@given(_XML)
def test_quick_xml_is_what_the_strict_reader_reads(text: str) -> None:
    """The same for XML."""
    _compare(text.encode(), "xml", quick_plain.read_quick_xml)


def _compare(raw: bytes, format: str, read: Callable[[bytes], dict[str, Any] | None]) -> None:
    quick = read(raw)
    if quick is not None:
        with pytest.MonkeyPatch.context() as patch:
            assert strictly(raw, format, patch) == quick


@pytest.mark.parametrize(
    ("raw", "read"),
    [
        (b"[all]\nitem1=Alder Ferry.tap\nloud = 4\n\n; end\n", quick_plain.read_quick_ini),
        (b'<?xml version="1.0"?>\n<a>\n  <b of="x">word</b>\n  <b/>\n</a>\n', quick_plain.read_quick_xml),
    ],
)
def test_plain_files_are_read_quickly(raw: bytes, read: Callable[[bytes], object]) -> None:
    """What devices write most is not left to the slower readers."""
    assert read(raw) is not None
