"""Tells what kind of splash some bytes are; where the bytes are mute, the profile's hint speaks."""

from __future__ import annotations

import struct
from collections.abc import Mapping
from typing import cast

from workbench.errors import MediaError
from workbench.media import bitmap
from workbench.media.kind import CONTAINERS, MASKS, NO_CHANNELS, Container, Rows, SplashKind
from workbench.media.limits import check_pixels
from workbench.media.packing import is_gzip, unpack_gzip
from workbench.values import replace

Hint = Mapping[str, str | int | bool]
"""The profile's `kind` table (container, bits, masks, rows, gzip, header); `width` and `height` as stored."""

_PNG = b"\x89PNG\r\n\x1a\n"
_PNG_SAMPLES = {0: 1, 2: 3, 3: 1, 4: 2, 6: 4}
"""Samples of a pixel by colour type (PNG specification, table 11.1)."""
_FRAME_MARKERS = {*range(0xC0, 0xD0)} - {0xC4, 0xC8, 0xCC}
"""JPEG's start-of-frame markers (ITU-T T.81, table B.1)."""
_PLAIN_BITS = {"bmp": 24, "png": 24, "jpeg": 24, "raw": 16}
_ALLOWED_BITS = {"bmp": (1, 4, 8, 16, 24, 32), "png": (8, 24, 32), "jpeg": (8, 24), "raw": (16, 24, 32)}


def read_kind(raw: bytes, hint: Hint = {}) -> SplashKind:  # noqa: B006 - a mapping is not changed
    """The kind of a splash file's bytes.

    Raises:
        MediaError: no kind known here, damaged, or a size that fits no panel of that hint.
    """
    unpacked = unpack_gzip(raw) if is_gzip(raw) else raw
    kind = _kind_of(unpacked, hint)
    return replace(kind, gzip=unpacked is not raw, size=len(raw), unpacked=len(unpacked))


def kind_from_hint(hint: Hint) -> SplashKind:
    """The kind that a hint alone describes, for a device that has no such file yet.

    Raises:
        MediaError: no container named, or values that do not go together.
    """
    container = hint.get("container")
    if container not in CONTAINERS:
        raise MediaError(
            f"the kind of this splash is not known: no file is there and the profile names no container "
            f"({', '.join(CONTAINERS)}). Say it with `kind` in [[splash]], or put the device's own file back"
        )
    width, height = _whole(hint, "width"), _whole(hint, "height")
    check_pixels("the splash that is asked for", width, height)
    name = cast(Container, container)
    bits = _whole(hint, "bits") or _PLAIN_BITS[name]
    if bits not in _ALLOWED_BITS[name]:
        allowed = ", ".join(map(str, _ALLOWED_BITS[name]))
        raise MediaError(f"{bits} bits do not go with {name}; allowed: {allowed}")
    masks = _masks(name, bits, hint.get("masks"))
    header = _whole(hint, "header")
    if header not in (0, 40, 52, 56, 108, 124):
        raise MediaError(f"a BMP header of {header} bytes is not known; allowed: 40, 52, 56, 108, 124")
    return SplashKind(
        container=name,
        width=width,
        height=height,
        bits=bits,
        masks=masks,
        rows=_rows(name, hint.get("rows")),
        gzip=bool(hint.get("gzip", False)),
        header_size=(header or (108 if masks in ("8888", "8888-swapped") else 40)) if name == "bmp" else 0,
        channels=_channels(name, bits, masks),
        colours=2**bits if name == "bmp" and bits <= 8 else 0,
    )


def _kind_of(raw: bytes, hint: Hint) -> SplashKind:
    if hint.get("container") == "raw" and (kind := _raw_kind(raw, hint)):
        return kind
    if bitmap.is_bitmap(raw):
        return bitmap.kind_of(raw)
    if raw.startswith(_PNG):
        return _png_kind(raw)
    if raw.startswith(b"\xff\xd8\xff"):
        return _jpeg_kind(raw)
    if "container" not in hint and (kind := _raw_kind(raw, hint)):
        return kind
    raise MediaError(_no_kind(raw, hint))


def _no_kind(raw: bytes, hint: Hint) -> str:
    width, height = _whole(hint, "width"), _whole(hint, "height")
    if not raw:
        return "the file is empty"
    if hint.get("container") == "raw":
        return f"raw pixels of {width}×{height} do not make {len(raw):,} bytes"
    return (
        f"{len(raw):,} bytes that begin as no BMP, PNG, JPEG or gzip of one, "
        f"and are not {width}×{height} raw pixels"
    )


def _raw_kind(raw: bytes, hint: Hint) -> SplashKind | None:
    """Raw pixels have no header: only a size that is exactly right says so."""
    width, height = _whole(hint, "width"), _whole(hint, "height")
    if width < 1 or height < 1:
        return None
    bits = _whole(hint, "bits") or {2: 16, 3: 24, 4: 32}.get(len(raw) // (width * height), 0)
    if bits not in _ALLOWED_BITS["raw"] or len(raw) != width * height * bits // 8:
        return None
    return kind_from_hint({**hint, "container": "raw", "bits": bits})


def _png_kind(raw: bytes) -> SplashKind:
    if len(raw) < 33 or raw[12:16] != b"IHDR":
        raise MediaError("the PNG is torn: its header is missing")
    width, height = struct.unpack_from(">2I", raw, 16)
    bits = raw[24] * _PNG_SAMPLES.get(raw[25], 0)
    return _checked(SplashKind("png", width, height, bits))


def _jpeg_kind(raw: bytes) -> SplashKind:
    at = 2
    while at + 9 < len(raw) and raw[at] == 0xFF:
        marker = raw[at + 1]
        if marker in _FRAME_MARKERS:
            height, width = struct.unpack_from(">2H", raw, at + 5)
            return _checked(SplashKind("jpeg", width, height, 8 * raw[at + 9]))
        # A lone FF is fill; restart and similar markers carry no length.
        is_bare = marker == 0x01 or 0xD0 <= marker <= 0xD7
        at += 1 if marker == 0xFF else 2 if is_bare else 2 + int.from_bytes(raw[at + 2 : at + 4], "big")
    raise MediaError("the JPEG is torn: no frame begins in it")


def _checked(kind: SplashKind) -> SplashKind:
    title = kind.container.upper()
    if not kind.bits:
        raise MediaError(f"the {title} is damaged: it claims pixels of no bits")
    check_pixels(f"the {title}", kind.width, kind.height)
    return kind


def _whole(hint: Hint, key: str) -> int:
    value = hint.get(key, 0)
    return value if isinstance(value, int) else 0


def _rows(container: Container, stated: object) -> Rows:
    if container != "bmp":
        return "top-down"
    if stated in (None, "bottom-up"):
        return "bottom-up"
    if stated == "top-down":
        return "top-down"
    raise MediaError(f"rows = {stated!r} is not known; allowed: bottom-up, top-down")


def _masks(container: Container, bits: int, stated: object) -> str | None:
    if stated is None or container not in ("bmp", "raw"):
        return None
    fitting = {
        16: ("565", "555", "565-swapped", "555-swapped"),
        32: ("888", "8888", "8888-swapped"),
    }.get(bits, ())
    if stated not in fitting:
        allowed = ", ".join(fitting) or "none"
        raise MediaError(f"masks = {stated!r} do not go with {bits} bits; allowed: {allowed}")
    return str(stated)


def _channels(container: Container, bits: int, masks: str | None) -> tuple[int, int, int, int]:
    if container not in ("bmp", "raw") or bits not in (16, 32):
        return NO_CHANNELS
    plain = {("bmp", 16): "555", ("bmp", 32): "888", ("raw", 16): "565", ("raw", 32): "8888"}
    return MASKS[masks or plain[container, bits]]
