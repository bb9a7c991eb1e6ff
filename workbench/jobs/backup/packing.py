"""Reads and packs the files of a backup on a few threads; what they pack is handed out in order.

Reading, hashing and packing all let other threads run. isal packs several times faster than zlib; without it
zlib's fastest level does. Where a first look says that packing does not pay, a file is stored.
"""

from __future__ import annotations

import os
import queue
import stat
import sys
import threading
from collections.abc import Callable, Iterator, Sequence
from hashlib import sha256

from workbench.errors import CardError
from workbench.host.zip_making import DEFLATED, STORED
from workbench.values import dataclass

WHOLE = 2 * 1024 * 1024
"""Larger files are not carried through memory."""
_BATCH = 8
"""Files that a thread reads in one go: telling of each by itself would cost more than it saves."""
_AHEAD = 6
"""Batches read before those in front of them are written."""
_THREADS = 2
_PATIENCE_S = 0.0005
_PROBE = 8192
_READ = os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
_PACKED = frozenset(
    (
        *("png", "jpg", "jpeg", "gif", "webp", "mp3", "ogg", "opus", "m4a", "aac", "flac", "mp4", "mkv"),
        *("webm", "avi", "gz", "xz", "zst", "bz2", "7z", "zip", "rar", "woff2"),
    )
)


@dataclass(frozen=True, slots=True)
class Read:
    """A file as it was read and packed."""

    place: int
    size: int
    mode: int
    mtime_ns: int
    is_large: bool = False
    """Over `WHOLE`: not read yet."""
    content: bytes = b""
    method: int = STORED
    crc: int = 0
    packed_crc: int | None = None
    sha256: str = ""
    secret: str = ""
    error: OSError | None = None


def open_for_backup(path: str) -> tuple[int, os.stat_result] | None:
    """A plain file opened without following a link; None where it is none."""
    try:
        handle = os.open(path, _READ)
    except OSError as error:
        if os.path.islink(path):
            return None
        raise error
    found = os.fstat(handle)
    if not stat.S_ISREG(found.st_mode):
        os.close(handle)
        return None
    return handle, found


def find_packer() -> Callable[[bytes], bytes]:
    """Raw DEFLATE at the fastest level there is."""
    try:
        from isal import isal_zlib

        def pack(data: bytes) -> bytes:
            packer = isal_zlib.compressobj(1, isal_zlib.DEFLATED, -15)
            return packer.compress(data) + packer.flush()

        return pack
    except ImportError:
        import zlib

        def pack_slowly(data: bytes) -> bytes:
            packer = zlib.compressobj(1, zlib.DEFLATED, -15)
            return packer.compress(data) + packer.flush()

        return pack_slowly


def find_crc() -> Callable[[bytes], int]:
    """CRC-32, by the fastest there is."""
    try:
        from isal import isal_zlib

        return isal_zlib.crc32
    except ImportError:
        import zlib

        return zlib.crc32


class Reading:
    """The files at these paths, read in order by several threads."""

    def __init__(self, paths: Sequence[str], find_secret: Callable[[int, bytes], str]) -> None:
        self._paths = paths
        self._find_secret = find_secret
        self._starts = iter(range(0, len(paths), _BATCH))
        self._room = threading.Semaphore(_AHEAD)
        self._taking = threading.Lock()
        self._done: queue.SimpleQueue[tuple[int, list[Read] | BaseException]] = queue.SimpleQueue()
        self._is_over = False

    def __iter__(self) -> Iterator[Read]:
        threads = [threading.Thread(target=self._work, daemon=True) for _ in range(_THREADS)]
        for thread in threads:
            thread.start()
        waiting: dict[int, list[Read]] = {}
        # A thread that comes back from the disk waits that long for its turn: by default ten files' time.
        patience = sys.getswitchinterval()
        sys.setswitchinterval(min(patience, _PATIENCE_S))
        try:
            for start in range(0, len(self._paths), _BATCH):
                while start not in waiting:
                    place, batch = self._done.get()
                    if isinstance(batch, BaseException):
                        raise batch
                    waiting[place] = batch
                self._room.release()
                yield from waiting.pop(start)
        finally:
            sys.setswitchinterval(patience)
            self._is_over = True
            for _ in threads:
                self._room.release()
            for thread in threads:
                thread.join()

    def _work(self) -> None:
        try:
            self._read_batches()
        except BaseException as error:
            self._done.put((-1, error))

    def _read_batches(self) -> None:
        # isal is imported here, while the other thread reads and the caller makes ready.
        self._pack, self._crc = find_packer(), find_crc()
        while True:
            self._room.acquire()
            with self._taking:
                start = next(self._starts, None)
            if self._is_over or start is None:
                return
            places = range(start, min(start + _BATCH, len(self._paths)))
            self._done.put((start, list(map(self._try_read, places))))

    def _try_read(self, place: int) -> Read:
        try:
            return self._read(place)
        except OSError as error:
            return Read(place, 0, 0, 0, error=error)

    def _read(self, place: int) -> Read:
        opened = open_for_backup(self._paths[place])
        if opened is None:
            return Read(place, 0, 0, 0, error=OSError(0, "is a link or no file"))
        handle, found = opened
        try:
            if found.st_size > WHOLE:
                secret = self._find_secret(place, os.read(handle, 64 * 1024))
                return Read(
                    place, found.st_size, found.st_mode & 0o7777, found.st_mtime_ns, True, secret=secret
                )
            raw = os.read(handle, found.st_size + 1)
            while piece := os.read(handle, WHOLE) if len(raw) != found.st_size else b"":
                raw += piece
        finally:
            os.close(handle)
        packed = self._try_pack(self._paths[place], raw)
        return Read(
            place,
            len(raw),
            found.st_mode & 0o7777,
            found.st_mtime_ns,
            content=raw if packed is None else packed,
            method=STORED if packed is None else DEFLATED,
            crc=self._crc(raw),
            packed_crc=None if packed is None else self._crc(packed),
            sha256=sha256(raw).hexdigest(),
            secret=self._find_secret(place, raw),
        )

    def _try_pack(self, path: str, raw: bytes) -> bytes | None:
        """The packed bytes, if packing pays."""
        if len(raw) < 64 or path.rpartition(".")[2].lower() in _PACKED:
            return None
        if len(raw) > 2 * _PROBE:
            middle = len(raw) // 2
            probe = raw[middle : middle + _PROBE]
            if len(self._pack(probe)) > 0.97 * len(probe):
                return None
        packed = self._pack(raw)
        return packed if len(packed) < 0.97 * len(raw) else None


def read_pieces(path: str) -> Iterator[bytes]:
    """A large file, piece by piece.

    Raises:
        CardError: it cannot be read.
    """
    opened = open_for_backup(path)
    if opened is None:
        raise CardError(f"{path} is no file any more; nothing was written", path=path)
    handle, _ = opened
    try:
        while piece := os.read(handle, 1024 * 1024):
            yield piece
    except OSError as error:
        raise CardError(f"{path} cannot be read: {error.strerror}; nothing was written", path=path) from error
    finally:
        os.close(handle)
