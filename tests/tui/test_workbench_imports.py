"""What the workbench loads before its first frame: nothing that only a page or a job needs."""

from __future__ import annotations

import subprocess
import sys

HEAVY = ("PIL", "tomlkit", "tree_sitter", "psutil", "sqlite3", "xml.parsers.expat", "workbench.jobs.splash")


def test_the_app_loads_nothing_heavy() -> None:
    """In a fresh interpreter: pictures, parsers and jobs are imported where they are used."""
    asked = f"import sys, workbench.tui.app; print([name for name in {HEAVY!r} if name in sys.modules])"
    done = subprocess.run([sys.executable, "-c", asked], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
