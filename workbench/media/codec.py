"""A splash's bytes to a picture, and a picture to bytes of exactly that kind.

Writing back a picture that was read gives the bytes that were there for BMP and raw pixels above 8 bits,
and the same pixels for palettes and PNG.
"""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Any

from workbench.errors import MediaError
from workbench.media import bitmap
from workbench.media.kind import SplashKind
from workbench.media.levels import Dither
from workbench.media.packing import pack_gzip, unpack_gzip
from workbench.media.pixels import follow_unused, pack_pixels, reduce_colours, row_bytes, unpack_pixels
from workbench.media.plugins import load_with_plugin
from workbench.values import replace

if TYPE_CHECKING:
    from PIL.Image import Image

_QUALITY = 92
"""JPEG without a neighbour to follow; full colour resolution, baseline, which every decoder reads."""


def decode_picture(raw: bytes, kind: SplashKind) -> Image:
    """The picture as it is stored (its turn not undone): RGB, or RGBA where alpha is in use.

    Raises:
        MediaError: damaged, or a layout that is not known here.
    """
    unpacked = unpack_gzip(raw) if kind.gzip else raw
    if kind.container == "raw":
        if len(unpacked) != row_bytes(kind) * kind.height:
            raise MediaError(f"raw pixels of {kind.width}×{kind.height} do not make {len(unpacked):,} bytes")
        return unpack_pixels(unpacked, kind)
    if kind.container == "bmp" and not kind.is_run_length:
        header = bitmap.read_header(unpacked)
        rows = unpacked[header.offset : header.offset + header.pixel_bytes]
        return unpack_pixels(rows, kind, unpacked[header.palette_at : header.offset])
    return load_with_plugin(unpacked, kind.container)


def encode_picture(
    image: Image, kind: SplashKind, like: bytes | None = None, *, dither: Dither = "ordered"
) -> bytes:
    """The bytes of a splash of that kind.

    Args:
        image: RGB or RGBA, of the kind's size, turned already.
        like: the file that is answered; of its own kind, everything that is no pixel is kept.

    Raises:
        MediaError: the wrong size, or a kind that is read only.
    """
    if image.size != (kind.width, kind.height):
        raise MediaError(
            f"the picture is {image.width}×{image.height} after its turn, "
            f"but the splash is {kind.width}×{kind.height}"
        )
    if kind.is_run_length:
        raise MediaError(
            "the splash there is packed by runs, which is read but not written here; "
            "ask for another kind (bits = 8)"
        )
    old = unpack_gzip(like) if like is not None and like[:2] == b"\x1f\x8b" else like
    encode = {"bmp": _encode_bitmap, "raw": _encode_raw, "png": _encode_png, "jpeg": _encode_jpeg}
    content = encode[kind.container](image, kind, old, dither)
    return pack_gzip(content, like if old is not like else None) if kind.gzip else content


def _encode_raw(image: Image, kind: SplashKind, old: bytes | None, dither: Dither) -> bytes:
    layout, filler = follow_unused(old or b"", kind)
    return pack_pixels(image, layout, dither, filler=filler)[0]


def _encode_bitmap(image: Image, kind: SplashKind, old: bytes | None, dither: Dither) -> bytes:
    if old is None or not _is_same_kind(old, kind):
        head, rows, palette = bitmap.build_header(kind), *pack_pixels(image, kind, dither)
        return head[: len(head) - len(palette)] + palette + rows
    header = bitmap.read_header(old)
    end = header.offset + header.pixel_bytes
    layout, filler = follow_unused(old[header.offset : end], kind)
    room = min(kind.colours, (header.offset - header.palette_at) // 4)
    rows, palette = pack_pixels(image, replace(layout, colours=room), dither, filler=filler)
    head = old[: header.palette_at] + palette + old[header.palette_at + len(palette) : header.offset]
    return bitmap.state_size(head, len(old)) + rows + old[end:]


def _is_same_kind(old: bytes, kind: SplashKind) -> bool:
    if not bitmap.is_bitmap(old):
        return False
    there = bitmap.kind_of(old)
    return there == replace(kind, gzip=False, size=there.size, unpacked=there.unpacked)


def _encode_png(image: Image, kind: SplashKind, old: bytes | None, dither: Dither) -> bytes:
    mode = {8: "P", 24: "RGB", 32: "RGBA"}.get(kind.bits, "RGB")
    wishes: dict[str, Any] = {}
    if old is not None and old[:4] == b"\x89PNG":
        mode, wishes = _follow_png(old, mode, kind)
    flat = image.convert("RGB")
    if mode == "P":
        pictured = reduce_colours(flat, 256, dither)
    else:
        pictured = image.convert(mode) if mode == "RGBA" else flat.convert(mode)
    return _save(pictured, "PNG", optimize=False, **wishes)


def _follow_png(old: bytes, mode: str, kind: SplashKind) -> tuple[str, dict[str, Any]]:
    from PIL.PngImagePlugin import PngImageFile

    samples = {0: "L", 2: "RGB", 3: "P", 4: "LA", 6: "RGBA"}.get(old[25], mode)
    there = {"L": 8, "P": 8, "RGB": 24, "LA": 16, "RGBA": 32}[samples]
    resolution = PngImageFile(io.BytesIO(old)).info.get("dpi")
    wishes = {"dpi": resolution} if resolution else {}
    return (samples if there == kind.bits else mode), wishes


def _encode_jpeg(image: Image, kind: SplashKind, old: bytes | None, _dither: Dither) -> bytes:
    wishes: dict[str, Any] = {"quality": _QUALITY, "subsampling": 0}
    if old is not None and old[:2] == b"\xff\xd8":
        wishes = _follow_jpeg(old)
    if kind.bits not in (8, 24):
        raise MediaError("the splash there is a JPEG in four inks, which is read but not written here")
    return _save(image.convert("RGB").convert("L" if kind.bits == 8 else "RGB"), "JPEG", **wishes)


def _follow_jpeg(old: bytes) -> dict[str, Any]:
    """Same quantisation, same colour resolution, same scan kind as the file there."""
    from PIL.JpegImagePlugin import JpegImageFile, get_sampling

    there = JpegImageFile(io.BytesIO(old))
    wishes: dict[str, Any] = {"qtables": there.quantization, "progressive": "progressive" in there.info}
    if (sampling := get_sampling(there)) >= 0:
        wishes["subsampling"] = sampling
    if "dpi" in there.info:
        wishes["dpi"] = there.info["dpi"]
    return wishes


def _save(image: Image, container: str, **wishes: Any) -> bytes:
    buffer = io.BytesIO()
    image.save(buffer, container, **wishes)
    return buffer.getvalue()
