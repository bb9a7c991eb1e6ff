"""A format is told by content, the name settling what the content leaves open."""

import pytest

from workbench.manifests.detection import detect_format
from workbench.manifests.document import MAX_BYTES


@pytest.mark.parametrize(
    ("name", "raw", "format"),
    [
        ("register", b'{"a": 1}', "json"),
        ("register.txt", b'\xef\xbb\xbf\n// why\n{"a": 1}', "json"),
        ("register.json", b"{broken", "json"),
        ("list", b'["a", 1]', "json"),
        ("list.json", b"[a]", "json"),
        ("list.ini", b"[a]\nx=1", "ini"),
        ("list", b"[a]\nx=plain words", "ini"),
        ("list", b"; made by hand\r\n[a]\r\nx=plain words\r\n", "ini"),
        ("list", b'[a]\nx = "quoted"', "toml"),
        ("list.toml", b"[a]\nx = broken", "toml"),
        ("list.cfg", b'[a]\nx = "quoted"', "ini"),
        ("list", b'[[things]]\nid = "x"\n', "toml"),
        ("menu", b'<?xml version="1.0"?><menu/>', "xml"),
        ("menu.txt", b"<menu><item></menu>", "xml"),
        ("menu", b"<?xml version='1.0' encoding='iso-8859-1'?><a>\xe9</a>", "xml"),
        ("begin", b"#!/bin/sh\necho", "shell"),
        ("begin", b"\xef\xbb\xbf#!/usr/bin/env -S bash -e\r\n", "shell"),
        ("begin", b"#!/usr/bin/python3\nprint()", None),
        ("begin", b"A=1\nexec /mnt/x \"$A\"\n", "shell"),
        ("begin.sh", b"A=1\n", "shell"),
        ("play.conf", b"a=1\nb = 2\n# c\n", "keyvalue"),
        ("play", b"a=1\nb = 2\n", "keyvalue"),
        ("play.toml", b"a = 1\n", "toml"),
        ("lately.txt", b"Boats\nTales\n", "lines"),
        ("lately", b"Boats\nTales\n", "lines"),
        ("lately.m3u8", b"#EXTM3U\na/b.mp3\n", "lines"),
        ("lately.txt", b"a=1\n", "lines"),
        ("empty.json", b" \n", "json"),
        ("empty", b"", None),
        ("x.json", b'{"a": "\0"}', None),
        ("x.txt", b"caf\xe9", "lines"),
        ("x.ini", b"[a]\nx=caf\xe9", "ini"),
        ("x.json", b'"caf\xe9"', None),
        ("broken.ini", b"[a\nx=1\n", "ini"),
        ("menu", '<?xml version="1.0"?><a/>'.encode("utf-16"), "xml"),
        ("x.txt", "é".encode("utf-16"), None),
        ("x.png", b"\x89PNG\r\n\x1a\n", None),
        ("x.txt", b"a" * (MAX_BYTES + 1), None),
    ],
)  # fmt: skip
def test_format_is_told(name: str, raw: bytes, format: str | None) -> None:
    """Common practice; there is no source for how to tell formats apart."""
    assert detect_format(name, raw) == format
