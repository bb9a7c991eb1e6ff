"""The worker process: carries out one order and tells about it on standard output, line by line.

`python -m workbench.media.render_worker render ORDER FOLDER` or `… probe ORDER`, ORDER being JSON. Each line
is JSON: `{"done": 12, "total": 360}` under way, and at the end `{"report": …}`, `{"facts": …}` or
`{"error": sentence, "path": …}`.
"""

from __future__ import annotations

import json
import os
import sys
import time
from pathlib import Path

# Before numpy is imported: its threads for matrices would cost memory and time, and nothing here has any.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from workbench.errors import CardwrightError
from workbench.media.plain_values import from_json, to_json
from workbench.media.render_order import RenderOrder

_EACH = 0.1
"""Seconds between two lines about progress."""


def main(words: list[str]) -> None:
    """Do what the words say; every failure that can be put into a sentence is one."""
    try:
        print(_answer(words), flush=True)
    except CardwrightError as error:
        _refuse(error.message, error.path)
    except MemoryError:
        _refuse("it needs more memory than a clip is given. Nothing was made; choose a smaller clip")
    except OSError as error:
        where = error.filename or "the folder for what is made"
        _refuse(f"{where}: {error.strerror or error}. Nothing was made; make room or choose another clip")


def _answer(words: list[str]) -> str:
    order = from_json(RenderOrder, words[1].encode())
    if words[0] == "probe":
        from workbench.media.clip_source import open_clip

        return '{"facts":' + to_json(open_clip(order).facts).decode() + "}"
    from workbench.media.rendering import render

    return '{"report":' + to_json(render(order, Path(words[2]), _Lines())).decode() + "}"


class _Lines:
    """Progress as lines, ten a second at most."""

    def __init__(self) -> None:
        self._told = 0.0

    def __call__(self, done: int, total: int) -> None:
        now = time.monotonic()
        if done == total or now - self._told >= _EACH:
            self._told = now
            print(json.dumps({"done": done, "total": total}), flush=True)


def _refuse(message: str, path: str | None = None) -> None:
    print(json.dumps({"error": message, "path": path}), flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
