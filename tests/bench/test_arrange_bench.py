"""Arranging 500 entries: planning as a whole process beside a plain parse, and the pure choice of names.

Prints figures; asserts nothing about time. What it does assert is that the plan counts: every entry that is
renamed has all its references edited.
"""

from __future__ import annotations

import json
import os
import random
import statistics
import subprocess
import sys
import time
from pathlib import Path

import many_entries
import pytest

from workbench.card.names import fold_name
from workbench.order.arrangement import Arrangement, Signs, Wish
from workbench.order.collation import sort_names
from workbench.order.prefixes import list_pools

ROUNDS = 9
HERE = Path(__file__).resolve().parent


@pytest.fixture
def surroundings(tmp_path: Path) -> dict[str, str]:
    """Compiled modules are kept, as an installed program keeps them."""
    kept = {**os.environ, "PYTHONPYCACHEPREFIX": str(tmp_path / "compiled")}
    kept.pop("PYTHONDONTWRITEBYTECODE", None)
    return kept


def _run(words: list[str], env: dict[str, str]) -> bytes:
    done = subprocess.run(words, env=env, check=True, capture_output=True, cwd=HERE.parents[1])
    return done.stdout


@pytest.mark.bench
def test_a_whole_order_beside_a_plain_parse(tmp_path: Path, surroundings: dict[str, str], capsys) -> None:
    """Wanted: at most 2 × a script that reads and strictly parses the same manifests once."""
    root = tmp_path / "card"
    profile = many_entries.lay_out(root)
    order = str(root.with_suffix(".order"))
    ours = [sys.executable, "-m", "workbench", "arrange", str(root), "--order-from", order, "--dry-run"]
    ours += ["--profile", str(profile)]
    theirs = [sys.executable, str(HERE / "many_entries.py"), "--parse", str(root)]
    plan = json.loads(_run([*ours, "--json"], surroundings))["plan"]
    moved = [step for step in plan["steps"] if step["step"] == "move" and step["path"].startswith("shelf/")]
    assert len(moved) > many_entries.ENTRIES // 2
    assert sum(step["step"] == "write" for step in plan["steps"]) == 3
    pairs = [(_timed(ours, surroundings), _timed(theirs, surroundings)) for _ in range(ROUNDS + 1)][1:]
    a, b = (statistics.median(column) for column in zip(*pairs, strict=True))
    ratio = statistics.median(one / other for one, other in pairs)
    with capsys.disabled():
        print(f"\narrange --dry-run, 500 entries: {ratio:.2f} × ({a * 1000:.0f} ms, {b * 1000:.0f} ms)")


@pytest.mark.bench
@pytest.mark.parametrize("order", ["bytes", "letters", "letters-up", "natural"])
@pytest.mark.parametrize("style", ["shortest", "numbers"])
@pytest.mark.parametrize("disorder", ["shuffled", "three moved"])
def test_the_choice_of_names_for_500(order, style, disorder, capsys) -> None:
    """Wanted: at most 100 ms, the tables of the style not yet made."""
    picks = random.Random(3)
    words = ["Apple", "boats", "Cherry", "delta", "Ember", "fjord", "Grove", "heath"]
    found = {
        f"{picks.choice(words)} {picks.choice(words)} {picks.randint(1, 9999)}": None for _ in range(900)
    }
    names = sort_names(list(found)[:500], order)
    if disorder == "shuffled":
        picks.shuffle(names)
    else:
        names = [*names[100:103], *names[:100], *names[103:]]
    wishes = [Wish(name, name, picks.randint(1, 20)) for name in names]
    signs = Signs(list_pools(style), " ", nested=style == "numbers")
    times = []
    for _ in range(5):
        start = time.process_time()
        done = Arrangement(wishes, order, signs, fold=lambda name: fold_name(name, "fat")).find()
        times.append(time.process_time() - start)
        assert done is not None
    with capsys.disabled():
        print(
            f"\n{order}, {style}, {disorder}: first {times[0] * 1000:.0f} ms, then {min(times) * 1000:.0f} ms"
        )


def _timed(words: list[str], env: dict[str, str]) -> float:
    start = time.perf_counter()
    _run(words, env)
    return time.perf_counter() - start
