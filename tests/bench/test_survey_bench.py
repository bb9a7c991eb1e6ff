"""A survey of 100,000 files beside a plain script that walks them and parses each JSON file once."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

ENTRIES = 20_000
PLAIN = """
import json, os, sys
for folder, _, names in os.walk(sys.argv[1]):
    for name in names:
        if name.endswith(".json"):
            with open(os.path.join(folder, name), encoding="utf-8") as file:
                json.load(file)
"""
SURVEY = """
import resource, sys
from workbench.jobs.survey import profile_text, read_survey
from workbench.jobs.survey.opening import open_unknown
text = profile_text(read_survey(open_unknown([sys.argv[1]])))
assert 'root = "card:shelf"' in text and "/things/{key}/begin" in text, text
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024)
"""


def lay_out(root: Path) -> None:
    """A folder with three files for each entry, a picture and a saved game elsewhere, and one register."""
    things = {}
    for folder in ("icons", "keep", "shelf"):
        (root / folder).mkdir(parents=True)
    (root / "icons" / "plain").write_bytes(b"\x89PNG\r\n\x1a\n" + bytes(200))
    for number in range(ENTRIES):
        name = f"Lantern Walk {number}"
        home = root / "shelf" / name
        home.mkdir()
        (home / "begin").write_text(f'#!/bin/sh\nexec leaf "/mnt/store/shelf/{name}/tale.txt"\n')
        (home / "piece.json").write_text(json.dumps({"file": f"shelf/{name}/begin", "dim": number % 7}))
        for link in (home / "data.bin", root / "icons" / f"{name}.png", root / "keep" / f"{name}.save"):
            os.link(root / "icons" / "plain", link)
        things[name] = {"says": f"The {name}", "begin": f"/mnt/store/shelf/{name}/begin"}
    (root / "register.json").write_text(json.dumps({"things": things}, indent=1))


def run(code: str, root: Path) -> tuple[float, str]:
    """Processor seconds of a fresh interpreter, and what it printed."""
    before = os.times()
    done = subprocess.run([sys.executable, "-c", code, str(root)], capture_output=True, text=True, check=True)
    after = os.times()
    spent = after.children_user + after.children_system - before.children_user - before.children_system
    return spent, done.stdout


@pytest.mark.bench
def test_a_survey_costs_little_more_than_reading(tmp_path: Path) -> None:
    """At most three times the plain script, in processor time; at most 150 MB."""
    root = tmp_path / "card"
    lay_out(root)
    run(PLAIN, root)
    plain = min(run(PLAIN, root)[0] for _ in range(2))
    start = time.perf_counter()
    spent, printed = run(SURVEY, root)
    megabytes = int(printed.split()[-1])
    print(
        f"\nsurvey {spent:.1f} s of processor time ({time.perf_counter() - start:.1f} s on the clock), "
        f"{megabytes} MB; plain script {plain:.1f} s: {spent / plain:.2f} times"
    )
    assert spent <= 3 * plain
    assert megabytes <= 150
