"""What we remember between runs: which cards had their first caution, which profiles are trusted.

One small JSON file in the state folder. A damaged file is as good as none: asking once more is harmless.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Literal

from workbench.host.folders import state_folder
from workbench.host.safe_write import write_safely

Fact = Literal["cautions", "trusted-profiles"]


def has_seen_caution(card_id: str) -> bool:
    """Whether the caution before the first change was shown for that card."""
    return card_id in _recall("cautions")


def remember_caution(card_id: str) -> None:
    """Do not show the first caution for that card again."""
    _remember("cautions", card_id)


def is_trusted_profile(sha256: str) -> bool:
    """Whether the user said yes to a card's profile with exactly these bytes (SHA-256, hex)."""
    return sha256 in _recall("trusted-profiles")


def trust_profile(sha256: str) -> None:
    """The user said yes to a card's profile with these bytes."""
    _remember("trusted-profiles", sha256)


def _file() -> Path:
    return state_folder() / "remembered.json"


def _load() -> dict[str, object]:
    try:
        held = json.loads(_file().read_bytes())
    except (OSError, ValueError):
        return {}
    return held if isinstance(held, dict) else {}


def _recall(fact: Fact) -> list[str]:
    texts = _load().get(fact)
    return [text for text in texts if isinstance(text, str)] if isinstance(texts, list) else []


def _remember(fact: Fact, text: str) -> None:
    texts = _recall(fact)
    if text in texts:
        return
    held = {**_load(), fact: [*texts, text]}
    write_safely(_file(), json.dumps(held, indent=2, sort_keys=True).encode() + b"\n")
