"""Read-only mounts of ext4, exFAT and vfat are opened by consent, and closed however the command ends."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import practice_cards
import pytest
from conftest import need
from exfat_mount import ExfatMount
from fat_machine import FatMachine
from test_real_ext4 import ext4 as ext4  # the same mounted volume

from workbench.card.mounts import Mount, find_mount, read_mounts
from workbench.cli.main import main

pytestmark = pytest.mark.real

PROFILE = ("--profile", str(practice_cards.profile_path("larkspur")))
RENAME = ("Boats", "Sails", "--yes", *PROFILE)


def lock(root: Path) -> Mount:
    """Read-only on purpose, as a device mounts it."""
    subprocess.run(["mount", "-o", "remount,ro,nosuid,noatime", str(root)], check=True)
    return mount_of(root)


def mount_of(root: Path) -> Mount:
    found = find_mount(read_mounts(), str(root))
    assert found is not None and found.point == str(root)
    return found


@pytest.fixture(params=["ext4", "exfat"])
def volume(request: pytest.FixtureRequest) -> Path:
    """A mount with a practice card in it, made read-only."""
    made = request.getfixturevalue(request.param)
    root = made.root if isinstance(made, ExfatMount) else made
    for role in practice_cards.roles("larkspur"):
        shutil.copytree(
            practice_cards.FIXTURES / "cards/larkspur" / role,
            root / role,
            copy_function=shutil.copyfile,
        )
    lock(root)
    return root


def test_a_change_and_its_undo_on_a_read_only_mount(volume: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Only with the option; every other mount option stays; afterwards nothing can be written there."""
    before, mounted = practice_cards.tree_bytes(volume), mount_of(volume)
    assert mounted.is_read_only
    assert main(["rename", str(volume), *RENAME]) == 1
    assert "--open-read-only" in capsys.readouterr().err
    assert main(["rename", str(volume), "Boats", "Sails", "--dry-run", *PROFILE]) == 0
    assert "writing to it takes --open-read-only" in capsys.readouterr().err
    assert main(["rename", str(volume), *RENAME, "--open-read-only"]) == 0
    assert "--open-read-only" in capsys.readouterr().out
    assert mount_of(volume) == mounted
    assert (volume / "data/shelf/Sails").is_dir()
    with pytest.raises(OSError):
        (volume / "data/x").write_bytes(b"")
    assert main(["undo", str(volume), "--yes", "--open-read-only", *PROFILE]) == 0
    assert main(["history", str(volume), "--let-go-all-but", "0", "--yes", "--open-read-only", *PROFILE]) == 0
    assert mount_of(volume) == mounted
    assert practice_cards.tree_bytes(volume) == before


def test_a_no_at_the_terminal_leaves_it_closed(
    volume: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The second question is about just that."""
    mounted, answers = mount_of(volume), ["y", "n"]
    monkeypatch.setattr("sys.stdin.isatty", lambda: True)
    monkeypatch.setattr("builtins.input", lambda: answers.pop(0))
    assert main(["rename", str(volume), "Boats", "Sails", *PROFILE]) == 1
    assert "stays closed" in capsys.readouterr().err and answers == []
    assert mount_of(volume) == mounted and (volume / "data/shelf/Boats").is_dir()


def test_a_refusal_after_it_was_opened_closes_it(volume: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The volume turns out to be full only then."""
    subprocess.run(["mount", "-o", "remount,rw", str(volume)], check=True)
    with (volume / "filler").open("wb") as filler:
        while True:
            try:
                filler.write(bytes(1 << 20))
                filler.flush()
            except OSError:
                break
    mounted = lock(volume)
    assert main(["rename", str(volume), *RENAME, "--open-read-only"]) == 1
    assert "too full" in capsys.readouterr().err
    assert mount_of(volume) == mounted and not (volume / "data/.cardwright").exists()


def run_hit(volume: Path, call: str, signal: str) -> int:
    """The command in a process of its own that a signal hits in the middle of its writing."""
    if not shutil.which("strace"):
        need(["strace"], "a signal at a chosen call")
    words = [sys.executable, "-m", "workbench", "rename", str(volume), *RENAME, "--open-read-only"]
    hit = ["strace", "-f", "-qq", "-o", "/dev/null", "-e", f"trace={call}", "-e", f"inject={call}:{signal}"]
    root = Path(__file__).resolve().parents[2]
    return subprocess.run([*hit, *words], cwd=root, capture_output=True, env=dict(os.environ)).returncode


@pytest.mark.parametrize("signal", ["SIGINT", "SIGTERM", "SIGHUP"])
def test_a_signal_in_the_middle_does_not_leave_it_open(volume: Path, signal: str) -> None:
    """The change is carried to its end, and the volume is closed."""
    mounted = mount_of(volume)
    assert run_hit(volume, "fsync", f"signal={signal}:when=3") == 0
    assert mount_of(volume) == mounted and (volume / "data/shelf/Sails").is_dir()


def test_after_a_kill_recovery_closes_it(volume: Path) -> None:
    """A killed program closes nothing; what it noted lets the recovery make the volume read-only again."""
    mounted = mount_of(volume)
    assert run_hit(volume, "renameat,rename", "signal=SIGKILL:when=4") != 0
    assert not mount_of(volume).is_read_only
    assert main(["recover", str(volume), "--forward", *PROFILE]) == 0
    assert mount_of(volume) == mounted and (volume / "data/shelf/Sails").is_dir()


def test_a_recovery_on_a_mount_that_is_read_only_again(volume: Path) -> None:
    """The card was pulled and mounted anew: recovery needs the option too, and closes again."""
    mounted = mount_of(volume)
    assert run_hit(volume, "renameat,rename", "signal=SIGKILL:when=4") != 0
    lock(volume)
    assert main(["recover", str(volume), "--back", *PROFILE]) == 3
    assert main(["recover", str(volume), "--back", "--open-read-only", *PROFILE]) == 0
    assert mount_of(volume) == mounted and (volume / "data/shelf/Boats").is_dir()


@pytest.mark.parametrize("errors", ["remount-ro", "continue"])
def test_an_ext4_that_failed_is_never_opened(
    errors: str, ext4: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The kernel's own switch for tests makes it fail; the option does not help.

    Either it became read-only by itself, or it went on and was made read-only on purpose later: then it has
    counted its errors, until fsck mends it.
    """
    practice_cards.lay_out("larkspur", ext4 / "card")
    subprocess.run(["mount", "-o", f"remount,errors={errors}", str(ext4)], check=True)
    trigger = Path("/sys/fs/ext4") / os.path.basename(mount_of(ext4).device) / "trigger_fs_error"
    if not trigger.exists():
        need([str(trigger)], "an ext4 that fails on purpose")
    trigger.write_text("a test\n")
    failed = lock(ext4) if errors == "continue" else mount_of(ext4)
    assert failed.is_read_only
    assert main(["rename", str(ext4 / "card"), *RENAME, "--open-read-only"]) == 1
    assert "after an error" in capsys.readouterr().err
    assert mount_of(ext4) == failed


@pytest.mark.parametrize(
    ("kind", "said"),
    [("tmpfs", "gone when the device starts again"), ("overlay", "goes into a layer above it")],
)
def test_what_keeps_nothing_is_never_opened(
    kind: str, said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A real mount of each kind, made read-only; the sentence says what would become of a change."""
    if os.geteuid() != 0:
        need(["root"], f"a {kind} mount")
    base, root = tmp_path / "base", tmp_path / "root"
    base.mkdir()
    root.mkdir()
    subprocess.run(["mount", "-t", "tmpfs", "none", str(base)], check=True)
    try:
        if kind == "overlay":
            for name in ("lower", "upper", "work"):
                (base / name).mkdir()
            options = ",".join(f"{name}dir={base / name}" for name in ("lower", "upper", "work"))
            done = subprocess.run(
                ["mount", "-t", kind, "-o", options, "none", str(root)], capture_output=True
            )
            if done.returncode:
                need(["a kernel that mounts overlays"], "an overlay")
        else:
            subprocess.run(["mount", "--bind", str(base), str(root)], check=True)
        practice_cards.lay_out("larkspur", root / "card")
        subprocess.run(["mount", "-o", "remount,ro", str(root)], check=True)
        assert main(["rename", str(root / "card"), *RENAME, "--open-read-only"]) == 1
        assert said in capsys.readouterr().err and mount_of(root).is_read_only
    finally:
        subprocess.run(["umount", str(root)], check=False, capture_output=True)
        subprocess.run(["umount", str(base)], check=True)


def test_kernel_vfat_is_opened_and_closed_too(fat: Callable[..., FatMachine]) -> None:
    """Two volumes, each of its own FAT, one of them read-only: only with the option, and read-only again."""
    card = fat(practice_cards.roles("larkspur"))
    card.fill(practice_cards.FIXTURES / "cards/larkspur")
    before = card.read_tree()
    state = "grep ' /mnt/card/system ' /proc/self/mountinfo | sed 's/^/STATE /'"
    blank = ("splash", "/mnt/card", "blank", "--yes", *PROFILE)
    printed = card.run(
        [
            "mount -o remount,ro,noexec /mnt/card/system",
            state,
            card.command(*blank),
            card.command(*blank, "--open-read-only"),
            state,
            card.command("undo", "/mnt/card", "--yes", "--open-read-only", *PROFILE),
            state,
        ]
    ).replace("\r", "")
    states = {line for line in printed.splitlines() if line.startswith("STATE ")}
    exits = [line for line in printed.splitlines() if line.startswith("EXIT ")]
    assert exits == ["EXIT 1", "EXIT 0", "EXIT 0"], printed
    assert len(states) == 1 and " ro,noexec" in states.pop(), printed
    assert card.read_tree() == before
    card.check_clean()
