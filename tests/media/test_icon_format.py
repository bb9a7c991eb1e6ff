"""Formats of small pictures, read and written; ImageMagick and netpbm look at what came out."""

from __future__ import annotations

import gzip
import shutil
import subprocess
from io import BytesIO

import pytest
from PIL import Image

from workbench.errors import MediaError
from workbench.media.fitting import fit_clear
from workbench.media.icon_format import IconFormat, encode_icon, plain_format, read_format

CLEAR = Image.new("RGBA", (8, 6), (250, 0, 10, 255))
CLEAR.paste((0, 0, 0, 0), (0, 0, 4, 6))


def pixels(image: Image.Image) -> list[tuple[int, ...]]:
    raw = image.tobytes()
    return [tuple(raw[at : at + 4]) for at in range(0, len(raw), 4)]


def saved(mode: str, container: str, colours: int = 256, **wishes: object) -> bytes:
    buffer = BytesIO()
    picture = CLEAR.convert(mode)
    if mode == "P":
        picture = CLEAR.convert("RGB").quantize(colours)
        picture.putpalette((picture.getpalette() + [0] * 768)[: 3 * colours])
    picture.save(buffer, container, **wishes)
    return buffer.getvalue()


SAMPLES = {
    "RGBA PNG": (saved("RGBA", "PNG"), IconFormat("png", "colour", 8, True)),
    "RGB PNG": (saved("RGB", "PNG"), IconFormat("png", "colour", 8, False)),
    "grey PNG": (saved("L", "PNG"), IconFormat("png", "grey", 8, False)),
    "grey clear PNG": (saved("LA", "PNG"), IconFormat("png", "grey", 8, True)),
    "1-bit PNG": (saved("1", "PNG"), IconFormat("png", "grey", 1, False)),
    "16 colours": (saved("P", "PNG", 16), IconFormat("png", "palette", 4, False)),
    "clear palette": (saved("P", "PNG", transparency=0), IconFormat("png", "palette", 8, True)),
    "BMP": (saved("RGB", "BMP"), IconFormat("bmp", "colour", 8, False, rows="bottom-up")),
    "JPEG": (saved("RGB", "JPEG"), IconFormat("jpeg", "colour", 8, False)),
    "GIF": (saved("P", "GIF"), IconFormat("gif", "palette", 8, False)),
    "packed BMP": (
        gzip.compress(saved("RGB", "BMP"), mtime=0),
        IconFormat("bmp", "colour", 8, False, gzip=True, rows="bottom-up"),
    ),
}


@pytest.mark.parametrize("name", SAMPLES)
def test_a_format_is_read(name):
    """What Pillow wrote is named as what it is, with its size."""
    raw, wanted = SAMPLES[name]
    assert read_format(raw) == (wanted, (8, 6))
    assert wanted.describe((8, 6)).startswith("8×6 ")


@pytest.mark.parametrize("name", SAMPLES)
def test_what_is_written_has_the_format(name):
    """A picture written in a format reads back as that format, in another size too."""
    raw, wanted = SAMPLES[name]
    image = CLEAR.resize((12, 10), Image.Resampling.NEAREST)
    content = encode_icon(image, wanted, raw)
    found, size = read_format(content)
    assert (found, size) == (wanted, (12, 10))


def magick(content: bytes, sort: str) -> bytes:
    """RGBA of a picture as ImageMagick reads it."""
    words = ["convert", f"{sort}:-", "-depth", "8", "rgba:-"]
    return subprocess.run(words, input=content, capture_output=True, check=True).stdout


@pytest.mark.skipif(shutil.which("convert") is None, reason="ImageMagick is not installed")
@pytest.mark.parametrize("name", ["RGBA PNG", "RGB PNG", "16 colours", "clear palette", "BMP", "GIF"])
def test_imagemagick_sees_the_same_pixels(name):
    """ImageMagick reads every pixel as it was, see-through ones included where the format has such."""
    raw, wanted = SAMPLES[name]
    content = encode_icon(CLEAR, wanted, raw, (7, 8, 9))
    ground = Image.new("RGBA", CLEAR.size, (7, 8, 9, 255))
    expected = CLEAR if wanted.has_alpha else Image.alpha_composite(ground, CLEAR)
    seen = Image.frombytes("RGBA", CLEAR.size, magick(content, wanted.container))
    for one, other in zip(pixels(seen), pixels(expected), strict=True):
        # What is quite clear has no colour to compare.
        assert one[3] == other[3] and (one[3] == 0 or one == other)


@pytest.mark.skipif(shutil.which("pngtopam") is None, reason="netpbm is not installed")
def test_netpbm_sees_the_alpha():
    """netpbm's pngtopam reads the alpha of a PNG that we wrote, pixel for pixel."""
    content = encode_icon(CLEAR, SAMPLES["RGBA PNG"][1])
    words = ["pngtopam", "-alphapam"]
    pam = subprocess.run(words, input=content, capture_output=True, check=True).stdout
    assert b"RGB_ALPHA" in pam
    assert pam.partition(b"ENDHDR\n")[2] == CLEAR.tobytes()


@pytest.mark.parametrize("fit", ["contain", "cover", "stretch", "centre"])
def test_fitted_pictures_stay_clear(fit):
    """Whatever the fit, the size is exact, bars are clear, and no colour bleeds in from clear pixels."""
    fitted = fit_clear(CLEAR, 40, 40, fit)
    assert (fitted.size, fitted.mode) == ((40, 40), "RGBA")
    if fit in ("contain", "centre"):
        assert fitted.getpixel((0, 0))[3] == 0
    solid = [pixel for pixel in pixels(fitted) if pixel[3] == 255]
    assert solid and all(pixel[0] >= 245 for pixel in solid)


@pytest.mark.parametrize("raw", [
    b"", b"\x89PNG\r\n\x1a\n", b"\x89PNG\r\n\x1a\n" + b"\0" * 40, b"GIF89a", b"BM", b"nothing",
    b"\xff\xd8\xff",
    b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR\xff\xff\xff\xff\xff\xff\xff\xff\x08\x06\0\0\0aaaa",
])  # fmt: skip
def test_what_is_no_picture_is_refused(raw):
    """Torn heads, other files and impossible sizes end in one error."""
    with pytest.raises(MediaError):
        read_format(raw)


def test_a_suffix_alone_says_little():
    """With nobody to go by, the suffix decides, in any case; an unknown one decides nothing."""
    assert plain_format(".PNG") == IconFormat("png", "colour", 8, True)
    assert plain_format(".xyz") is None
