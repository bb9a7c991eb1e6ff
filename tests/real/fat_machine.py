"""A real FAT: images mounted by the Linux kernel's own vfat, in a user-mode Linux of a few seconds' life.

The guest sees the host's files read-only; only the images keep what it writes. Killing it is a pulled card.
"""

from __future__ import annotations

import json
import os
import shlex
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

MISSING = [
    tool
    for tool in ("linux.uml", "mkfs.vfat", "fsck.vfat", "insmod")
    if not shutil.which(tool, path="/usr/sbin:/usr/bin:/sbin:/bin")
]

_TREE = """
import hashlib, json, os, sys
def tree(root):
    found = {}
    for folder, folders, files in os.walk(root):
        if folder == root and ".cardwright" in folders:
            folders.remove(".cardwright")
        for name in folders:
            found[os.path.relpath(os.path.join(folder, name), root)] = "folder"
        for name in files:
            if folder == root and name.startswith("FSCK") and name.endswith(".REC"):
                continue  # clusters without a name, which fsck.vfat keeps as files of its own
            path = os.path.join(folder, name)
            found[os.path.relpath(path, root)] = hashlib.sha256(open(path, "rb").read()).hexdigest()
    return found
print("TREE " + json.dumps({name: tree(f"/mnt/card/{name}") for name in os.listdir("/mnt/card")}))
"""


@dataclass
class FatMachine:
    """A card of one or two FAT volumes, and the machine that mounts it."""

    folder: Path
    roles: Sequence[str]
    megabytes: int = 64
    options: Sequence[str] = ()
    """For mkfs.vfat: `-F 16`, `-s 8` …"""
    environment: Mapping[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.folder.mkdir(parents=True, exist_ok=True)
        for role in self.roles:
            with self.image(role).open("wb") as image:
                image.truncate(self.megabytes * 1024 * 1024)
            words = ["mkfs.vfat", *self.options, "-n", role[:11].upper(), str(self.image(role))]
            subprocess.run(words, check=True, capture_output=True, env=_PATH)

    def image(self, role: str) -> Path:
        """The image of a volume."""
        return self.folder / f"{role}.img"

    def fill(self, card: Path) -> None:
        """Copy a card's folders (one a role) onto the volumes."""
        lines = [f"cp -r {shlex.quote(str(card / role))}/. /mnt/card/{role}/" for role in self.roles]
        self.run(lines)

    def command(self, *words: str) -> str:
        """A line that runs the command line's program on the card in the guest; exit code as `EXIT n`."""
        python = shlex.join([sys.executable, "-B", "-m", "workbench", *words])
        return f"{python} </dev/null; echo EXIT $?"

    def run(
        self, lines: Sequence[str], *, kill_after: float | None = None, at: str = "GO", timeout: float = 120
    ) -> str:
        """Boot, mount, run the lines, unmount, power off. Returns what was printed.

        Args:
            kill_after: seconds at which it is killed, after the guest has printed the line `at` (GO stands
                just before the lines).
        """
        script = self._write_script(lines)
        words = ["linux.uml", "mem=256M", "rootfstype=hostfs", "rootflags=/", "ro"]
        words += [f"ubd{'abcd'[n]}={self.image(role)}" for n, role in enumerate(self.roles)]
        words += [
            f"init={script}",
            "con=null",
            "con0=fd:0,fd:1",
            "quiet",
            f"umid=cw{os.getpid()}{time.monotonic_ns()}",
        ]
        env = _PATH | {"TMPDIR": str(self.folder), "HOME": str(self.folder)}
        with subprocess.Popen(
            words, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, env=env,
            start_new_session=True,
        ) as machine:  # fmt: skip
            try:
                if kill_after is not None:
                    return _kill_after(machine, kill_after, at.encode())
                out, _ = machine.communicate(timeout=timeout)
                return out.decode(errors="replace")
            finally:
                _kill(machine)

    def read_tree(self, *before: str) -> dict[str, dict[str, str]]:
        """Per volume: relative path → `folder` or its SHA-256, without the ledger and what fsck saved."""
        out = self.run([*before, f"{shlex.quote(sys.executable)} -c {shlex.quote(_TREE)}"])
        return json.loads(next(line for line in out.splitlines() if line.startswith("TREE "))[5:])

    def check_clean(self) -> None:
        """`fsck.vfat -n` finds nothing wrong on any volume."""
        for role in self.roles:
            done = subprocess.run(["fsck.vfat", "-n", str(self.image(role))], capture_output=True, env=_PATH)
            assert done.returncode == 0, done.stdout.decode(errors="replace")

    def repair(self) -> None:
        """What a careful person does after a pulled card: `fsck.vfat -a` until it finds nothing more.

        One run cuts the second of two folders that share clusters to nothing; the next takes that away.
        """
        for role in self.roles:
            words = ["fsck.vfat", "-a", str(self.image(role))]
            for _ in range(4):
                if subprocess.run(words, capture_output=True, env=_PATH).returncode == 0:
                    break

    def _write_script(self, lines: Sequence[str]) -> Path:
        mounts = [
            f"mkdir -p /mnt/card/{role}; mount -t vfat -o utf8 /dev/ubd{'abcd'[n]} /mnt/card/{role} || exit 1"
            for n, role in enumerate(self.roles)
        ]
        variables = {
            "CARDWRIGHT_STATE": "/mnt/state",
            "CARDWRIGHT_CONFIG": "/mnt/config",
            "CARDWRIGHT_CACHE": "/mnt/cache",
        }
        exports = [
            f"export {name}={shlex.quote(value)}"
            for name, value in (variables | dict(self.environment)).items()
        ]
        script = self.folder / f"init{time.monotonic_ns()}.sh"
        script.write_text(
            "\n".join(
                [
                    "#!/bin/sh",
                    "export PATH=/usr/sbin:/usr/bin:/sbin:/bin HOME=/mnt TMPDIR=/mnt LANG=C.UTF-8",
                    "mount -t proc proc /proc; mount -t tmpfs tmpfs /mnt; mount -t sysfs sysfs /sys",
                    "K=/usr/lib/uml/modules/$(uname -r)/kernel/fs",
                    f"for m in {_MODULES}; do insmod $K/$m.ko; done",
                    *exports,
                    *mounts,
                    f"cd {shlex.quote(str(Path(__file__).resolve().parents[2]))}",
                    "echo GO",
                    *lines,
                    "cd /; umount /mnt/card/*",
                    "echo o > /proc/sysrq-trigger; sleep 9",
                    "",
                ]
            )
        )
        script.chmod(0o755)
        return script


_MODULES = "nls/nls_cp437 nls/nls_utf8 nls/nls_iso8859-1 fat/fat fat/vfat"
_PATH = {"PATH": "/usr/sbin:/usr/bin:/sbin:/bin"}


def _kill_after(machine: subprocess.Popen[bytes], seconds: float, at: bytes) -> str:
    assert machine.stdout is not None
    printed = b""
    for line in machine.stdout:
        printed += line
        if line.strip() == at:
            break
    time.sleep(seconds)
    _kill(machine)
    return (printed + machine.stdout.read()).decode(errors="replace")


def _kill(machine: subprocess.Popen[bytes]) -> None:
    try:
        os.killpg(machine.pid, signal.SIGKILL)
    except ProcessLookupError:
        return
