"""The host's write routine, against POSIX rename(2): a reader sees the old bytes or the new."""

from __future__ import annotations

import errno
import os
import stat

import pytest

from workbench.host.safe_write import HostWriteError, write_safely


def test_content_arrives_with_its_mode_and_nothing_else_stays(tmp_path):
    """A new file in a new folder holds the bytes, is ours alone, and no temp file is left."""
    path = tmp_path / "a" / "b.json"
    write_safely(path, b"one")
    write_safely(path, b"two")
    assert path.read_bytes() == b"two"
    assert os.listdir(path.parent) == ["b.json"]
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert stat.S_IMODE(path.parent.stat().st_mode) == 0o700


@pytest.mark.parametrize("call", ["fsync", "replace"])
def test_a_full_disk_leaves_the_old_file(tmp_path, monkeypatch, call):
    """ENOSPC at any point is reported at once, the old bytes stay, the temp file goes."""
    path = tmp_path / "kept"
    write_safely(path, b"old")

    def refuse(*_words: object) -> None:
        raise OSError(errno.ENOSPC, "no space")

    monkeypatch.setattr(os, call, refuse)
    with pytest.raises(HostWriteError, match=r"the disk is full.*untouched"):
        write_safely(path, b"new")
    assert path.read_bytes() == b"old"
    assert os.listdir(tmp_path) == ["kept"]


def test_a_file_system_without_sync_or_chmod_will_do(tmp_path, monkeypatch):
    """EINVAL from fsync and EPERM from chmod are what some FUSE file systems say; the write stands."""

    def refuse_sync(_descriptor: int) -> None:
        raise OSError(errno.EINVAL, "invalid")

    def refuse_mode(_path: object, _mode: int) -> None:
        raise PermissionError(errno.EPERM, "no")

    monkeypatch.setattr(os, "fsync", refuse_sync)
    monkeypatch.setattr(os, "chmod", refuse_mode)
    write_safely(tmp_path / "x", b"y")
    assert (tmp_path / "x").read_bytes() == b"y"


def test_a_short_write_is_noticed(tmp_path, monkeypatch):
    """A file that is shorter than what was written is no success."""
    real = os.fstat

    def shorter(descriptor: int) -> os.stat_result:
        fields = list(real(descriptor))
        fields[6] = 1
        return os.stat_result(fields)

    monkeypatch.setattr(os, "fstat", shorter)
    with pytest.raises(HostWriteError, match="1 of 5 bytes"):
        write_safely(tmp_path / "x", b"12345")
    assert os.listdir(tmp_path) == []


def test_a_folder_in_the_way_is_a_sentence(tmp_path):
    """A path that is a folder is refused in words, and the folder stays."""
    (tmp_path / "x").mkdir()
    with pytest.raises(HostWriteError, match="could not be written"):
        write_safely(tmp_path / "x", b"y")
    assert os.listdir(tmp_path) == ["x"]
