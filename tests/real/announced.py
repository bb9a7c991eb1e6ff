"""The command line, saying BEGUN once a change has begun on a volume: the moment to pull the card."""

from __future__ import annotations

import sys
from typing import Any

import workbench.changes.apply as applying
from workbench.cli.main import main

_put_mark = applying.put_mark


def _announced(ground: Any, path: str, change: str, state: Any) -> None:
    _put_mark(ground, path, change, state)
    if state == "begun":
        print("BEGUN", flush=True)


applying.put_mark = _announced
raise SystemExit(main(sys.argv[1:]))
