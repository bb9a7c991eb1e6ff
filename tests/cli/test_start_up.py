"""Start-up imports nothing that the command does not need."""

from __future__ import annotations

import subprocess
import sys

import practice_cards
import pytest

HEAVY = ("textual", "PIL", "av", "numpy", "tomlkit", "psutil", "rich")


def _loaded(*words: str) -> set[str]:
    code = (
        "import sys\n"
        "from workbench.cli.main import main\n"
        f"main({list(words)!r})\n"
        f"print('LOADED', *[name for name in {HEAVY!r} if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return set(done.stdout.splitlines()[-1].split()[1:])


@pytest.mark.parametrize(
    ("words", "allowed"),
    [
        (["--version"], set()),
        (["--help"], set()),
        (["menu"], set()),
        (["rename", "Boats", "Sails", "--dry-run"], set()),
        (["history"], set()),
        (["splash", "show"], set()),
        (["label", "Boats", "Sails", "--dry-run"], set()),
        (["icon", "Boats", "show"], set()),
        (["entry", "copy", "Boats", "Sails", "--dry-run"], set()),
        (["entry", "hide", "Boats", "--dry-run"], set()),
        (["animation", "show"], set()),
        (["animation", "choose", "--none", "--dry-run"], set()),
        (["rehearse"], set()),
        (["splash", "blank", "--dry-run"], {"PIL"}),
    ],
)
def test_heavy_packages_stay_out(words, allowed):
    """A fresh interpreter tells what a command loads."""
    card = str(practice_cards.FIXTURES / "cards" / "larkspur")
    words = words if words[0].startswith("-") else [words[0], card, *words[1:]]
    assert _loaded(*words) <= allowed


@pytest.mark.parametrize(
    "module",
    ["workbench.jobs.rename", "workbench.jobs.splash", "workbench.changes.apply", "workbench.card.menu"],
)
def test_the_core_loads_no_heavy_package(module):
    """Each core module, imported alone, leaves textual, PIL and av unloaded."""
    code = f"import sys, {module}; print(*[name for name in {HEAVY!r} if name in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == []


def test_what_is_imported_ahead_takes_no_thread_for_the_main_one():
    """`threading` holds the thread that first imports it for the main one: nothing here imports it."""
    code = "import sys, workbench.changes.apply; print('threading' in sys.modules)"
    done = subprocess.run([sys.executable, "-S", "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["False"]
