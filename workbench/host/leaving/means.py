"""What can unmount a medium here, the system's most careful means first.

Linux: udisks over D-Bus, else `umount`. macOS: `diskutil`. Elsewhere nobody: the person is told to use the
system's own way. A lazy unmount (`umount -l`) is never asked for: it does not make a card safe.
"""

from __future__ import annotations

import shutil
import subprocess
import sys

from workbench.errors import CardwrightError
from workbench.typed import Protocol

SECONDS = 300
"""A slow card may have much to write back when it is unmounted."""


class LeaveError(CardwrightError):
    """A volume could not be unmounted; it is as it was."""

    kind = "leave"

    def __init__(self, message: str, *, path: str | None = None, busy: bool = False) -> None:
        super().__init__(message, path=path)
        self.busy = busy
        """Whether some program holds it."""


class Means(Protocol):
    """One way to unmount a volume, and to switch its medium off."""

    name: str

    def unmount(self, device: str, point: str) -> None:
        """Unmount.

        Raises:
            LeaveError: it is still mounted.
        """

    def power_off(self, device: str) -> str:
        """Eject the medium, or switch its drive off: a sentence about what was done, or nothing.

        Raises:
            LeaveError: the system refused; the medium is unmounted all the same.
        """

    def close(self) -> None:
        """Nothing more is asked."""


def choose_means() -> Means | None:
    """The best means that is here; None where there is none."""
    if sys.platform == "darwin":
        return Diskutil() if shutil.which("diskutil") else None
    if not sys.platform.startswith("linux"):
        return None
    from workbench.host.leaving.udisks import connect

    return connect() or (Umount() if shutil.which("umount") else None)


class Command:
    """A command of the system, run anew each time."""

    def close(self) -> None:
        """Nothing is held."""


class Umount(Command):
    """umount(8), for a system without udisks; takes the right to mount (root, or `user` in fstab)."""

    name = "umount"

    def unmount(self, device: str, point: str) -> None:  # noqa: ARG002 (the shape that all means have)
        said = _run(["umount", "--", point])
        if said is not None:
            raise LeaveError(said, path=point, busy="busy" in said)

    def power_off(self, device: str) -> str:  # noqa: ARG002 (the shape that all means have)
        return ""


class Diskutil(Command):
    """diskutil(8) of macOS."""

    name = "diskutil"

    def unmount(self, device: str, point: str) -> None:  # noqa: ARG002 (the shape that all means have)
        said = _run(["diskutil", "unmount", point])
        if said is not None:
            raise LeaveError(said, path=point, busy="in use" in said or "busy" in said)

    def power_off(self, device: str) -> str:
        said = _run(["diskutil", "eject", device])
        if said is not None:
            raise LeaveError(said, path=device)
        return "The medium was ejected."


def _run(words: list[str]) -> str | None:
    """None where it did what it should; otherwise what it said, in one line."""
    try:
        done = subprocess.run(
            words, capture_output=True, timeout=SECONDS, check=False, env=_plain_environment()
        )
    except subprocess.TimeoutExpired:
        return f"{words[0]} did not come to an end in {SECONDS} seconds"
    except OSError as error:
        return f"{words[0]} cannot be run: {error.strerror}"
    if done.returncode == 0:
        return None
    said = (done.stderr or done.stdout).decode("utf-8", "replace").split("\n")
    return next((line.strip() for line in said if line.strip()), f"{words[0]} ended with {done.returncode}")


def _plain_environment() -> dict[str, str]:
    """So that what it says is in one language."""
    import os

    return {**os.environ, "LC_ALL": "C"}
