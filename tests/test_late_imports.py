"""What stands in for slow imports answers as the standard library does."""

from __future__ import annotations

import hashlib
import subprocess
import sys

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbench import digests


@settings(deadline=None)
@given(st.binary(max_size=300), st.integers(0, 2**21))
def test_a_digest_is_the_standard_one(content: bytes, hashed: int) -> None:
    """Whichever module hashes: the interpreter's own for the first megabyte, OpenSSL after it."""
    digests._hashed = hashed
    assert digests.sha256_hex(content) == hashlib.sha256(content).hexdigest()


def test_known_digests() -> None:
    """FIPS 180-2, appendix B.1, and the empty text (from memory)."""
    digests._hashed = 0
    assert digests.sha256_hex(b"abc").startswith("ba7816bf8f01cfea414140de5dae2223")
    assert digests.sha256_hex(b"").endswith("a495991b7852b855")


PROGRAM = """
import sys
{first}
from workbench.late_urls import load_pathlib
load_pathlib()
assert {check}
from pathlib import Path
print(Path("/a b/é%?").as_uri())
import urllib.parse
print(urllib.parse.quote("a/b c"), urllib.parse.urlsplit("http://x/y").netloc)
"""


@pytest.mark.parametrize(
    ("first", "check"),
    [
        ("", "sys.version_info >= (3, 13) or not {'urllib.parse', 'ipaddress'} & {*sys.modules}"),
        ("import pathlib", "True"),
        ("import urllib.parse", "sys.modules['urllib.parse'] is urllib.parse"),
    ],
)
def test_pathlib_without_urls(first: str, check: str) -> None:
    """A path still tells its address, and `urllib.parse` is the real one for whoever imports it."""
    program = PROGRAM.format(first=first, check=check)
    done = subprocess.run([sys.executable, "-S", "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines() == ["file:///a%20b/%C3%A9%25%3F", "a/b%20c x"]
