"""A real exFAT: an image on a loop device, mounted by exfat-fuse."""

from __future__ import annotations

import os
import shutil
import subprocess
import time
from pathlib import Path

MISSING = [
    tool
    for tool in ("mount.exfat-fuse", "mkfs.exfat", "fsck.exfat", "losetup")
    if not shutil.which(tool, path="/usr/sbin:/usr/bin:/sbin:/bin")
]
if not Path("/dev/fuse").exists():
    MISSING.append("/dev/fuse")

_ENV = {"PATH": "/usr/sbin:/usr/bin:/sbin:/bin"}


class ExfatMount:
    """An exFAT volume mounted at `root`. Only a fresh mount shows a folder's slots: `remount` first."""

    def __init__(self, folder: Path, megabytes: int = 64, cluster: str = "32K") -> None:
        folder.mkdir(parents=True, exist_ok=True)
        self.image = folder / "card.img"
        self.root = folder / "mount"
        self.root.mkdir()
        with self.image.open("wb") as image:
            image.truncate(megabytes * 1024 * 1024)
        _run("mkfs.exfat", "-c", cluster, "-L", "PRACTICE", str(self.image))
        self.device = _run("losetup", "-f", "--show", str(self.image)).strip()
        self._mount()

    def _mount(self) -> None:
        _run("mount.exfat-fuse", self.device, str(self.root))
        assert os.path.ismount(self.root), "exFAT was not mounted"

    def remount(self) -> None:
        """Unmount and mount again: what a listing shows then is what is on the card."""
        self._unmount()
        self._mount()

    def remount_after_leaving(self) -> None:
        """Mount again what something else unmounted."""
        self._mount()

    def _unmount(self) -> None:
        """Whoever looks at every mounted volume (a search for cards) may hold it for a moment."""
        for _ in range(50):
            done = subprocess.run(["umount", str(self.root)], capture_output=True, env=_ENV)
            if done.returncode == 0:
                return
            time.sleep(0.1)
        raise AssertionError(done.stderr.decode(errors="replace"))

    def close(self) -> None:
        """Unmount and let the loop device go."""
        if os.path.ismount(self.root):
            self._unmount()
        if self.device:
            _run("losetup", "-d", self.device)
            self.device = ""

    def check_clean(self) -> None:
        """`fsck.exfat -n` finds nothing wrong (the volume is unmounted for it)."""
        self._unmount()
        done = subprocess.run(["fsck.exfat", "-n", self.device], capture_output=True, env=_ENV)
        self._mount()
        assert done.returncode == 0, done.stdout.decode(errors="replace") + done.stderr.decode(
            errors="replace"
        )


def _run(*words: str) -> str:
    done = subprocess.run(words, capture_output=True, env=_ENV, check=False)
    assert done.returncode == 0, f"{words[0]}: {done.stderr.decode(errors='replace')}"
    return done.stdout.decode()
