"""Real file systems. Where they cannot run the tests are skipped with the reason; CI requires them."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import exfat_mount
import fat_machine
import pytest


def need(missing: list[str], what: str) -> None:
    """Skip with the reason where tools are missing; fail where CI requires them."""
    if not missing:
        return
    reason = f"{what} needs {', '.join(missing)}"
    if os.environ.get("CARDWRIGHT_REQUIRE_REAL"):
        pytest.fail(reason)
    pytest.skip(reason)


@pytest.fixture
def fat(tmp_path: Path) -> Callable[..., fat_machine.FatMachine]:
    """Makes cards of kernel vfat volumes: `fat(roles)`."""
    need(fat_machine.MISSING, "kernel vfat in user-mode Linux")
    return lambda roles, **options: fat_machine.FatMachine(tmp_path / "fat", roles, **options)


@pytest.fixture
def exfat(tmp_path: Path) -> Iterator[exfat_mount.ExfatMount]:
    """A mounted exFAT volume."""
    missing = list(exfat_mount.MISSING)
    if not missing and os.geteuid() != 0:
        missing.append("root")
    need(missing, "exFAT through exfat-fuse")
    if subprocess.run(["losetup", "-f"], capture_output=True).returncode != 0:
        need(["a free loop device"], "exFAT through exfat-fuse")
    mount = exfat_mount.ExfatMount(tmp_path / "exfat")
    yield mount
    mount.close()
