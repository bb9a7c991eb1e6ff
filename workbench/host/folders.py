"""The user's own folders: where settings, what we remember, and renders in waiting live on this host.

Each can be moved by an environment variable, so that tests and careful users keep things apart.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import Literal

from workbench.host.safe_write import HostWriteError

Purpose = Literal["config", "state", "cache"]


def config_folder() -> Path:
    """What the user sets: profiles, settings. Moved by CARDWRIGHT_CONFIG. Made, 0700, if missing."""
    return _folder("config")


def state_folder() -> Path:
    """What we remember: waiting plans, locks, cautions seen. Moved by CARDWRIGHT_STATE."""
    return _folder("state")


def cache_folder() -> Path:
    """What can be made again: renders. Moved by CARDWRIGHT_CACHE."""
    return _folder("cache")


def _folder(purpose: Purpose) -> Path:
    asked = os.environ.get(f"CARDWRIGHT_{purpose.upper()}")
    folder = Path(asked).expanduser() if asked else _usual_folder(purpose)
    if not folder.is_absolute():
        folder = Path.cwd() / folder
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as error:
        raise HostWriteError(
            f"the folder {folder} cannot be made: {error.strerror}. Nothing was changed; "
            f"set CARDWRIGHT_{purpose.upper()} to a folder that you may write to.",
            path=str(folder),
        ) from error
    return folder


_XDG = {
    "config": ("XDG_CONFIG_HOME", "/.config"),
    "state": ("XDG_STATE_HOME", "/.local/state"),
    "cache": ("XDG_CACHE_HOME", "/.cache"),
}
"""XDG Base Directory Specification 0.8: the variable, which counts if absolute, and what HOME has without."""


def _usual_folder(purpose: Purpose) -> Path:
    variable, usual = _XDG[purpose]
    base, home = os.environ.get(variable, ""), os.environ.get("HOME", "")
    if sys.platform == "linux" and "ANDROID_DATA" not in os.environ and os.path.isabs(home):
        # What platformdirs finds too, but to import it takes a tenth of the time of a small change.
        return Path(base if os.path.isabs(base) else f"{home}{usual}") / "cardwright"
    import platformdirs

    find = {
        "config": platformdirs.user_config_path,
        "state": platformdirs.user_state_path,
        "cache": platformdirs.user_cache_path,
    }[purpose]
    return find("cardwright", appauthor=False)
