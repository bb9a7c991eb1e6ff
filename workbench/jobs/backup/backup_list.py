"""The list in a backup: every file with its SHA-256, mode and time; and the seal on the zip's own bytes.

A file's bytes are covered by the list; packed bytes also by a CRC-32, since a packed stream has bits that
mean nothing. The list is a file of the zip; its SHA-256, and that of all headers and of the directory, stand
in the zip's comment. So no byte of a backup is without a check.
"""

from __future__ import annotations

from collections.abc import Mapping

from workbench.errors import CardwrightError
from workbench.typed import Any
from workbench.values import dataclass, field

BACKUP_LIST = "cardwright-backup.json"
SCHEMA = 1
SEAL = "cardwright-backup 1 "
SEAL_LENGTH = len(SEAL) + 64 + 1 + 64


class BackupError(CardwrightError):
    """A backup is damaged, or is none."""

    kind = "backup"


@dataclass(frozen=True, slots=True)
class SavedFile:
    """One file in a backup."""

    size: int
    sha256: str
    mode: int
    """Permission bits as they were on the card."""
    mtime_ns: int
    packed_crc: int | None = None
    """CRC-32 of its packed bytes; None where it is stored as it is."""


@dataclass(frozen=True, slots=True)
class BackupList:
    """What a backup says of itself."""

    profile: str
    card: str
    scope: str
    """`named`, `all` or `all-with-media`: what was chosen."""
    time: str
    """ISO 8601, UTC, by the host's clock."""
    files: Mapping[str, SavedFile]
    """By path in the zip: `ROLE/PATH`."""
    folders: tuple[str, ...] = ()
    """Folders with nothing in them."""
    left_out: Mapping[str, str] = field(default_factory=dict)
    """Files that are not in it, each with why."""


def write_backup_list(backup: BackupList) -> bytes:
    """The list as JSON, one line a file."""
    import json

    head = {
        "schema": SCHEMA,
        "profile": backup.profile,
        "card": backup.card,
        "scope": backup.scope,
        "time": backup.time,
        "folders": list(backup.folders),
        "left_out": dict(backup.left_out),
    }
    lines = [
        f"{json.dumps(path)}:{json.dumps([one.size, one.sha256, one.mode, one.mtime_ns, one.packed_crc])}"
        for path, one in backup.files.items()
    ]
    body = json.dumps(head)[:-1] + ',\n"files":{\n' + ",\n".join(lines) + "\n}}\n"
    return body.encode("ascii")


def read_backup_list(raw: bytes, name: str) -> BackupList:
    """What `write_backup_list` wrote.

    Raises:
        BackupError: it is damaged, or of a later version.
    """
    import json

    try:
        found: dict[str, Any] = json.loads(raw)
        if found["schema"] != SCHEMA:
            raise BackupError(
                f"{name} was made by a later version (its list is of schema {found['schema']}); "
                "nothing was changed.",
                path=name,
            )
        files = {str(path): SavedFile(*map(_number_or_text, one)) for path, one in found["files"].items()}
        return BackupList(
            str(found["profile"]),
            str(found["card"]),
            str(found["scope"]),
            str(found["time"]),
            files,
            tuple(map(str, found["folders"])),
            {str(path): str(why) for path, why in found["left_out"].items()},
        )
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        raise BackupError(
            f"{name}: its list {BACKUP_LIST} cannot be read; nothing was changed.", path=name
        ) from error


def _number_or_text(value: Any) -> Any:
    if value is not None and not isinstance(value, (int, str)):
        raise ValueError(value)
    return value


def make_seal(headers: str, listed: str) -> str:
    """The zip's comment, of two SHA-256 in hex."""
    return f"{SEAL}{headers} {listed}"
