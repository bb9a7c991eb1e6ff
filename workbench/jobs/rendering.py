"""Renders a clip, or looks at one, in the worker process; finished renders are found again."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

from workbench.errors import MediaError
from workbench.host.rendering import StoppedError, Told, run_told
from workbench.host.worker import WorkerError
from workbench.media.clip_facts import ClipFacts
from workbench.media.plain_values import from_json, to_json
from workbench.media.render_order import RenderOrder
from workbench.media.render_report import RenderReport

_WORKER = "workbench.media.render_worker"
_REPORT = "report.json"
_MAKING = 1
"""Goes up when the same order would give other files than before."""


def render(
    order: RenderOrder,
    *,
    progress: Told = lambda _done, _total: None,
    cancelled: Callable[[], bool] = lambda: False,
) -> tuple[RenderReport, Path]:
    """The report, and the folder in the cache that holds the files by their names.

    `progress(done, total)` counts frames. The folder stays until other renders need its room.

    Raises:
        MediaError: the clip cannot be used, in one sentence. CancelledError: it was stopped; nothing is left.
    """
    from workbench.host.render_folders import find_folder, keep_folder, making_folder

    key = _key_of(order)
    if (kept := find_folder(key)) and (report := _read_report(kept)):
        progress(report.count, report.count)
        return report, kept
    with making_folder() as folder:
        said = _run(order, ["render", _order_words(order), str(folder)], progress, cancelled)
        report = from_json(RenderReport, _json_of(said, "report"))
        (folder / _REPORT).write_bytes(to_json(report))
        return report, keep_folder(folder, key)


def probe(path: Path) -> ClipFacts:
    """What a clip is: its size as shown, length, rate, and what is odd about it.

    Raises:
        MediaError: nothing in it can be shown, in one sentence.
    """
    from fractions import Fraction

    order = RenderOrder(path.absolute(), (320, 240), Fraction(1, 25))
    said = _run(order, ["probe", _order_words(order)], lambda _done, _total: None, lambda: False)
    return from_json(ClipFacts, _json_of(said, "facts"))


def _order_words(order: RenderOrder) -> str:
    return to_json(order).decode("ascii")


def _run(
    order: RenderOrder, words: list[str], progress: Told, cancelled: Callable[[], bool]
) -> dict[str, Any]:
    try:
        said = run_told(_WORKER, words, progress=progress, cancelled=cancelled)
    except StoppedError as error:
        from workbench.jobs.animate.run import CancelledError

        raise CancelledError("stopped; nothing was changed") from error
    except WorkerError as error:
        raise MediaError(
            f"{order.source} is not used: {error.message}. Nothing was made; choose another clip",
            path=str(order.source),
        ) from error
    if "error" in said:
        path = said.get("path")
        raise MediaError(str(said["error"]), path=path if isinstance(path, str) else None)
    return said


def _json_of(said: dict[str, Any], name: str) -> bytes:
    import json

    return json.dumps(said.get(name)).encode()


def _key_of(order: RenderOrder) -> str:
    """Names everything that a render depends on: the order, and which files its sources are now."""
    told = hashlib.sha256(f"{_MAKING}\0".encode() + to_json(order))
    for source in (order.source, order.sound):
        if source is not None:
            told.update(_state_of(source).encode())
    return told.hexdigest()[:40]


def _state_of(source: Path) -> str:
    try:
        if source.is_dir():
            return "\0".join(sorted(f"{file.name} {_stamp(file.stat())}" for file in os.scandir(source)))
        return _stamp(os.stat(source))
    except OSError:
        return ""


def _stamp(facts: os.stat_result) -> str:
    return f"{facts.st_size} {facts.st_mtime_ns} {facts.st_ino}"


def _read_report(folder: Path) -> RenderReport | None:
    """A kept render's report, if all that it names is still there."""
    try:
        report = from_json(RenderReport, (folder / _REPORT).read_bytes())
        files = [*report.frames, *(each for each in (report.sound, report.still) if each)]
        is_whole = all((folder / file.name).stat().st_size == file.size for file in files)
    except (OSError, MediaError):
        return None
    return report if is_whole else None
