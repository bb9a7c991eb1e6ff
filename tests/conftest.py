"""What every test may ask for. No test touches the real user's folders or the fixtures themselves."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import practice_cards
import pytest


@pytest.fixture(autouse=True)
def own_folders(monkeypatch: pytest.MonkeyPatch, tmp_path_factory: pytest.TempPathFactory) -> None:
    """Settings, state and cache live in a folder of this test alone."""
    home = tmp_path_factory.mktemp("home")
    for kind in ("CONFIG", "STATE", "CACHE"):
        monkeypatch.setenv(f"CARDWRIGHT_{kind}", str(home / kind.lower()))


@pytest.fixture
def practice_card(tmp_path: Path) -> Callable[[str], Path]:
    """`practice_card("larkspur")`: a copy of that card in this test's own folder, modes kept."""
    return lambda name: practice_cards.lay_out(name, tmp_path / "cards" / name)


@pytest.fixture
def read_device() -> Callable[[str, Path], dict[str, Any]]:
    """`read_device(name, folder)`: what the device's own reader sees there."""
    return practice_cards.read_device


@pytest.fixture
def tree_bytes() -> Callable[[Path], practice_cards.TreeBytes]:
    """`tree_bytes(folder)`: kind, mode and bytes of everything below it, the ledger left out."""
    return practice_cards.tree_bytes
