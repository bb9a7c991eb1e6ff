"""gzip against RFC 1952 and Python's own module."""

from __future__ import annotations

import gzip
import struct
import subprocess

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workbench.errors import MediaError
from workbench.media.packing import pack_gzip, unpack_gzip

CONTENT = bytes(range(256)) * 40


@given(st.binary(max_size=4000))
def test_what_is_packed_unpacks_to_the_same(content):
    """Ours and the library's agree both ways."""
    assert gzip.decompress(pack_gzip(content)) == content == unpack_gzip(gzip.compress(content))


def test_a_new_header_holds_no_name_and_no_time():
    """RFC 1952 2.3: ID 1F 8B, CM 8, FLG 0, MTIME 0, OS 3 (Unix); CRC-32 and length end it."""
    packed = pack_gzip(CONTENT)
    assert packed[:10] == bytes.fromhex("1f8b0800000000000003")
    assert struct.unpack("<I", packed[-4:])[0] == len(CONTENT)
    assert packed == pack_gzip(CONTENT)


@pytest.mark.parametrize("flags", ["", "x", "n", "c", "xnc"])
def test_a_neighbours_header_is_kept(flags):
    """FEXTRA, FNAME and FCOMMENT, with time and OS, come through; the system's gzip reads the result."""
    bits = {"x": 4, "n": 8, "c": 16}
    head = b"\x1f\x8b\x08" + bytes([sum(bits[flag] for flag in flags)]) + struct.pack("<IBB", 1_000_000, 2, 7)
    fields = {"x": b"\x05\0abcde", "n": b"boot.bmp\0", "c": b"made by hand\0"}
    head += b"".join(fields[flag] for flag in flags)
    old = head + pack_gzip(b"old")[10:]
    packed = pack_gzip(CONTENT, old)
    assert packed.startswith(head)
    assert subprocess.run(["gzip", "-dc"], input=packed, capture_output=True, check=True).stdout == CONTENT


@pytest.mark.parametrize(
    "torn",
    [b"\x1f\x8b\x08", b"\x1f\x8b\x08\x08\0\0\0\0\0\3no end", b"no gzip at all"],
    ids=["3 bytes", "no end of name", "none"],
)
def test_a_torn_header_is_not_followed(torn):
    """Nothing to follow: the plain header is used."""
    assert pack_gzip(CONTENT, torn)[:10] == bytes.fromhex("1f8b0800000000000003")


def _lying(content: bytes, length: int) -> bytes:
    return gzip.compress(content, mtime=0)[:-4] + struct.pack("<I", length)


@pytest.mark.parametrize(
    ("packed", "words"),
    [
        (_lying(CONTENT, 12), "lies about its size"),
        (_lying(CONTENT, 2**32 - 1), "lies about its size"),
        (gzip.compress(CONTENT, mtime=0)[:-8] + bytes(8), "checksum"),
        (gzip.compress(CONTENT, mtime=0)[:-1], "ends early"),
        (gzip.compress(CONTENT, mtime=0)[:40], "ends early"),
        (b"\x1f\x8b\x08\0" + bytes(6) + b"\xff" * 40, "damaged"),
        (b"\x1f\x8b\x07" + bytes(20), "damaged"),
    ],
    ids=["length 12", "length 4 GiB", "checksum", "a byte short", "head only", "scrambled", "no deflate"],
)
def test_damage_is_a_sentence(packed, words):
    """A lying trailer, a wrong checksum, a torn or scrambled body."""
    with pytest.raises(MediaError, match=words):
        unpack_gzip(packed)


def test_a_bomb_is_stopped_while_it_unpacks():
    """The count of real bytes decides, not the trailer, which claims 12."""
    with pytest.raises(MediaError, match="more than 100,000 bytes"):
        unpack_gzip(_lying(bytes(5_000_000), 12), limit=100_000)


def test_exactly_the_limit_is_allowed():
    """The limit itself is no bomb."""
    assert len(unpack_gzip(gzip.compress(bytes(1000)), limit=1000)) == 1000


def test_what_follows_the_first_member_is_ignored():
    """Padding of a partition or a second member is not part of the splash."""
    assert unpack_gzip(gzip.compress(b"one") + bytes(512)) == b"one"
    assert unpack_gzip(gzip.compress(b"one") + gzip.compress(b"two")) == b"one"


def test_the_same_file_is_unpacked_once_and_judged_each_time():
    """What was unpacked last is remembered for the very same bytes, within the limit that is asked for."""
    packed = gzip.compress(bytes(5000))
    assert unpack_gzip(packed) is unpack_gzip(packed)
    with pytest.raises(MediaError, match="unpacks to more"):
        unpack_gzip(packed, limit=4999)
    with pytest.raises(MediaError, match="ends early"):
        unpack_gzip(b"")
