"""A D-Bus of a test's own, with the stand-in disk service on it."""

from __future__ import annotations

import contextlib
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

CONFIG = """<!DOCTYPE busconfig PUBLIC "-//freedesktop//DTD D-Bus Bus Configuration 1.0//EN"
 "http://www.freedesktop.org/standards/dbus/1.0/busconfig.dtd">
<busconfig><listen>unix:dir={folder}</listen><auth>EXTERNAL</auth>
<policy context="default"><allow send_destination="*"/><allow receive_sender="*"/><allow own="*"/>
<allow user="*"/></policy></busconfig>
"""


@contextlib.contextmanager
def private_bus(folder: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    """The address of a new bus, which stands for the system's."""
    if shutil.which("dbus-daemon") is None:
        pytest.skip("needs dbus-daemon")
    config = folder / "bus.conf"
    config.write_text(CONFIG.format(folder=folder))
    words = ["dbus-daemon", f"--config-file={config}", "--nofork", "--print-address"]
    with subprocess.Popen(words, stdout=subprocess.PIPE) as daemon:
        assert daemon.stdout is not None
        address = daemon.stdout.readline().decode().strip()
        monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", address)
        try:
            yield address
        finally:
            daemon.kill()


@contextlib.contextmanager
def disk_service(folder: Path, refusal: str = "none", power: str = "neither") -> Iterator[Path]:
    """The stand-in service on that bus; the file in which it notes each call."""
    journal = folder / "calls.txt"
    program = Path(__file__).with_name("disk_service.py")
    words = [sys.executable, str(program), str(journal), refusal, power]
    with subprocess.Popen(words, stdout=subprocess.PIPE) as service:
        assert service.stdout is not None
        assert service.stdout.readline() == b"ready\n"
        try:
            yield journal
        finally:
            service.kill()
