"""BMP byte counts and header fields, against the format's published layout.

Source: Microsoft, BITMAPFILEHEADER, BITMAPINFOHEADER, BITMAPV4HEADER, BITMAPV5HEADER (wingdi.h); the counts
are arithmetic from stride = floor((width * bits + 31) / 32) * 4.
"""

from __future__ import annotations

import struct

import pytest
from PIL import Image
from splash_samples import kind

from workbench.errors import MediaError
from workbench.media.bitmap import read_header
from workbench.media.codec import encode_picture
from workbench.media.kind_reader import read_kind

COUNTS = [
    (640, 480, 24, None, 1920, 921_654),
    (640, 480, 16, "565", 1280, 614_466),
    (640, 480, 16, None, 1280, 614_454),
    (640, 480, 32, None, 2560, 1_228_854),
    (640, 480, 8, None, 640, 308_278),
    (720, 480, 24, None, 2160, 1_036_854),
    (1, 1, 24, None, 4, 58),
    (3, 2, 24, None, 12, 78),
    (641, 480, 24, None, 1924, 923_574),
    (641, 480, 16, "565", 1284, 616_386),
    (641, 480, 8, None, 644, 310_198),
    (320, 240, 24, None, 960, 230_454),
    (720, 720, 24, None, 2160, 1_555_254),
    (512, 384, 24, None, 1536, 589_878),
]


@pytest.mark.parametrize(("width", "height", "bits", "masks", "stride", "count"), COUNTS)
def test_a_new_bitmap_has_the_bytes_of_its_kind(width, height, bits, masks, stride, count):
    """File size, its field, stride and offset are those of the format."""
    layout = {"container": "bmp", "bits": bits, **({"masks": masks} if masks else {})}
    raw = encode_picture(Image.new("RGB", (width, height), "navy"), kind(layout, width, height))
    offset, header = struct.unpack_from("<I", raw, 10)[0], struct.unpack_from("<IiiHHIIiiII", raw, 14)
    assert len(raw) == count == struct.unpack_from("<I", raw, 2)[0]
    assert header[:5] == (40, width, height, 1, bits)
    assert header[5] == (3 if masks else 0)
    assert header[6] == stride * height == len(raw) - offset


@pytest.mark.parametrize(("header", "masks_at"), [(40, 54), (56, 54), (108, 54), (124, 54)])
def test_masks_stand_where_the_format_wants_them(header, masks_at):
    """A 40-byte header is followed by F800 07E0 001F, longer ones hold them; pixels begin behind."""
    raw = encode_picture(
        Image.new("RGB", (4, 1)),
        kind({"container": "bmp", "bits": 16, "masks": "565", "header": header}, 4, 1),
    )
    assert struct.unpack_from("<3I", raw, masks_at) == (0xF800, 0x07E0, 0x001F)
    assert struct.unpack_from("<I", raw, 10)[0] == 14 + header + (12 if header == 40 else 0)


@pytest.mark.parametrize("header", [108, 124])
def test_long_headers_name_srgb(header):
    """V4 and V5 state LCS_sRGB ('sRGB', stored least byte first) at offset 70, the alpha mask at 66."""
    layout = {"container": "bmp", "bits": 32, "masks": "8888", "header": header}
    raw = encode_picture(Image.new("RGB", (4, 1)), kind(layout, 4, 1))
    assert raw[70:74] == b"BGRs"
    assert struct.unpack_from("<4I", raw, 54) == (0xFF0000, 0xFF00, 0xFF, 0xFF000000)


def test_rows_from_the_top_have_a_negative_height():
    """BITMAPINFOHEADER: a negative height means top-down; the first stored row is the top one."""
    image = Image.new("RGB", (4, 2), "black")
    image.putpixel((0, 0), (255, 0, 0))
    up = encode_picture(image, kind({"container": "bmp", "bits": 24}, 4, 2))
    down = encode_picture(image, kind({"container": "bmp", "bits": 24, "rows": "top-down"}, 4, 2))
    assert struct.unpack_from("<i", up, 22)[0] == 2 and struct.unpack_from("<i", down, 22)[0] == -2
    assert down[54:57] == b"\0\0\xff" and up[54 + 12 : 54 + 15] == b"\0\0\xff"


def test_a_palette_is_blue_green_red_nought_and_whole():
    """Eight bits: 256 entries of four bytes even for one colour, the pixels at 1078."""
    raw = encode_picture(Image.new("RGB", (4, 1), (1, 2, 3)), kind({"container": "bmp", "bits": 8}, 4, 1))
    index = raw[1078]
    assert struct.unpack_from("<I", raw, 10)[0] == 1078
    assert raw[54 + 4 * index : 58 + 4 * index] == bytes((3, 2, 1, 0))


def test_row_padding_is_zero():
    """What fills a row up to four bytes is zero, in every depth."""
    for bits in (8, 16, 24):
        raw = encode_picture(
            Image.new("RGB", (3, 2), "white"), kind({"container": "bmp", "bits": bits}, 3, 2)
        )
        header = read_header(raw)
        stride, used = header.pixel_bytes // 2, 3 * bits // 8
        rows = raw[header.offset :]
        assert rows[used:stride].strip(b"\0") == b"" == rows[stride + used :].strip(b"\0")


def _bitmap(**changes: int) -> bytes:
    fields = {"size": 40, "width": 4, "height": 1, "bits": 24, "compression": 0, "offset": 54} | changes
    head = struct.pack("<2sIHHI", b"BM", 0, 0, 0, fields["offset"])
    order = (fields["size"], fields["width"], fields["height"], 1, fields["bits"], fields["compression"])
    return head + struct.pack("<IiiHHIIiiII", *order, 0, 0, 0, 0, 0) + bytes(12)


@pytest.mark.parametrize(
    ("raw", "words"),
    [
        (b"BM", "torn"),
        (_bitmap()[:-1], "1 bytes of its pixels are missing"),
        (_bitmap(width=0), "no picture"),
        (_bitmap(width=-4), "no picture"),
        (_bitmap(height=0), "no picture"),
        (_bitmap(width=60000, height=60000), "80,000,000 is the most"),
        (_bitmap(bits=17), "no reader knows"),
        (_bitmap(bits=24, compression=3), "no reader knows"),
        (_bitmap(compression=4), "no reader knows"),
        (_bitmap(size=12), "header of 12 bytes"),
        (_bitmap(offset=20), "inside its own header"),
        (_bitmap(height=-(2**31)), "is the most"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_a_bitmap_that_lies_is_refused_in_a_sentence(raw, words):
    """Nothing is decoded on a false claim, and no claim takes memory."""
    with pytest.raises(MediaError, match=words):
        read_kind(raw)


def test_unknown_masks_are_read_as_a_kind_and_refused_as_pixels():
    """4-4-4 is said by name of its masks, not guessed at."""
    raw = bytearray(
        encode_picture(Image.new("RGB", (4, 1)), kind({"container": "bmp", "bits": 16, "masks": "565"}, 4, 1))
    )
    struct.pack_into("<3I", raw, 54, 0xF00, 0xF0, 0xF)
    from workbench.media.codec import decode_picture

    told = read_kind(bytes(raw))
    assert told.masks == "other" and "4-4-4" in told.describe()
    with pytest.raises(MediaError, match="0F00 00F0 000F 0000 are not known"):
        decode_picture(bytes(raw), told)
