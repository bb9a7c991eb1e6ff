"""Opens an archive by what it is, not by what it is called."""

from __future__ import annotations

import os
from pathlib import Path

from workbench.host.archives.limits import ArchiveError, Limits
from workbench.host.archives.member import Archive

KINDS = "zip, tar (plain, or packed with gzip, xz or zstd) or a folder"

_PACKINGS = {b"\x1f\x8b": "gzip", b"\xfd7zXZ\0": "xz", b"\x28\xb5\x2f\xfd": "zstd"}


def open_archive(path: Path, limits: Limits | None = None) -> Archive:
    """The archive at that path, ready to be read.

    Raises:
        ArchiveError: it is not there, or none of the kinds that are read.
    """
    limits = limits or Limits()
    try:
        if os.path.isdir(path):
            from workbench.host.archives.folder_source import FolderSource

            return FolderSource(path, limits)
        with open(path, "rb") as file:
            head = file.read(512)
    except OSError as error:
        raise ArchiveError(
            f"{path} cannot be read: {error.strerror or error}; nothing was changed.", path=str(path)
        ) from error
    packing = next((name for magic, name in _PACKINGS.items() if head.startswith(magic)), "")
    if packing or head[257:262] == b"ustar" or _is_old_tar(head):
        from workbench.host.archives.tar_archive import TarArchive

        return TarArchive(path, packing, limits)
    if head[:2] == b"PK" or path.suffix.lower() == ".zip":
        from workbench.host.archives.zip_archive import ZipArchive

        return ZipArchive(path, limits)
    raise ArchiveError(
        f"{path} is no archive that is read here: {KINDS}. Nothing was changed.", path=str(path)
    )


def _is_old_tar(head: bytes) -> bool:
    """A tar from before POSIX has no magic, but a sum of its header (tar(5))."""
    if len(head) < 512:
        return False
    field = head[148:156].strip(b"\0 ")
    total = sum(head) - sum(head[148:156]) + 8 * 0x20
    try:
        return bool(field) and int(field, 8) == total
    except ValueError:
        return False
