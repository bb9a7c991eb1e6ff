"""The four primitive acts. Everything a person wishes compiles to them.

Steps are carried out in order; each names places as they are at its turn. A place in `ASIDE` may be used
between two moves of one plan, never as a plan's last word.
"""

from __future__ import annotations

from workbench.card.paths import VolumePath
from workbench.manifests.document import Edit
from workbench.values import dataclass


@dataclass(frozen=True, slots=True)
class Prepared:
    """Content too large for a plan file: a file of ours on this host, checked by hash when it is used."""

    file: str
    size: int
    sha256: str


@dataclass(frozen=True, slots=True)
class MakeFolder:
    """Make one folder; its parent exists by then."""

    at: VolumePath


@dataclass(frozen=True, slots=True)
class Write:
    """Put content at a place, replacing the file there or making a new one."""

    at: VolumePath
    content: bytes | Prepared
    before: str | None
    """SHA-256 (hex) of the file that this was planned on; None where none may be there."""
    edits: tuple[Edit, ...] = ()
    """Where a manifest was edited: the edits, in the bytes of `before`. Undo takes exactly these back."""
    mode: int | None = None
    """Permission bits; None keeps those of the file replaced, or the volume's default."""


@dataclass(frozen=True, slots=True)
class Move:
    """Rename a file, folder or link within its volume; nothing is at the new place by then."""

    source: VolumePath
    to: VolumePath


@dataclass(frozen=True, slots=True)
class Remove:
    """Move a file, folder or link into the ledger's keep."""

    at: VolumePath


Step = MakeFolder | Write | Move | Remove
