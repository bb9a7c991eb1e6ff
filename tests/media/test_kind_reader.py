"""The kind is told from the bytes; the hint speaks where they are mute."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from splash_samples import kind, photo

from workbench.errors import MediaError
from workbench.media.codec import encode_picture
from workbench.media.kind_reader import kind_from_hint, read_kind

PANEL = {"width": 64, "height": 48}


@pytest.mark.parametrize(
    ("hint", "described"),
    [
        ({"container": "bmp", "bits": 24}, "64×48 BMP, 24 bits, bottom-up, 9,270 bytes"),
        (
            {"container": "bmp", "bits": 16, "masks": "565"},
            "64×48 BMP, 16 bits 5-6-5, bottom-up, 6,210 bytes",
        ),
        ({"container": "bmp", "bits": 32, "rows": "top-down"}, "64×48 BMP, 32 bits, top-down, 12,342 bytes"),
        ({"container": "raw", "bits": 16}, "64×48 raw pixels, 16 bits 5-6-5, 6,144 bytes"),
        ({"container": "raw", "bits": 32}, "64×48 raw pixels, 32 bits with alpha, 12,288 bytes"),
    ],
)
def test_a_kind_is_described_in_one_line(hint, described):
    """Size, container, depth, rows and bytes, in words a person reads."""
    raw = encode_picture(photo(64, 48), kind(hint, 64, 48))
    assert read_kind(raw, {**hint, **PANEL}).describe() == described


def test_gzip_is_described_with_both_sizes():
    """The loader's limit is on the unpacked size, so both are said."""
    raw = encode_picture(photo(64, 48), kind({"container": "bmp", "gzip": True}, 64, 48))
    assert (
        read_kind(raw).describe()
        == f"64×48 BMP, 24 bits, bottom-up, gzip, {len(raw):,} bytes (9,270 unpacked)"
    )


def test_the_file_is_believed_before_the_hint():
    """A PNG where the profile says BMP is a PNG."""
    raw = encode_picture(photo(64, 48), kind({"container": "png"}, 64, 48))
    assert read_kind(raw, {"container": "bmp", "bits": 16, **PANEL}).container == "png"


def test_raw_pixels_that_begin_like_a_bitmap_are_raw():
    """Where the profile says raw and the size is exact, the first bytes are a colour, not a magic."""
    raw = b"BM" * (64 * 48)
    assert read_kind(raw, {"container": "raw", "bits": 16, **PANEL}).container == "raw"


@pytest.mark.parametrize(("each", "bits"), [(2, 16), (3, 24), (4, 32)])
def test_without_a_hint_an_exact_size_tells_raw_pixels(each, bits):
    """A whole panel of 2, 3 or 4 bytes a pixel."""
    assert read_kind(bytes(64 * 48 * each), PANEL).bits == bits


@pytest.mark.parametrize(
    ("raw", "hint", "words"),
    [
        (b"", PANEL, "empty"),
        (b"hello", PANEL, "begin as no BMP"),
        (bytes(100), {"container": "raw", "bits": 16, **PANEL}, "do not make 100 bytes"),
        (b"\x89PNG\r\n\x1a\n", {}, "torn"),
        (b"\xff\xd8\xff\xe0\0\x10JFIF", {}, "torn"),
        (
            b"\x89PNG\r\n\x1a\n" + b"\0\0\0\rIHDR" + b"\0\1\0\0" * 2 + b"\x08\2\0\0\0" + bytes(4),
            {},
            "is the most",
        ),
        (
            b"\x89PNG\r\n\x1a\n" + b"\0\0\0\rIHDR" + b"\0\0\0\1" * 2 + b"\x08\x09\0\0\0" + bytes(4),
            {},
            "no bits",
        ),
    ],
    ids=[
        "empty",
        "text",
        "raw of another size",
        "bare PNG",
        "bare JPEG",
        "PNG bomb",
        "PNG of no colour type",
    ],
)
def test_what_is_no_splash_is_a_sentence(raw, hint, words):
    """Each refusal says what was found."""
    with pytest.raises(MediaError, match=words):
        read_kind(raw, hint)


@pytest.mark.parametrize(
    ("hint", "words"),
    [
        ({}, "names no container"),
        ({"container": "gif"}, "names no container"),
        ({"container": "jpeg", "bits": 16}, "16 bits do not go with jpeg; allowed: 8, 24"),
        ({"container": "bmp", "bits": 24, "masks": "565"}, "do not go with 24 bits"),
        ({"container": "bmp", "bits": 16, "masks": "8888"}, "allowed: 565, 555"),
        ({"container": "bmp", "header": 64}, "header of 64 bytes"),
        ({"container": "bmp", "rows": "sideways"}, "allowed: bottom-up, top-down"),
        ({"container": "bmp", "width": 90000, "height": 90000}, "is the most"),
        ({"container": "bmp", "width": 0}, "no picture"),
    ],
)
def test_a_hint_that_makes_no_kind_is_a_sentence(hint, words):
    """Found, and what is allowed."""
    with pytest.raises(MediaError, match=words):
        kind_from_hint({**PANEL, **hint})


@given(
    st.binary(max_size=200),
    st.sampled_from([b"", b"BM", b"\x89PNG\r\n\x1a\n", b"\xff\xd8\xff", b"\x1f\x8b\x08\0"]),
)
def test_no_bytes_make_it_fail_otherwise(raw, magic):
    """Whatever follows a magic: a kind, or a MediaError."""
    try:
        read_kind(magic + raw, PANEL)
    except MediaError as error:
        assert error.message
