"""The command line, saying BEGUN once a change has begun on a volume: the moment to pull the card.

From then on it waits a little around every move and flush, so that cuts fall between them, and the system
writes its cached blocks at any time.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import workbench.changes.apply as applying
from workbench.changes.ground import Ground
from workbench.cli.main import main

PAUSE = 0.02
"""Seconds."""

_put_mark = applying.put_mark


def _announced(ground: Any, path: str, change: str, state: Any) -> None:
    _put_mark(ground, path, change, state)
    if state == "begun":
        for name in ("rename", "sync_item", "sync_folder"):
            setattr(Ground, name, _slowed(_PLAIN[name]))
        print("BEGUN", flush=True)


def _slowed(act: Callable[..., None]) -> Callable[..., None]:
    def slowly(*words: Any) -> None:
        act(*words)
        time.sleep(PAUSE)

    return slowly


_PLAIN: dict[str, Callable[..., None]] = {
    name: getattr(Ground, name) for name in ("rename", "sync_item", "sync_folder")
}
applying.put_mark = _announced
for setting in ("dirty_writeback_centisecs", "dirty_expire_centisecs"):
    Path("/proc/sys/vm", setting).write_text("1")
raise SystemExit(main(sys.argv[1:]))
