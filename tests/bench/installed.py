"""The command as a user types it: the script that an installation makes, else the package itself."""

from __future__ import annotations

import sys
from pathlib import Path


def command() -> list[str]:
    """The words before the subcommand."""
    script = Path(sys.executable).with_name("cardwright")
    return [str(script)] if script.exists() else [sys.executable, "-m", "workbench"]
