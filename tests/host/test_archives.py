"""Archives: all kinds read the same, hostile ones are stopped by name, within bounded memory and time."""

from __future__ import annotations

import gzip
import io
import lzma
import os
import struct
import tarfile
import tracemalloc
import zipfile
import zlib
from collections.abc import Callable
from pathlib import Path

import pytest
import zstandard

from workbench.host.archives.limits import ArchiveError, Limits
from workbench.host.archives.opening import open_archive

FILES = {
    "shelf/Boats/begin": b"#!/bin/sh\n",
    "shelf/Été/tale.txt": "été\n".encode(),
    "empty": b"",
    "big.bin": os.urandom(1_000_000),
}


def tar_of(files: dict[str, bytes], kind: int = tarfile.GNU_FORMAT) -> bytes:
    held = io.BytesIO()
    with tarfile.open(fileobj=held, mode="w", format=kind) as tar:
        for name, content in files.items():
            one = tarfile.TarInfo(name)
            one.size = len(content)
            tar.addfile(one, io.BytesIO(content))
    return held.getvalue()


def zip_of(files: dict[str, bytes], packing: int = zipfile.ZIP_DEFLATED) -> bytes:
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", packing) as made:
        for name, content in files.items():
            made.writestr(name, content)
    return held.getvalue()


KINDS: dict[str, Callable[[], bytes]] = {
    "zip": lambda: zip_of(FILES),
    "zip-stored": lambda: zip_of(FILES, zipfile.ZIP_STORED),
    "zip-bzip2": lambda: zip_of(FILES, zipfile.ZIP_BZIP2),
    "tar": lambda: tar_of(FILES),
    "tar-pax": lambda: tar_of(FILES, tarfile.PAX_FORMAT),
    "tar-gzip": lambda: gzip.compress(tar_of(FILES)),
    "tar-gzip-members": lambda: b"".join(
        gzip.compress(part) for part in (tar_of(FILES)[:700_000], tar_of(FILES)[700_000:])
    ),
    "tar-xz": lambda: lzma.compress(tar_of(FILES)),
    "tar-zstd": lambda: zstandard.compress(tar_of(FILES)),
}


def read_all(path: Path, limits: Limits | None = None) -> dict[str, bytes]:
    found: dict[str, bytes] = {}
    open_archive(path, limits).visit(None, lambda one, pieces: found.update({one.path: b"".join(pieces)}))
    return found


def written(folder: Path, content: bytes, name: str = "pack") -> Path:
    (folder / name).write_bytes(content)
    return folder / name


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_is_read_by_what_it_is(kind: str, tmp_path: Path) -> None:
    """What the standard library (and zstandard) packed comes out, whatever the file is called."""
    path = written(tmp_path, KINDS[kind]())
    assert read_all(path) == FILES
    assert {one.path for one in open_archive(path).members()} == set(FILES)


def test_a_folder_is_read_like_an_archive(tmp_path: Path) -> None:
    """Files by their paths; a link in it is named and never followed."""
    for name, content in FILES.items():
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_bytes(content)
    (tmp_path / "out").symlink_to("/etc")
    assert read_all(tmp_path) == FILES
    link = next(one for one in open_archive(tmp_path).members() if one.path == "out")
    assert (link.kind, bool(link.fault)) == ("link", True)


def bomb(kind: str) -> bytes:
    zeros = tar_of({"zeros": bytes(300 * 1024 * 1024)})
    if kind == "xz":
        return lzma.compress(zeros, preset=0)
    return zstandard.compress(zeros) if kind == "zstd" else gzip.compress(zeros, 1)


@pytest.mark.parametrize("kind", ["zstd", "gzip"])
def test_a_bomb_is_stopped_while_it_unpacks(kind: str, tmp_path: Path) -> None:
    """300 MiB of zeros in a small file: refused after a part of it, in little memory."""
    path = written(tmp_path, bomb(kind))
    tracemalloc.start()
    with pytest.raises(ArchiveError, match="times its own size"):
        open_archive(path).members()
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 8 * 1024 * 1024


def test_a_zip_that_says_ten_gigabytes_is_refused_before_it_is_read(tmp_path: Path) -> None:
    """The sum of the sizes in the directory is over the limit; no byte of content was unpacked."""
    raw = bytearray(zip_of({"a": b"a", "b": b"b"}))
    for at in (raw.find(b"PK\1\2"), raw.rfind(b"PK\1\2")):
        struct.pack_into("<I", raw, at + 24, 0xFFFFFFF0)
    with pytest.raises(ArchiveError, match="unpacks to"):
        open_archive(written(tmp_path, bytes(raw))).members()


def test_a_size_that_lies_is_found_while_reading(tmp_path: Path) -> None:
    """The directory says one byte; 100,000 come out: the sum does not fit, and the zip counts as damaged."""
    raw = bytearray(zip_of({"a": bytes(100_000)}))
    struct.pack_into("<I", raw, raw.find(b"PK\1\2") + 24, 1)
    with pytest.raises(ArchiveError, match="damaged"):
        read_all(written(tmp_path, bytes(raw)))


def test_limits_count_bytes_names_and_long_paths(tmp_path: Path) -> None:
    path = written(tmp_path, tar_of({f"f{n}": b"x" * 1000 for n in range(20)}))
    for limits in (Limits(total_bytes=10_000), Limits(entries=10), Limits(name_bytes=2)):
        with pytest.raises(ArchiveError, match="nothing was written"):
            open_archive(path, limits).members()


@pytest.mark.parametrize("count", [60_000])
def test_a_directory_of_too_many_names_is_not_even_read(count: int, tmp_path: Path) -> None:
    raw = bytearray(zip_of({"a": b""}))
    struct.pack_into("<HH", raw, raw.rfind(b"PK\5\6") + 8, count, count)
    with pytest.raises(ArchiveError, match=r"60,000 names"):
        open_archive(written(tmp_path, bytes(raw))).members()


def test_entries_that_share_bytes_are_refused(tmp_path: Path) -> None:
    """Two names in the directory for one piece of packed data, as an overlapping bomb has them."""
    with zipfile.ZipFile(tmp_path / "made.zip", "w", zipfile.ZIP_DEFLATED) as made:
        made.writestr("a", bytes(1000))
        twin = zipfile.ZipInfo("a")
        first = made.infolist()[0]
        twin.header_offset, twin.CRC, twin.compress_type = first.header_offset, first.CRC, first.compress_type
        twin.file_size, twin.compress_size = first.file_size, first.compress_size
        made.filelist.append(twin)
    with pytest.raises(ArchiveError, match="shares bytes"):
        open_archive(tmp_path / "made.zip").members()


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("part", [0.3, 0.9, 0.999])
def test_what_is_cut_off_never_looks_whole(kind: str, part: float, tmp_path: Path) -> None:
    """However much is missing at the end: damaged or cut off, not shorter."""
    raw = KINDS[kind]()
    if kind.startswith("tar") and part == 0.999:
        pytest.skip("the padding at the end of a tar may be missing")
    path = written(tmp_path, raw[: int(len(raw) * part)])
    with pytest.raises(ArchiveError):
        read_all(path)


@pytest.mark.parametrize("kind", ["zip", "tar-gzip", "tar-xz"])
def test_a_flipped_bit_in_packed_data_is_found(kind: str, tmp_path: Path) -> None:
    raw = bytearray(KINDS[kind]())
    raw[len(raw) // 2] ^= 4
    with pytest.raises(ArchiveError, match="damaged"):
        read_all(written(tmp_path, bytes(raw)))


def tar_with(kind: bytes, **fields: object) -> bytes:
    held = io.BytesIO()
    with tarfile.open(fileobj=held, mode="w") as tar:
        one = tarfile.TarInfo("thing")
        one.type = kind
        for name, value in fields.items():
            setattr(one, name, value)
        tar.addfile(one)
    return held.getvalue()


@pytest.mark.parametrize(
    ("raw", "word"),
    [
        (tar_with(tarfile.SYMTYPE, linkname="/etc/passwd"), "symbolic link"),
        (tar_with(tarfile.LNKTYPE, linkname="other"), "second name"),
        (tar_with(tarfile.CHRTYPE), "device"),
        (tar_with(tarfile.BLKTYPE), "device"),
        (tar_with(tarfile.FIFOTYPE), "pipe"),
        (tar_with(tarfile.GNUTYPE_SPARSE), "holes"),
        (tar_with(b"Z"), "kind that no reader knows"),
    ],
)
def test_what_is_no_file_is_named(raw: bytes, word: str, tmp_path: Path) -> None:
    member = open_archive(written(tmp_path, raw)).members()[0]
    assert word in member.fault


@pytest.mark.parametrize(
    ("mode", "word"), [(0o120777, "symbolic link"), (0o020666, "device"), (0o060660, "device")]
)
def test_links_and_devices_in_a_zip_are_named(mode: int, word: str, tmp_path: Path) -> None:
    """The Unix mode stands in the upper half of the external attributes (Info-ZIP; measured with zipfile)."""
    with zipfile.ZipFile(tmp_path / "x.zip", "w") as made:
        one = zipfile.ZipInfo("thing")
        one.create_system, one.external_attr = 3, mode << 16
        made.writestr(one, "/etc/passwd")
    assert word in open_archive(tmp_path / "x.zip").members()[0].fault


def test_an_encrypted_entry_is_named(tmp_path: Path) -> None:
    """Bit 0 of the flags (PKWARE APPNOTE 4.4.4), in the local header and in the directory."""
    raw = bytearray(zip_of({"a": b"secret"}))
    raw[raw.find(b"PK\3\4") + 6] |= 1
    raw[raw.find(b"PK\1\2") + 8] |= 1
    assert "encrypted" in open_archive(written(tmp_path, bytes(raw))).members()[0].fault


def test_a_long_name_that_never_ends_takes_no_memory(tmp_path: Path) -> None:
    """A GNU header whose name is said to be 500 MiB long is refused before it is read."""
    head = tarfile.TarInfo("././@LongLink")
    head.type, head.size = tarfile.GNUTYPE_LONGNAME, 500 * 1024 * 1024
    raw = head.tobuf(tarfile.GNU_FORMAT) + bytes(600 * 1024 * 1024)
    path = written(tmp_path, zlib.compress(raw, 1, wbits=31))
    with pytest.raises(ArchiveError, match="header that wants"):
        open_archive(path, Limits(ratio=0)).members()


def test_what_is_no_archive_says_what_is_read(tmp_path: Path) -> None:
    with pytest.raises(ArchiveError, match="zip, tar"):
        open_archive(written(tmp_path, b"hello"))
    with pytest.raises(ArchiveError, match="cannot be read"):
        open_archive(tmp_path / "nowhere")
