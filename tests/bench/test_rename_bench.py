"""A rename on a wide card beside `grep | xargs sed`: medians of alternating runs, as whole processes.

Prints ratios; asserts nothing about time. What it does assert is that the figure counts: every staged file
and every pack of kept bytes was synced before the first rename.
"""

from __future__ import annotations

import os
import re
import shutil
import statistics
import subprocess
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
import synthetic
from installed import command

ROUNDS = 9
NEW = "zz Lantern"


@pytest.fixture
def surroundings(tmp_path: Path) -> dict[str, str]:
    """Compiled modules are kept, as an installed program keeps them."""
    kept = {**os.environ, "PYTHONPYCACHEPREFIX": str(tmp_path / "compiled")}
    kept.pop("PYTHONDONTWRITEBYTECODE", None)
    return kept


@pytest.mark.bench
@pytest.mark.parametrize("naming", [40, 400])
def test_a_dry_run_beside_grep_and_sed(
    naming: int, tmp_path: Path, surroundings: dict[str, str], capsys
) -> None:
    """Wanted: at most 1.3 × where 40 manifests name the entry, at most 3 × where all 400 do."""
    wide = synthetic.lay_out(tmp_path / "card", naming)
    copy = shutil.copytree(wide.root, tmp_path / "copy")
    sed = f"grep -rlFZ '{wide.name}' . | xargs -0 sed 's/{wide.name}/{NEW}/g' > /dev/null"
    ours = [*command(), "rename", str(wide.root), wide.name, NEW, "--dry-run"]
    ratio = _compare(
        lambda: _run([*ours, "--profile", str(wide.profile)], surroundings),
        lambda: subprocess.run(["sh", "-c", sed], cwd=copy, check=True),
    )
    with capsys.disabled():
        print(f"\nrename --dry-run, {naming} manifests: {ratio}")


@pytest.mark.bench
def test_applied_on_exfat_beside_sed_in_place(
    exfat, tmp_path: Path, surroundings: dict[str, str], capsys
) -> None:
    """Wanted: at most 3 × `grep | xargs sed -i` then `sync`, on the same mount."""
    wide = synthetic.lay_out(exfat.root / "card", 40)
    profile = shutil.copy(wide.profile, tmp_path / "wide.toml")
    names = _names(wide.name)
    theirs = _names(wide.name)

    def rename() -> None:
        old, new = next(names)
        words = ["rename", str(wide.root), old, new, "--yes", "--profile", str(profile)]
        _run([*command(), *words], surroundings)

    def sed() -> None:
        old, new = next(theirs)
        edit = f"grep -rlFZ '{old}' . | xargs -0 sed -i 's/{old}/{new}/g'"
        pipe = f"{edit}; mv 'shelf/{old}' 'shelf/{new}'; sync"
        subprocess.run(["sh", "-c", pipe], cwd=other.root, check=True)

    other = synthetic.lay_out(exfat.root / "other", 40)
    ratio = _compare(rename, sed)
    trace = _trace(wide.root, profile, next(names), surroundings, tmp_path)
    with capsys.disabled():
        print(f"\nrename applied on exFAT: {ratio}; {trace}")


def _names(name: str) -> Iterator[tuple[str, str]]:
    """There and back, again and again, at the same length."""
    other = name[:-1] + "X"
    while True:
        yield name, other
        yield other, name


def _trace(root: Path, profile: str, names: tuple[str, str], env: dict[str, str], tmp_path: Path) -> str:
    """Follow one applied rename: what was written under the ledger must be synced before the first rename."""
    log = tmp_path / "trace"
    calls = "trace=openat,fsync,fdatasync,sync,syncfs,rename,renameat,renameat2"
    words = ["rename", str(root), *names, "--yes", "--profile", profile]
    _run(["strace", "-f", "-y", "-e", calls, "-o", str(log), *command(), *words], env)
    synced: set[str] = set()
    written: set[str] = set()
    for line in log.read_text(errors="replace").splitlines():
        if found := re.search(r"\b(?:fsync|fdatasync)\(\d+<([^>]*)>", line):
            synced.add(found[1])
        elif found := re.search(r"\bopenat\(.*O_CREAT.* = \d+<([^>]*)>", line):
            written.add(found[1])
        elif re.search(r"\brename(?:at2?)?\(.*stage/", line):
            break
    staged = {path for path in written if "/stage/" in path}
    packs = {path for path in written if path.endswith("kept.pack")}
    assert staged, "nothing was staged"
    assert packs, "nothing was kept"
    assert staged | packs <= synced
    return f"{len(staged)} staged files and {len(packs)} pack synced before the first rename"


def _run(words: list[str], env: dict[str, str]) -> None:
    subprocess.run(words, env=env, check=True, capture_output=True, cwd=Path(__file__).resolve().parents[2])


def _compare(ours: Callable[[], object], theirs: Callable[[], object]) -> str:
    """Alternate; the first of each is not counted."""
    pairs = [(_timed(ours), _timed(theirs)) for _ in range(ROUNDS + 1)][1:]
    a, b = (statistics.median(column) for column in zip(*pairs, strict=True))
    ratio = statistics.median(one / other for one, other in pairs)
    return f"{ratio:.2f} × (ours {a * 1000:.0f} ms, theirs {b * 1000:.0f} ms, {ROUNDS} pairs)"


def _timed(run: Callable[[], object]) -> float:
    start = time.perf_counter()
    run()
    return time.perf_counter() - start
