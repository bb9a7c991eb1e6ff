"""Writing back what was read: the answer is in the kind that is there."""

from __future__ import annotations

import io
import struct

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from splash_samples import BMP_LAYOUTS, RAW_LAYOUTS, kind, layout_name, magick_pixels, photo, ramp

from workbench.errors import MediaError
from workbench.media.codec import decode_picture, encode_picture
from workbench.media.kind_reader import read_kind
from workbench.media.levels import DITHERS
from workbench.media.packing import pack_gzip


def _images(most: int = 12) -> st.SearchStrategy[Image.Image]:
    sizes = st.tuples(st.integers(1, most), st.integers(1, most))
    return sizes.flatmap(
        lambda size: st.binary(min_size=3 * size[0] * size[1], max_size=3 * size[0] * size[1]).map(
            lambda pixels: Image.frombytes("RGB", size, pixels)
        )
    )


@settings(max_examples=25, deadline=None)
@given(image=_images(), dither=st.sampled_from(DITHERS), is_packed=st.booleans(), data=st.data())
@pytest.mark.parametrize("layout", BMP_LAYOUTS + RAW_LAYOUTS, ids=layout_name)
def test_what_was_read_is_written_back(layout, image, dither, is_packed, data):
    """Any size, odd widths too: the kind is told from the bytes, the same pixels give the same bytes."""
    wish = kind(layout, *image.size, gzip=is_packed)
    raw = encode_picture(image, wish, dither=dither)
    told = read_kind(raw, {**layout, "width": image.width, "height": image.height})
    shown = decode_picture(raw, told)
    again = encode_picture(shown, told, raw, dither=data.draw(st.sampled_from(DITHERS)))
    assert (told.bits, told.masks, told.rows, told.gzip) == (wish.bits, wish.masks, wish.rows, is_packed)
    assert decode_picture(again, told).tobytes() == shown.tobytes()
    if wish.bits > 8:
        assert again == raw
    if wish.bits >= 24:
        assert shown.convert("RGB").tobytes() == image.tobytes()


@settings(max_examples=25, deadline=None)
@given(image=_images())
@pytest.mark.parametrize("bits", [24, 32])
def test_png_keeps_pixels_and_colour_type(bits, image):
    """PNG is lossless; its colour type (RGB 2, RGBA 6) is that of the file there."""
    raw = encode_picture(image, kind({"container": "png", "bits": bits}, *image.size))
    told = read_kind(raw)
    again = encode_picture(decode_picture(raw, told), told, raw)
    assert (told.bits, again[25]) == (bits, {24: 2, 32: 6}[bits])
    assert decode_picture(again, told).convert("RGB").tobytes() == image.tobytes()


@pytest.mark.parametrize("mode", ["L", "P", "LA", "RGBA", "RGB", "1"])
def test_png_answers_in_the_mode_that_is_there(mode):
    """Grey stays grey, a palette stays a palette."""
    held = io.BytesIO()
    photo(20, 10).convert(mode).save(held, "PNG", dpi=(72, 72))
    told = read_kind(held.getvalue())
    again = encode_picture(photo(20, 10).convert("RGB"), told, held.getvalue())
    if mode != "1":  # two colours are no kind for a splash: written as full colours
        assert again[24:26] == held.getvalue()[24:26]
        assert read_kind(again).bits == told.bits
    assert Image.open(io.BytesIO(again)).info["dpi"] == pytest.approx((72, 72), abs=0.1)


@pytest.mark.parametrize("quality", [40, 85])
@pytest.mark.parametrize("sampling", [0, 2])
@pytest.mark.parametrize("progressive", [False, True])
def test_jpeg_follows_the_file_there(quality, sampling, progressive):
    """Same quantisation tables, colour resolution and scan kind (ITU-T T.81: SOF0 or SOF2)."""
    from PIL.JpegImagePlugin import get_sampling

    held = io.BytesIO()
    photo(64, 48).save(held, "JPEG", quality=quality, subsampling=sampling, progressive=progressive)
    there = Image.open(io.BytesIO(held.getvalue()))
    told = read_kind(held.getvalue())
    again = Image.open(io.BytesIO(encode_picture(ramp(64, 48), told, held.getvalue())))
    assert again.quantization == there.quantization
    assert get_sampling(again) == get_sampling(there)
    assert ("progressive" in again.info) == progressive


def test_grey_jpeg_stays_grey():
    """One component in, one component out."""
    held = io.BytesIO()
    photo(16, 16).convert("L").save(held, "JPEG")
    told = read_kind(held.getvalue())
    assert told.describe().startswith("16×16 JPEG, 8 bits")
    assert Image.open(io.BytesIO(encode_picture(ramp(16, 16), told, held.getvalue()))).mode == "L"


def test_everything_but_pixels_is_kept():
    """Resolution, reserved fields, a gap before the pixels and bytes behind them survive an answer."""
    plain = encode_picture(ramp(6, 2), kind({"container": "bmp", "bits": 24}, 6, 2))
    head = bytearray(plain[:54])
    struct.pack_into("<HHI", head, 6, 7, 9, 60)
    struct.pack_into("<ii", head, 38, 2835, 2834)
    odd = bytes(head) + b"a gap!" + plain[54:] + b"tail"
    odd = odd[:2] + struct.pack("<I", len(odd)) + odd[6:]
    told = read_kind(odd)
    again = encode_picture(Image.new("RGB", (6, 2), "white"), told, odd)
    assert told.resolution == (2835, 2834)
    assert again[:60] == odd[:60] and again[-4:] == b"tail" and len(again) == len(odd)
    assert encode_picture(ramp(6, 2), told, odd) == odd


def test_a_wrong_file_size_is_put_right():
    """A loader that reads as many bytes as offset 2 says must find them all (U-Boot, cmd/bmp.c)."""
    raw = bytearray(encode_picture(ramp(4, 4), kind({"container": "bmp", "bits": 24}, 4, 4)))
    struct.pack_into("<I", raw, 2, 17)
    again = encode_picture(ramp(4, 4), read_kind(bytes(raw)), bytes(raw))
    assert struct.unpack_from("<I", again, 2)[0] == len(again)


@pytest.mark.parametrize(("fourth", "expected"), [(b"\0", 0), (b"\xff", 255), (b"\x80", 255)])
def test_the_unused_fourth_byte_follows_the_file(fourth, expected):
    """32 bits without masks: a loader may take that byte for alpha, so it is as it was."""
    raw = bytearray(encode_picture(ramp(4, 4), kind({"container": "bmp", "bits": 32}, 4, 4)))
    raw[57::4] = fourth * 16
    again = encode_picture(ramp(4, 4), read_kind(bytes(raw)), bytes(raw))
    assert set(again[57::4]) == {expected}


def test_an_alpha_that_was_never_used_stays_zero():
    """Raw BGRA with a zero fourth byte shows as solid, and is answered with zero."""
    layout = {"container": "raw", "bits": 32}
    raw = bytearray(encode_picture(ramp(4, 4), kind(layout, 4, 4)))
    assert set(raw[3::4]) == {255}
    raw[3::4] = bytes(16)
    told = read_kind(bytes(raw), {**layout, "width": 4, "height": 4})
    assert decode_picture(bytes(raw), told).mode == "RGB"
    assert encode_picture(ramp(4, 4), told, bytes(raw)) == bytes(raw)


@pytest.mark.parametrize(
    "masks",
    [(0xFF, 0xFF00, 0xFF0000, 0), (0xFF000000, 0xFF0000, 0xFF00, 0xFF), (0xFF00, 0xFF0000, 0xFF000000, 0)],
)
def test_other_byte_orders_of_32_bits(masks, tmp_path):
    """Any order of whole bytes is read and answered, and ImageMagick agrees."""
    raw = bytearray(encode_picture(ramp(5, 3), kind({"container": "bmp", "bits": 32, "masks": "8888"}, 5, 3)))
    struct.pack_into("<4I", raw, 54, *masks)
    told = read_kind(bytes(raw))
    answer = encode_picture(ramp(5, 3), told, bytes(raw))
    assert decode_picture(answer, told).convert("RGB").tobytes() == ramp(5, 3).tobytes()
    (tmp_path / "x.bmp").write_bytes(answer)
    assert magick_pixels(tmp_path / "x.bmp") == ramp(5, 3).tobytes()


def test_a_short_palette_stays_as_short():
    """A file with 16 entries is answered with at most 16 colours, at the same size."""
    held = io.BytesIO()
    photo(20, 20).quantize(16).save(held, "BMP")
    told = read_kind(held.getvalue())
    answer = encode_picture(ramp(20, 20), told, held.getvalue())
    assert told.colours == 16 and len(answer) == len(held.getvalue())
    assert len(Image.open(io.BytesIO(answer)).convert("RGB").getcolors()) <= 16


def test_gzip_answers_with_the_header_that_is_there():
    """RFC 1952: name, time and operating system of the file replaced; the content is new."""
    import gzip

    plain = encode_picture(ramp(8, 8), kind({"container": "bmp", "bits": 24}, 8, 8))
    held = io.BytesIO()
    with gzip.GzipFile("greet.bmp", "wb", 9, held, mtime=86_400) as file:
        file.write(plain)
    told = read_kind(held.getvalue())
    answer = encode_picture(Image.new("RGB", (8, 8), "red"), told, held.getvalue())
    name_ends = 10 + len("greet.bmp") + 1
    assert answer[:name_ends] == held.getvalue()[:name_ends]
    assert read_kind(gzip.decompress(answer)).describe().startswith("8×8 BMP, 24 bits")


@pytest.mark.parametrize("size", [(7, 8), (8, 9), (4, 4)])
def test_the_wrong_size_is_refused(size):
    """A picture that was not fitted never lands in a splash."""
    with pytest.raises(MediaError, match="but the splash is 8×8"):
        encode_picture(ramp(*size), kind({"container": "bmp", "bits": 24}, 8, 8))


@pytest.mark.parametrize("cut", [30, 60, 200])
@pytest.mark.parametrize("container", ["png", "jpeg", "bmp", "raw"])
def test_a_torn_splash_is_a_sentence(container, cut):
    """Cut anywhere, gzip or not: a MediaError, nothing else."""
    hint = {"container": container, "width": 32, "height": 32}
    whole = encode_picture(photo(32, 32), kind({"container": container}, 32, 32))
    told = read_kind(whole, hint)
    torn = whole[:-cut]
    with pytest.raises(MediaError):
        decode_picture(torn, told)
    with pytest.raises(MediaError):
        decode_picture(pack_gzip(whole)[:-cut], read_kind(pack_gzip(whole), hint))
