"""One name in an archive, as the archive says it: judged by nobody yet."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from pathlib import Path

from workbench.typed import Literal, Protocol
from workbench.values import dataclass

MemberKind = Literal["file", "folder", "link", "other"]

CHUNK = 256 * 1024


@dataclass(frozen=True, slots=True)
class Member:
    """A file, folder, link or other thing in an archive."""

    path: str
    """Exactly as it stands there; a folder's last slash is taken off."""
    kind: MemberKind
    size: int
    """Bytes, as the header says: not to be believed."""
    is_executable: bool = False
    fault: str = ""
    """Why it cannot be taken, as the end of a sentence that starts with its name; empty where it can."""


Take = Callable[[Member, Iterator[bytes]], None]
"""Given a file and its bytes, piece by piece; what it does not read is passed over."""


class Archive(Protocol):
    """An archive or folder that can be read more than once."""

    path: Path
    format: str
    """In words: `zip`, `tar with gzip`, `folder`."""

    def members(self) -> tuple[Member, ...]:
        """Every name in it, in its own order.

        Raises:
            ArchiveError: it is damaged, or asks for too much.
        """
        ...

    def visit(self, wanted: Iterable[str] | None, take: Take) -> None:
        """Hand the bytes of these files (all, where None) to `take`, in the archive's own order.

        Raises:
            ArchiveError: it is damaged, or unpacks to more than it may.
        """
        ...
