"""A stream of pieces as the file that `tarfile` reads: forward only, and never much at once."""

from __future__ import annotations

from collections.abc import Iterator

from workbench.host.archives.limits import ArchiveError, Meter

_MOST_AT_ONCE = 1024 * 1024
"""A header that wants more than this in one piece (a name, a table of extras) is no honest one."""
BLOCK = 512


class ByteStream:
    """Counts every byte that passes."""

    def __init__(self, pieces: Iterator[bytes], meter: Meter, name: str) -> None:
        self._pieces = pieces
        self._meter = meter
        self._name = name
        self._waiting = b""
        self._at = 0
        self.last = b""
        """What was read last: a whole tar ends in a block of zeros."""

    def tell(self) -> int:
        return self._at

    def seekable(self) -> bool:
        return True

    def seek(self, place: int, whence: int = 0) -> int:
        if whence != 0 or place < self._at:
            raise OSError("this stream goes forward only")
        while self._at < place:
            if not self._take(min(place - self._at, _MOST_AT_ONCE)):
                break
        return self._at

    def read(self, size: int = -1) -> bytes:
        if size < 0 or size > _MOST_AT_ONCE:
            raise ArchiveError(
                f"{self._name} has a header that wants {size:,} bytes; nothing was written.", path=self._name
            )
        parts = []
        while size > 0:
            part = self._take(size)
            if not part:
                break
            parts.append(part)
            size -= len(part)
        self.last = b"".join(parts)
        return self.last

    def _take(self, most: int) -> bytes:
        if not self._waiting:
            self._waiting = next(self._pieces, b"")
            self._meter.count(len(self._waiting))
        part, self._waiting = self._waiting[:most], self._waiting[most:]
        self._at += len(part)
        return part
