"""A check of a wide card beside a plain script that reads and strictly parses its manifests once.

Medians of alternating runs, as whole processes. Prints the ratio; asserts nothing about time.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
import synthetic
from test_rename_bench import _compare, surroundings

__all__ = ["surroundings"]

HOUSE = Path(__file__).resolve().parents[2]
PLAIN = """
import configparser, json, os, sys
count = 0
for here, folders, files in os.walk(sys.argv[1]):
    for name in files:
        if not name.endswith((".json", ".ini", ".txt")):
            continue
        with open(os.path.join(here, name), encoding="utf-8") as file:
            text = file.read()
        count += 1
        if name.endswith(".json"):
            json.loads(text)
        elif name.endswith(".ini"):
            configparser.RawConfigParser(strict=True).read_string(text)
        else:
            text.splitlines()
assert count == int(sys.argv[2]), count
"""


@pytest.mark.bench
def test_a_check_beside_a_plain_parse(tmp_path: Path, surroundings: dict[str, str], capsys) -> None:
    """Wanted: at most 3 x on 12,000 files with 400 manifests of 6 MB in all."""
    wide = synthetic.lay_out(tmp_path / "card", 40)
    ours = [
        sys.executable,
        "-m",
        "workbench",
        "check",
        str(wide.root),
        "--profile",
        str(wide.profile),
        "--json",
    ]
    plain = [sys.executable, "-c", PLAIN, str(wide.root), str(synthetic.MANIFESTS)]
    ratio = _compare(lambda: _run(ours, surroundings, {0, 4}), lambda: _run(plain, surroundings, {0}))
    with capsys.disabled():
        print(f"\ncheck, 12,000 files, {synthetic.MANIFESTS} manifests: {ratio}")


def _run(words: list[str], env: dict[str, str], codes: set[int]) -> None:
    done = subprocess.run(words, env=env, capture_output=True, cwd=HOUSE)
    assert done.returncode in codes, done.stderr[-2000:]
