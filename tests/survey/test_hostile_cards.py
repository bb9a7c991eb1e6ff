"""Hostile cards give findings or notes of what was skipped: never a crash, never a hang, never a wrong menu.

Each runs as a process of its own, without root's right to read everything, under a limit of memory and of
time; so a crash of an extension module or a wait without end fails the test and not the run.
"""

from __future__ import annotations

import json
import os
import resource
import stat
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import hostile
import pytest

SECONDS = 120
MEMORY = 2 << 30
"""Bytes of address space; the resident memory is measured by itself."""
RESIDENT = 400 << 20
PR_CAPBSET_DROP, DAC_OVERRIDE, DAC_READ_SEARCH = 24, 1, 2
"""Numbers of Linux: prctl.h and capability.h."""
HOUSE = Path(__file__).resolve().parents[2]


@pytest.fixture
def card() -> Iterator[Path]:
    """An honest card in a folder that anybody may enter (pytest's own are closed to others)."""
    folder = Path(tempfile.mkdtemp(prefix="hostile-"))
    folder.chmod(0o755)
    yield hostile.lay_out_honest(folder / "card")
    for place in (folder / "card" / "closed", folder / "card"):
        if place.exists():
            place.chmod(stat.S_IRWXU)
    # Python's own way down fails at paths longer than PATH_MAX; rm goes by descriptors.
    subprocess.run(["rm", "-rf", str(folder)], check=True)


def survey(card: Path) -> tuple[dict[str, Any], int]:
    """The JSON answer and the largest resident memory in bytes, of a process of its own."""
    words = [sys.executable, "-m", "workbench", "survey", str(card), "--json"]
    home = card.parent / "home"
    home.mkdir(mode=0o777, exist_ok=True)
    home.chmod(0o777)
    environment = {**os.environ, "HOME": str(home), "PYTHONDONTWRITEBYTECODE": "1", "PYTHONPATH": str(HOUSE)}
    environment = {key: value for key, value in environment.items() if not key.startswith("XDG_")}
    measured = [sys.executable, "-c", _MEASURING, *words]
    ended = subprocess.run(
        measured, cwd=HOUSE, env=environment, capture_output=True, timeout=SECONDS, preexec_fn=_limit
    )
    assert b"Traceback" not in ended.stderr, ended.stderr[-3000:].decode(errors="replace")
    assert ended.returncode == 0, (ended.returncode, ended.stderr[-2000:])
    *_, peak = ended.stderr.split()
    return json.loads(ended.stdout), int(peak) * 1024


_MEASURING = (
    "import resource, subprocess, sys\n"
    "code = subprocess.run(sys.argv[1:]).returncode\n"
    "print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss, file=sys.stderr)\n"
    "sys.exit(code)"
)


def _limit() -> None:
    """Less memory; and root reads only what its owner may, as anybody else (capabilities(7), prctl(2))."""
    import ctypes

    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    if os.geteuid() == 0:
        system = ctypes.CDLL(None, use_errno=True)
        for capability in (DAC_OVERRIDE, DAC_READ_SEARCH):
            if system.prctl(PR_CAPBSET_DROP, capability, 0, 0, 0) != 0:
                raise OSError(ctypes.get_errno(), "prctl")


def menus_of(profile: str) -> list[tuple[str, set[str]]]:
    """Each menu's root and the files of its rules."""
    import tomllib

    return [
        (menu["root"], {rule["file"] for rule in menu.get("references", ())})
        for menu in tomllib.loads(profile)["menus"]
    ]


@pytest.mark.parametrize("attack", hostile.ATTACKS, ids=lambda attack: attack.__name__)
def test_hostile_card_is_surveyed_all_the_same(attack: Callable[[Path], None], card: Path) -> None:
    """The menu and its rules are found as without the attack; what was skipped is said."""
    clean, _ = survey(card)
    attack(card)
    answer, peak = survey(card)
    expected, found = menus_of(clean["profile"]), menus_of(answer["profile"])
    assert expected and expected[0][0].endswith(":trove")
    assert [root for root, _ in found] == [root for root, _ in expected]
    assert expected[0][1] <= found[0][1]
    skipped = {note["path"] for note in answer["skipped"]}
    for path in hostile.SAID.get(attack, ()):
        assert path in skipped, skipped
    assert peak < RESIDENT, f"{peak:,} bytes resident"


def test_all_at_once(card: Path) -> None:
    """Every attack on one card."""
    for attack in hostile.ATTACKS:
        attack(card)
    answer, peak = survey(card)
    assert menus_of(answer["profile"])[0][0].endswith(":trove")
    assert peak < RESIDENT, f"{peak:,} bytes resident"


def test_nothing_of_a_card_is_obeyed_by_the_terminal(card: Path) -> None:
    """No control character of a name comes out as it is, on either stream."""
    hostile.odd_names(card)
    words = [sys.executable, "-m", "workbench", "survey", str(card)]
    ended = subprocess.run(words, cwd=HOUSE, capture_output=True, timeout=SECONDS)
    assert ended.returncode == 0, ended.stderr
    assert not {byte for byte in ended.stderr + ended.stdout if byte < 32} - {10}
    assert "\u202e" not in (ended.stdout + ended.stderr).decode()
