"""Runs one of the device's own commands, as its profile words it: to stop the menu, or to start it.

Plain words are run as they are; a line that needs a shell (a pipe, a variable) is given to `sh -c`. The
command may leave programs running behind it, so its output goes nowhere.
"""

from __future__ import annotations

import shlex
import subprocess

from workbench.errors import CardwrightError
from workbench.shown import shown

SECONDS = 30
_FOR_A_SHELL = frozenset("|&;<>()$`*?[]#~=%{}\n!")


class DeviceCommandError(CardwrightError):
    """A command of the device failed."""

    kind = "device"


def run_device_command(line: str, *, seconds: float = SECONDS) -> None:
    """Run it and wait for its end.

    Raises:
        DeviceCommandError: it is not there, failed, or did not end in time.
    """
    try:
        done = subprocess.run(
            split_command(line),
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            timeout=seconds,
            check=False,
            start_new_session=True,
        )
    except subprocess.TimeoutExpired as error:
        raise DeviceCommandError(f"{shown(line)} did not end within {seconds:g} seconds") from error
    except (OSError, ValueError) as error:
        because = error.strerror if isinstance(error, OSError) else error
        raise DeviceCommandError(f"{shown(line)} cannot be run: {because}") from error
    if done.returncode != 0:
        raise DeviceCommandError(f"{shown(line)} failed (it ended with {done.returncode})")


def split_command(line: str) -> list[str]:
    """The words to run.

    Raises:
        ValueError: a quote is left open.
    """
    return ["sh", "-c", line] if _FOR_A_SHELL.intersection(line) else shlex.split(line)
