"""A practice Orrery that runs: its card, its menu process, and the commands that stop and start it."""

from __future__ import annotations

import contextlib
import os
import re
import signal
import sys
from pathlib import Path

import practice_cards

from workbench.card.discovery import open_card
from workbench.card.profile_reader import read_profile
from workbench.card.volumes import Card
from workbench.values import replace

START = """#!/bin/sh
[ -e {pid} ] && kill -0 $(cat {pid}) 2>/dev/null && exit 0
rm -f {pid}
{python} -I -S {menu} {root} {pid} >/dev/null 2>&1 &
while [ ! -e {pid} ]; do sleep 0.005; done
"""
STOP = """#!/bin/sh
[ -e {pid} ] || exit 0
kill -TERM $(cat {pid}) 2>/dev/null || exit 0
while [ -e {pid} ]; do sleep 0.005; done
"""


class DeviceAtWork:
    """Orrery, with its menu running or not."""

    def __init__(self, folder: Path) -> None:
        self.folder = practice_cards.lay_out("orrery", folder / "card")
        self.root = self.folder / "disk"
        self.pid_file = folder / "menu.pid"
        facts = {
            "pid": self.pid_file,
            "root": self.root,
            "python": sys.executable,
            "menu": Path(__file__).with_name("orrery_menu.py"),
        }
        for name, text in (("start", START), ("stop", STOP)):
            script = folder / name
            script.write_text(text.format(**facts))
            script.chmod(0o755)
        profile = read_profile(practice_cards.profile_path("orrery"))
        rule = replace(profile.device, stop=str(folder / "stop"), start=str(folder / "start"))
        profile = replace(profile, device=rule)
        self.card: Card = replace(open_card(str(self.folder), [profile], profile), source="device")
        self._commands = folder

    @property
    def is_running(self) -> bool:
        """Whether the menu runs."""
        if not self.pid_file.exists():
            return False
        with contextlib.suppress(OSError):
            os.kill(self.pid, 0)
            return True
        return False

    @property
    def pid(self) -> int:
        return int(self.pid_file.read_text())

    def start(self) -> None:
        assert os.system(str(self._commands / "start")) == 0

    def stop(self) -> None:
        assert os.system(str(self._commands / "stop")) == 0

    def look(self) -> bool:
        """A person looks at a piece; whether the menu was there to count it."""
        if not self.is_running:
            return False
        answer = self.pid_file.with_name(f"{self.pid_file.name}.looks")
        before = answer.read_text()
        os.kill(self.pid, signal.SIGUSR1)
        while answer.read_text() in ("", before):  # two signals at once would be one
            os.sched_yield()
        return True

    def kill(self) -> None:
        """The battery is empty: what the menu had in mind is lost."""
        if self.is_running:
            pid = self.pid
            os.kill(pid, signal.SIGKILL)
            with contextlib.suppress(OSError):
                while True:
                    os.kill(pid, 0)
                    _reap(pid)
        self.pid_file.unlink(missing_ok=True)

    def times(self) -> int:
        """The first count in the list that the menu keeps."""
        found = re.search(rb"(?m)^times = (\d+)$", (self.root / "almanac/seen.toml").read_bytes())
        assert found is not None
        return int(found[1])


def _reap(pid: int) -> None:
    """The menu is nobody's child here; whoever inherits it buries it."""
    with contextlib.suppress(ChildProcessError):
        os.waitpid(pid, os.WNOHANG)
