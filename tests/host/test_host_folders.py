"""Our own folders and what is remembered in them."""

from __future__ import annotations

import hashlib
import os
import stat

import platformdirs
import pytest

from workbench.host import folders, settings
from workbench.host.renders import drop_render, keep_render
from workbench.host.safe_write import HostWriteError


@pytest.fixture(autouse=True)
def own_folders(tmp_path, monkeypatch):
    for purpose in ("CONFIG", "STATE", "CACHE"):
        monkeypatch.setenv(f"CARDWRIGHT_{purpose}", str(tmp_path / purpose.lower()))


@pytest.mark.parametrize("find", [folders.config_folder, folders.state_folder, folders.cache_folder])
def test_folders_are_made_for_the_user_alone(find, tmp_path):
    """The environment decides where, and the mode is 0700."""
    folder = find()
    assert folder.parent == tmp_path
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700


def test_without_a_wish_the_system_decides(tmp_path, monkeypatch):
    """XDG Base Directory: state lives in $XDG_STATE_HOME."""
    monkeypatch.delenv("CARDWRIGHT_STATE")
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "xdg"))
    assert folders.state_folder() == tmp_path / "xdg" / "cardwright"


@pytest.mark.parametrize("asked", [None, "", "relative", "/tmp/xdg asked"])
@pytest.mark.parametrize("purpose", ["config", "state", "cache"])
def test_the_system_s_folders_are_those_of_platformdirs(purpose, asked, tmp_path, monkeypatch):
    """Found without the package, which takes long to be imported, and the same as it finds."""
    monkeypatch.setenv("HOME", str(tmp_path))
    if asked is None:
        monkeypatch.delenv(f"XDG_{purpose.upper()}_HOME", raising=False)
    else:
        monkeypatch.setenv(f"XDG_{purpose.upper()}_HOME", asked)
    theirs = getattr(platformdirs, f"user_{purpose}_path")("cardwright", appauthor=False)
    assert folders._usual_folder(purpose) == theirs


def test_a_folder_that_cannot_be_made_is_a_sentence(tmp_path, monkeypatch):
    """A file in the way is said with the variable that helps."""
    (tmp_path / "file").write_text("")
    monkeypatch.setenv("CARDWRIGHT_STATE", str(tmp_path / "file" / "x"))
    with pytest.raises(HostWriteError, match="CARDWRIGHT_STATE"):
        folders.state_folder()


def test_cautions_and_trust_are_remembered_apart():
    """A caution seen is no trust, and both survive the other's writing."""
    assert not settings.has_seen_caution("c1")
    settings.remember_caution("c1")
    settings.trust_profile("ab12")
    assert settings.has_seen_caution("c1") and settings.is_trusted_profile("ab12")
    assert not settings.is_trusted_profile("c1") and not settings.has_seen_caution("c2")


@pytest.mark.parametrize("damage", [b"", b"[1]", b"{", b'{"cautions": 3}', b"\xff\xfe"])
def test_a_damaged_memory_is_as_good_as_none(damage):
    """Asking once more is harmless; failing is not."""
    (folders.state_folder() / "remembered.json").write_bytes(damage)
    assert not settings.has_seen_caution("c1")
    settings.remember_caution("c1")
    assert settings.has_seen_caution("c1")


def test_a_render_is_kept_by_its_hash_and_mended_when_damaged():
    """SHA-256 names it; a damaged one is written again; a dropped one is gone."""
    path = keep_render(b"frame")
    assert path.name == hashlib.sha256(b"frame").hexdigest()
    path.write_bytes(b"torn")
    assert keep_render(b"frame").read_bytes() == b"frame"
    drop_render(path)
    drop_render(path)
    assert not path.exists()


def test_only_renders_are_dropped(tmp_path):
    """A path that is no render of ours is left alone."""
    other = tmp_path / "precious"
    other.write_bytes(b"x")
    drop_render(other)
    assert other.exists()


def test_old_renders_go_when_a_new_one_comes():
    """What a crash left behind does not stay for ever; what is used again is young again."""
    old, used = keep_render(b"old"), keep_render(b"used")
    for path in (old, used):
        os.utime(path, (1, 1))
    keep_render(b"used")
    keep_render(b"new")
    assert (old.exists(), used.exists()) == (False, True)
