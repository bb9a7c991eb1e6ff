"""Streams of packed bytes, unpacked piece by piece within fixed memory, whatever they unpack to."""

from __future__ import annotations

from collections.abc import Iterator
from typing import IO

from workbench.errors import CardwrightError
from workbench.host.archives.limits import ArchiveError
from workbench.host.archives.member import CHUNK

_WINDOW = 128 * 1024 * 1024
"""The most memory that a stream may ask for: `xz -9` wants 65 MiB, `zstd --long` 128 MiB."""


class _Gzip:
    """One member of a gzip file (RFC 1952)."""

    def __init__(self) -> None:
        import zlib

        self._inner = zlib.decompressobj(wbits=31)
        self.eof = False

    def feed(self, packed: bytes) -> bytes:
        out = self._inner.decompress(packed, CHUNK)
        self.eof = self._inner.eof
        return out

    def rest(self) -> bytes:
        return self._inner.unused_data if self._inner.eof else self._inner.unconsumed_tail


class _Xz:
    """One stream of an xz file."""

    def __init__(self) -> None:
        import lzma

        self._inner = lzma.LZMADecompressor(format=lzma.FORMAT_XZ, memlimit=_WINDOW)
        self.eof = False

    def feed(self, packed: bytes) -> bytes:
        out = self._inner.decompress(packed, CHUNK)
        self.eof = self._inner.eof
        return out

    def rest(self) -> bytes:
        return self._inner.unused_data if self._inner.eof else b""

    @property
    def wants(self) -> bool:
        return self._inner.needs_input


def unpack(file: IO[bytes], packing: str, name: str) -> Iterator[bytes]:
    """The unpacked bytes of a file of that packing (`gzip`, `xz`, `zstd`, or empty), at most 256 KiB at once.

    Raises:
        ArchiveError: it is damaged, cut off, or wants too much memory.
    """
    try:
        yield from {"gzip": _unpack_gzip, "xz": _unpack_xz, "zstd": _unpack_zstd, "": _pass_on}[packing](file)
    except (CardwrightError, OSError):
        raise
    except EOFError as error:
        raise ArchiveError(f"{name} is cut off; nothing was written. Fetch it again.", path=name) from error
    except Exception as error:  # zlib.error, LZMAError, ZstdError: three libraries, three trees
        if "memory" in str(error).lower():
            raise ArchiveError(
                f"{name} wants more than {_WINDOW >> 20} MiB of memory to be unpacked; nothing was written.",
                path=name,
            ) from error
        raise ArchiveError(f"{name} is damaged ({error}); nothing was written.", path=name) from error


def _pass_on(file: IO[bytes]) -> Iterator[bytes]:
    while piece := file.read(CHUNK):
        yield piece


def _unpack_gzip(file: IO[bytes]) -> Iterator[bytes]:
    one = _Gzip()
    while True:
        packed = one.rest() or file.read(CHUNK)
        out = one.feed(packed)  # what was held back comes even where nothing more goes in
        if not packed and not out and not one.eof:
            raise EOFError
        if out:
            yield out
        if one.eof:
            rest = one.rest() or file.read(CHUNK)
            if not rest.strip(b"\0"):
                return
            one = _Gzip()
            out = one.feed(rest)
            if out:
                yield out
            if one.eof:
                raise ValueError("it ends in parts without content")


def _unpack_xz(file: IO[bytes]) -> Iterator[bytes]:
    one = _Xz()
    packed = b""
    while True:
        packed = b"" if not one.wants else (packed or file.read(CHUNK))
        if one.wants and not packed:
            raise EOFError
        out = one.feed(packed)
        packed = b""
        if out:
            yield out
        if one.eof:
            packed = one.rest() or file.read(CHUNK)
            if not packed.strip(b"\0"):
                return
            one = _Xz()


def _unpack_zstd(file: IO[bytes]) -> Iterator[bytes]:
    try:
        import zstandard
    except ImportError as error:
        raise ArchiveError(
            "archives packed with zstd need the Python package zstandard; nothing was written. Install it "
            "with: python3 -m pip install 'cardwright[zstd]'"
        ) from error
    # A frame may ask for a window of any size; the library refuses more than it is allowed.
    reader = zstandard.ZstdDecompressor(max_window_size=_WINDOW).stream_reader(
        file, read_across_frames=True, closefd=False
    )
    while piece := reader.read(CHUNK):
        yield piece
