"""BMP headers, read and written byte by byte (Microsoft BITMAPFILEHEADER, BITMAPINFOHEADER, V4, V5).

A file that is answered in its own kind keeps every header byte that does not describe pixels.
"""

from __future__ import annotations

import struct

from workbench.errors import MediaError
from workbench.media.kind import MASKS, NO_CHANNELS, Channels, Rows, SplashKind, name_masks
from workbench.media.limits import check_pixels
from workbench.values import dataclass

_FILE_HEADER = struct.Struct("<2sIHHI")
_INFO_HEADER = struct.Struct("<IiiHHIIiiII")
_MASKS_AT = 54
"""Behind 14 + 40 bytes: a 40-byte header's masks follow it, a longer one holds them at the same place."""
_RGB, _RLE8, _RLE4, _BITFIELDS, _ALPHA_BITFIELDS = 0, 1, 2, 3, 6
_SRGB = b"BGRs"
"""LCS_sRGB, the V4 and V5 colour space that needs no further fields."""
_GM_IMAGES = 4
"""LCS_GM_IMAGES, the V5 rendering intent for pictures."""


@dataclass(frozen=True, slots=True)
class BitmapHeader:
    """What the first bytes of a BMP say, checked against what is there."""

    header_size: int
    width: int
    height: int
    rows: Rows
    bits: int
    compression: int
    channels: Channels
    colours: int
    palette_at: int
    offset: int
    """Where the pixels begin."""
    resolution: tuple[int, int]

    @property
    def has_masks(self) -> bool:
        return self.compression in (_BITFIELDS, _ALPHA_BITFIELDS)

    @property
    def is_run_length(self) -> bool:
        return self.compression in (_RLE8, _RLE4)

    @property
    def pixel_bytes(self) -> int:
        """Bytes of all rows, padding included."""
        return stride_of(self.width, self.bits) * self.height


def is_bitmap(raw: bytes) -> bool:
    """Whether it begins as a BMP does."""
    return raw[:2] == b"BM"


def stride_of(width: int, bits: int) -> int:
    """Bytes of one BMP row: whole groups of four."""
    return (width * bits + 31) // 32 * 4


def read_header(raw: bytes) -> BitmapHeader:
    """Read and check a BMP's headers.

    Raises:
        MediaError: too short, a header, depth or masks that are none of ours, or pixels that are not there.
    """
    if len(raw) < _MASKS_AT:
        raise MediaError(f"the BMP is torn: {len(raw)} bytes hold no header")
    (size, width, height, _planes, bits, compression, _bytes, across, down, colours, _) = (
        _INFO_HEADER.unpack_from(raw, 14)
    )
    if size not in (40, 52, 56, 108, 124):
        raise MediaError(f"the BMP has a header of {size} bytes; only 40, 52, 56, 108 and 124 are known here")
    header = BitmapHeader(
        header_size=size,
        width=width,
        height=abs(height),
        rows="top-down" if height < 0 else "bottom-up",
        bits=bits,
        compression=compression,
        channels=_read_channels(raw, size, bits, compression),
        colours=_count_colours(bits, colours),
        palette_at=14 + size + {_BITFIELDS: 12, _ALPHA_BITFIELDS: 16}.get(compression, 0) * (size == 40),
        offset=_FILE_HEADER.unpack_from(raw)[4],
        resolution=(across, down),
    )
    _check(header, len(raw))
    return header


def build_header(kind: SplashKind) -> bytes:
    """All bytes before the pixels of a new BMP of that kind; the palette's are zero."""
    size = kind.header_size or (108 if kind.channels[3] else 40)
    masks = kind.channels if kind.masks else NO_CHANNELS
    outside = 12 if kind.masks and size == 40 else 0
    offset = 14 + size + outside + 4 * kind.colours
    pixel_bytes = stride_of(kind.width, kind.bits) * kind.height
    stated = 0 if kind.colours == 2**kind.bits else kind.colours
    header = _FILE_HEADER.pack(b"BM", offset + pixel_bytes, 0, 0, offset) + _INFO_HEADER.pack(
        size,
        kind.width,
        kind.height if kind.rows == "bottom-up" else -kind.height,
        1,
        kind.bits,
        _BITFIELDS if kind.masks else _RGB,
        pixel_bytes,
        *kind.resolution,
        stated,
        0,
    )
    header += _extend(size, masks) if size > 40 else struct.pack("<3I", *masks[:3])[:outside]
    return header + bytes(offset - len(header))


def state_size(header: bytes, size: int) -> bytes:
    """The same header with the file's size stated: some loaders read exactly that many bytes."""
    return header[:2] + struct.pack("<I", size) + header[6:]


def _extend(size: int, masks: Channels) -> bytes:
    tail = struct.pack("<4I", *masks)
    if size >= 108:
        tail += _SRGB + bytes(48)
    if size == 124:
        tail += struct.pack("<4I", _GM_IMAGES, 0, 0, 0)
    return tail[: size - 40]


def _read_channels(raw: bytes, size: int, bits: int, compression: int) -> Channels:
    if bits not in (16, 32):
        return NO_CHANNELS
    if compression not in (_BITFIELDS, _ALPHA_BITFIELDS):
        return MASKS["555" if bits == 16 else "888"]
    has_alpha = size >= 56 or compression == _ALPHA_BITFIELDS
    count = 4 if has_alpha else 3
    if len(raw) < _MASKS_AT + 4 * count:
        raise MediaError("the BMP is torn: its masks are missing")
    red, green, blue, *alpha = struct.unpack_from(f"<{count}I", raw, _MASKS_AT)
    return red, green, blue, alpha[0] if alpha else 0


def _count_colours(bits: int, stated: int) -> int:
    if bits > 8:
        return 0
    most: int = 2**bits
    return min(stated, most) or most


def _check(header: BitmapHeader, size: int) -> None:
    width, height, bits = header.width, header.height, header.bits
    check_pixels("the BMP", width, height)
    allowed = {
        _RGB: (1, 4, 8, 16, 24, 32),
        _RLE8: (8,),
        _RLE4: (4,),
        _BITFIELDS: (16, 32),
        _ALPHA_BITFIELDS: (16, 32),
    }
    if bits not in allowed.get(header.compression, ()):
        raise MediaError(
            f"the BMP claims {bits} bits with compression {header.compression}, which no reader knows"
        )
    if header.offset < header.palette_at:
        raise MediaError("the BMP says that its pixels begin inside its own header")
    if not header.is_run_length and (missing := header.offset + header.pixel_bytes - size) > 0:
        raise MediaError(f"the BMP is torn: {missing:,} bytes of its pixels are missing")


def kind_of(raw: bytes) -> SplashKind:
    """The kind of an unpacked BMP.

    Raises:
        MediaError: as `read_header`.
    """
    header = read_header(raw)
    return SplashKind(
        container="bmp",
        width=header.width,
        height=header.height,
        bits=header.bits,
        masks=name_masks(header.channels) if header.has_masks else None,
        rows=header.rows,
        header_size=header.header_size,
        channels=header.channels,
        colours=header.colours,
        resolution=header.resolution,
        is_run_length=header.is_run_length,
        size=len(raw),
        unpacked=len(raw),
    )
