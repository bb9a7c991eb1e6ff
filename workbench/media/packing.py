"""gzip (RFC 1952) with limits on the way in and the neighbour's header on the way out.

Unpacking counts while it goes and believes no header; packing is reproducible, no clock is asked.
"""

from __future__ import annotations

import struct
import zlib

from workbench.errors import MediaError
from workbench.media.limits import MAX_UNPACKED

_MAGIC = b"\x1f\x8b\x08"
_PLAIN_HEADER = bytes.fromhex("1f8b0800000000000003")
"""No name, MTIME 0 (no time), OS 3 (Unix): RFC 1952 section 2.3."""
_HAS_CRC, _HAS_EXTRA, _HAS_NAME, _HAS_COMMENT = 2, 4, 8, 16
_MOST_KEPT = 4 * 1024 * 1024
_last = b"", b""
"""What was unpacked last, and out of what: a splash that is there is asked for its kind, then followed."""
_LEVELS = {2: 9, 4: 1}
"""XFL says how hard the packer tried: 2 slowest, 4 fastest (RFC 1952 section 2.3.1)."""


def is_gzip(raw: bytes) -> bool:
    """Whether it begins as a gzip member with deflate does."""
    return raw[:3] == _MAGIC


def unpack_gzip(raw: bytes, limit: int = MAX_UNPACKED) -> bytes:
    """The first member's content; what follows that member is ignored, as boot loaders do.

    Raises:
        MediaError: torn, damaged, lying about its size, or larger than `limit` bytes when unpacked.
    """
    global _last
    known, unpacked = _last
    if raw and raw is known and len(unpacked) <= limit:
        return unpacked
    unpacker = zlib.decompressobj(wbits=31)
    try:
        content = unpacker.decompress(raw, limit + 1)
    except zlib.error as error:
        raise MediaError(_explain(str(error))) from error
    if len(content) > limit:
        raise MediaError(f"the gzip unpacks to more than {limit:,} bytes, which no splash needs")
    if not unpacker.eof:
        raise MediaError("the gzip ends early: the file is torn")
    if len(content) <= _MOST_KEPT:
        _last = raw, content
    return content


def pack_gzip(content: bytes, like: bytes | None = None) -> bytes:
    """One gzip member; its header, name, time and effort are those of `like` where given."""
    header = _header_of(like) if like is not None else _PLAIN_HEADER
    packer = zlib.compressobj(_LEVELS.get(header[8], 6), zlib.DEFLATED, -15)
    body = packer.compress(content) + packer.flush()
    return header + body + struct.pack("<II", zlib.crc32(content), len(content) & 0xFFFFFFFF)


def _explain(error: str) -> str:
    if "length check" in error:
        return "the gzip lies about its size: its trailer states another length than it unpacks to"
    if "data check" in error:
        return "the gzip is damaged: its checksum does not match"
    return f"the gzip is damaged ({error.rpartition(': ')[2]})"


def _header_of(raw: bytes) -> bytes:
    if not is_gzip(raw) or len(raw) < 10:
        return _PLAIN_HEADER
    flags, end = raw[3], 10
    if flags & _HAS_EXTRA:
        end += 2 + int.from_bytes(raw[end : end + 2], "little")
    for flag in (_HAS_NAME, _HAS_COMMENT):
        if flags & flag:
            end = raw.find(b"\0", end) + 1
            if end == 0:
                return _PLAIN_HEADER
    end += 2 if flags & _HAS_CRC else 0
    return raw[:end] if end <= len(raw) else _PLAIN_HEADER
