"""A survey of a card of 100,000 files beside a plain script that walks it and parses its manifests strictly.

Whole processes, medians of alternating runs. Wanted: at most 3 × the script, at most 150 MB resident, at most
four questions. The figures are printed; memory, questions and what was found are asserted.
"""

from __future__ import annotations

import json
import os
import random
import statistics
import subprocess
import sys
import time
import tomllib
from collections.abc import Callable
from pathlib import Path

import pytest

FILES = 100_000
ENTRIES = 250
MANIFESTS = 1000
ROUNDS = 3
MEMORY = 150 * 1000 * 1000

PLAIN = """\
import configparser, json, os, sys, tomllib
from xml.etree import ElementTree

def strictly(path, suffix):
    with open(path, "rb") as file:
        raw = file.read()
    if suffix == ".json":
        json.loads(raw)
    elif suffix == ".toml":
        tomllib.loads(raw.decode())
    elif suffix == ".xml":
        ElementTree.fromstring(raw)
    elif suffix == ".ini":
        configparser.ConfigParser(strict=True, interpolation=None).read_string(raw.decode())
    else:
        raw.decode().splitlines()

parsed = 0
for folder, _, names in os.walk(sys.argv[1]):
    for name in names:
        suffix = os.path.splitext(name)[1].lower()
        if suffix in (".json", ".toml", ".xml", ".ini", ".list"):
            strictly(os.path.join(folder, name), suffix)
            parsed += 1
print(parsed)
"""
"""The script that a survey is measured against: the standard library alone."""


def lay_out(root: Path, seed: int = 5) -> Path:
    """250 entries, 1,000 manifests of all formats, and small media up to 100,000 files."""
    picks = random.Random(seed)
    names = [
        f"Tale {number} of {picks.choice(('reeds', 'rooks', 'rain', 'rust'))}" for number in range(ENTRIES)
    ]
    for name in names:
        (root / "trove" / name).mkdir(parents=True)
    (root / "innards" / "lists").mkdir(parents=True)
    rows = {
        name: {"wording": f"Title {n}", "opens": f"/stow/trove/{name}/go"} for n, name in enumerate(names)
    }
    (root / "innards" / "roll.json").write_text(json.dumps({"hall": rows}, indent=1))
    for number in range(MANIFESTS - 1):
        suffix, write = _KINDS[number % len(_KINDS)]
        place = root / "innards" / "lists" / f"part{number % 10}"
        place.mkdir(exist_ok=True)
        (place / f"list{number:04d}.{suffix}").write_text(write([picks.choice(names) for _ in range(60)]))
    for number in range(FILES - MANIFESTS):
        folder = root / "trove" / names[number % ENTRIES] / f"reel {number % 5}"
        folder.mkdir(exist_ok=True)
        suffix = (".png", "", ".bin", ".wav")[number % 4]
        (folder / f"{number:06d}{suffix}").write_bytes(b"\0\1" + number.to_bytes(4, "big") * 8)
    return root


def _json(names: list[str]) -> str:
    return json.dumps(
        [{"which": f"/stow/trove/{name}/go", "turns": n} for n, name in enumerate(names)], indent=1
    )


def _toml(names: list[str]) -> str:
    return "".join(f'[[row]]\nwhich = "{name}"\nturns = {n}\n' for n, name in enumerate(names))


def _ini(names: list[str]) -> str:
    return "".join(f"[row {n}]\nwhich = trove/{name}\nturns = {n}\n" for n, name in enumerate(names))


def _xml(names: list[str]) -> str:
    rows = "".join(f'  <row which="{name}" turns="{n}"/>\n' for n, name in enumerate(names))
    return f"<rows>\n{rows}</rows>\n"


def _lines(names: list[str]) -> str:
    return "".join(f"/stow/trove/{name}/go\n" for name in names)


_KINDS = (("json", _json), ("toml", _toml), ("ini", _ini), ("xml", _xml), ("list", _lines))


@pytest.mark.bench
def test_a_hundred_thousand_files_beside_a_plain_script(tmp_path: Path, capsys) -> None:
    """Wanted: at most 3 × the script, 150 MB and four questions."""
    card = lay_out(tmp_path / "card")
    assert sum(len(names) for _, _, names in os.walk(card)) == FILES
    surroundings = {**os.environ, "PYTHONPYCACHEPREFIX": str(tmp_path / "compiled")}
    surroundings.pop("PYTHONDONTWRITEBYTECODE", None)
    answer = tmp_path / "answer.json"

    def survey() -> None:
        with answer.open("wb") as out:
            words = [sys.executable, "-m", "workbench", "survey", str(card), "--json"]
            subprocess.run(words, env=surroundings, check=True, stdout=out)

    def script() -> None:
        told = subprocess.run([sys.executable, "-c", PLAIN, str(card)], check=True, capture_output=True)
        assert int(told.stdout) == MANIFESTS

    survey()
    script()
    ours, theirs = _times(survey, script)
    told = json.loads(answer.read_text())
    menus = tomllib.loads(told["profile"])["menus"]
    peak = _peak([sys.executable, "-m", "workbench", "survey", str(card), "--json"], surroundings)
    mine, plain = statistics.median(ours), statistics.median(theirs)
    with capsys.disabled():
        print(
            f"\nsurvey of {FILES:,} files: {mine:.2f} s; script {plain:.2f} s; "
            f"ratio {mine / plain:.2f} (wanted at most 3); "
            f"{peak / 1e6:.0f} MB resident (at most 150); {len(told['questions'])} questions"
        )
    assert any(menu["root"].endswith(":trove") for menu in menus)
    assert len(told["questions"]) <= 4
    assert peak <= MEMORY


def _times(one: Callable[[], None], other: Callable[[], None]) -> tuple[list[float], list[float]]:
    """Seconds of each, run by turns, so that what else the machine does falls on both."""
    spent: tuple[list[float], list[float]] = [], []
    for _ in range(ROUNDS):
        for number, run in enumerate((one, other)):
            start = time.perf_counter()
            run()
            spent[number].append(time.perf_counter() - start)
    return spent


def _peak(words: list[str], env: dict[str, str]) -> int:
    """The largest resident memory of a process, in bytes (getrusage(2): kilobytes on Linux)."""
    measuring = (
        "import resource, subprocess, sys\n"
        "subprocess.run(sys.argv[1:], check=True, stdout=subprocess.DEVNULL)\n"
        "print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)"
    )
    told = subprocess.run([sys.executable, "-c", measuring, *words], env=env, check=True, capture_output=True)
    return int(told.stdout) * 1024
