"""Cuts a process off at one system call with strace, and compares what recovery makes of the card.

The calls are counted in one run that nothing disturbs; `when=N` then hits the same call in the next run, as
the driver does the same calls in the same order. Only calls on the card count.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import fault_scenes
from fault_scenes import AFTER, State, host_of, state_of
from pack_scenes import PACK_SCENES, lay_out_beside

from workbench.card.volumes import Card
from workbench.changes.ledger import read_history
from workbench.changes.recover import find_unfinished, recover

DRIVER = Path(__file__).with_name("fault_driver.py")
CALLS = (
    "openat,write,pwrite64,ftruncate,fallocate,rename,renameat,renameat2,mkdir,mkdirat,unlink,unlinkat,rmdir,"
    "fsync,fdatasync,fchmod,utimensat"
)
_LINE = re.compile(r"^(?:\d+ +)?(\w+)\((.*)")
_WRITES = re.compile(r"O_WRONLY|O_RDWR|O_CREAT")

FAULTS = {"kill": "signal=SIGKILL", "full": "error=ENOSPC", "broken": "error=EIO"}
"""What hits a call: the program is killed, the card is full, the card answers with an error."""


@dataclass(frozen=True)
class Call:
    """One system call of a run: the name and which one of that name it is."""

    name: str
    number: int


@dataclass(frozen=True)
class Scene:
    """A card before, and what the plan makes of it."""

    name: str
    folder: Path
    """The card as it is before; copied for each run."""
    start: State
    end: State
    calls: tuple[Call, ...]


def set_scene(name: str, room: Path) -> Scene:
    """Lay out the card, run the plan once undisturbed, and list its calls."""
    folder = room / "start"
    fault_scenes.lay_out(folder)
    if name in PACK_SCENES:
        lay_out_beside(folder)
    if name in AFTER:
        first = run(folder, AFTER[name])
        assert first.returncode == 0, first.stderr
    start = state_of(folder)
    trial = copy_card(folder, room / "card")
    log = room / "log"
    done = run(trial, name, "-y", "-o", str(log), "-e", f"trace={CALLS}")
    assert done.returncode == 0, done.stderr
    calls = list_calls(log, trial)
    end = state_of(trial)
    assert end != start
    shutil.rmtree(trial)
    return Scene(name, folder, start, end, calls)


def list_calls(log: Path, card: Path) -> tuple[Call, ...]:
    """The calls of a run that change the card, or what is kept on this computer for it."""
    counted: dict[str, int] = {}
    calls = []
    for line in log.read_text("utf-8", "replace").splitlines():
        found = _LINE.match(line)
        if found is None:
            continue
        name, rest = found.groups()
        counted[name] = counted.get(name, 0) + 1
        on_card = str(card) in rest or str(host_of(card)) in rest
        if on_card and (name != "openat" or _WRITES.search(rest)):
            calls.append(Call(name, counted[name]))
    return tuple(calls)


def run(card: Path, scene: str, *strace: str) -> subprocess.CompletedProcess[str]:
    """The driver on that card, under strace where there are options for it."""
    # -S and -E: what site and the environment bring in would only cost time in each of many runs.
    command = [sys.executable, "-S", "-B", str(DRIVER), str(card), scene]
    if strace:
        command = ["strace", "-f", "-qq", *strace, *command]
    # On the disk of the "computer", as the folder for kept copies is: what is beside the card is not on it.
    quiet = {**os.environ, "PYTHONHASHSEED": "0", "CARDWRIGHT_STATE": str(card.parent / "state")}
    return subprocess.run(command, capture_output=True, text=True, env=quiet, timeout=120)


def strike(scene: Scene, call: Call, fault: str, room: Path, *, lasting: bool = False) -> tuple[Path, int]:
    """Run the plan with one call hit (and all later ones of its name); the card then, and the exit code."""
    card = copy_card(scene.folder, room / "card")
    when = f"{call.number}{'+' if lasting else ''}"
    hit = f"inject={call.name}:{FAULTS[fault]}:when={when}"
    done = run(card, scene.name, "-o", "/dev/null", "-e", f"trace={call.name}", "-e", hit)
    return card, done.returncode


def judge(scene: Scene, card: Path, code: int, room: Path) -> str:
    """Check that the card can go both ways from here; what state it was found in."""
    folder = open_card(card)
    if code in (0, 1):
        assert state_of(card) == (scene.end if code == 0 else scene.start), "exit code and card disagree"
        assert find_unfinished(folder) is None
        recover(folder, "back")
        assert state_of(card) == (scene.end if code == 0 else scene.start)
        return "done" if code == 0 else "refused"
    assert code in (3, -9, 137), code
    unfinished = find_unfinished(folder)
    if unfinished is None:
        recover(folder, "forward")
        now = state_of(card)
        assert now in (scene.start, scene.end)
        is_in_history = len(read_history(folder)) == (2 if scene.name in AFTER else 1)
        assert is_in_history == (now == scene.end)
        return "not begun" if now == scene.start else "ended"
    other = copy_card(card, room / "other")
    end_with(folder, "forward", scene.end, card)
    end_with(open_card(other), "back", scene.start, other)
    return "begun"


def end_with(card: Card, way: str, wanted: State, folder: Path) -> None:
    """Recover that way, and be done."""
    recover(card, "forward" if way == "forward" else "back")
    assert state_of(folder) == wanted, way
    assert find_unfinished(card) is None
    assert recover(card, "back") is None


def open_card(folder: Path) -> Card:
    return fault_scenes.open_scene(folder)


def copy_card(source: Path, to: Path) -> Path:
    """A copy with modes, links and times."""
    shutil.rmtree(to, ignore_errors=True)
    shutil.copytree(source, to, symlinks=True)
    return to


def save_host(room: Path) -> Path | None:
    """A copy of what this computer keeps for the card, where it keeps anything."""
    host = host_of(room / "card")
    return copy_card(host, room / "host-saved") if host.exists() else None


def give_host_back(saved: Path | None, room: Path) -> None:
    """As it was: a recovery that went back has taken it away."""
    if saved is not None:
        copy_card(saved, host_of(room / "card"))
