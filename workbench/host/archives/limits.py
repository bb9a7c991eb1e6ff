"""How much an archive may ask for. What its headers say is never believed: everything is counted as it comes.

DEFLATE reaches about 1032 : 1 (zlib technical notes, from memory), xz and zstd far more, so a small file can
unpack without end. A real pack of pictures, sounds and texts stays far below the ratio given here.
"""

from __future__ import annotations

from workbench.errors import CardwrightError
from workbench.values import dataclass

MIB = 1024 * 1024


class ArchiveError(CardwrightError):
    """An archive is damaged, asks for too much, or is of a kind that is not read; nothing was written."""

    kind = "archive"


@dataclass(frozen=True, slots=True)
class Limits:
    """The most that one archive may bring."""

    total_bytes: int = 16 * 1024 * MIB
    """Of all files, unpacked."""
    ratio: int = 100
    """Unpacked bytes for one packed byte, once more than `ratio_from` are unpacked; 0 for any."""
    ratio_from: int = 64 * MIB
    entries: int = 50_000
    depth: int = 40
    """Folders in folders."""
    name_bytes: int = 4096


class Meter:
    """Counts what comes out of one archive."""

    def __init__(self, archive: str, packed: int, limits: Limits) -> None:
        self._archive = archive
        self._limits = limits
        self._most = limits.total_bytes
        self._reason = f"more than {limits.total_bytes:,} bytes, the most that may be unpacked here"
        fair = max(limits.ratio_from, packed * limits.ratio)
        if limits.ratio and fair < self._most:
            self._most = fair
            self._reason = f"more than {limits.ratio} times its own size, as no honest pack does"
        self.bytes = 0
        self.entries = 0

    def count(self, size: int) -> None:
        """So many bytes more.

        Raises:
            ArchiveError: they are too many.
        """
        self.bytes += size
        if self.bytes > self._most:
            raise ArchiveError(
                f"{self._archive} unpacks to {self._reason}; it was read no further and nothing was written. "
                "If you trust it, say how much it may unpack with --limit SIZE.",
                path=self._archive,
            )

    def check_claim(self, size: int) -> None:
        """What its headers say that it holds in all."""
        self.count(size)
        self.bytes = 0

    def count_entry(self, path: str) -> None:
        """One name more.

        Raises:
            ArchiveError: they are too many, or this one is too long.
        """
        self.entries += 1
        if self.entries > self._limits.entries:
            raise ArchiveError(
                f"{self._archive} holds more than {self._limits.entries:,} names; it was read no further and "
                "nothing was written.",
                path=self._archive,
            )
        if len(path) > self._limits.name_bytes:
            raise ArchiveError(
                f"{self._archive} holds a path of {len(path):,} characters; nothing was written.",
                path=self._archive,
            )
