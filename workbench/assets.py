"""Finds `styles/` and `fixtures/`: inside the installed package, or beside it in a clone."""

from __future__ import annotations

from pathlib import Path

_HERE = Path(__file__).resolve().parent


def find_assets(name: str) -> Path:
    """The folder `styles` or `fixtures`, from a wheel, an editable install or a clone.

    Raises:
        FileNotFoundError: the installation is incomplete.
    """
    for folder in (_HERE / "_assets" / name, _HERE.parent / name):
        if folder.is_dir():
            return folder
    raise FileNotFoundError(f"the folder {name} is missing from this installation; install Cardwright again")
