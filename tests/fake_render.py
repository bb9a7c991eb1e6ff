"""A renderer for tests: draws frames that a script of the test describes, at the times that were ordered.

It shares nothing with the real one but the order and the report. A clip is a JSON file: `{"duration": 2.0,
"rate": 30, "sound": true, "noise": false, "flash": 0}`; `flash` says how often a second it changes between
black and white.
"""

from __future__ import annotations

import hashlib
import io
import json
import random
import wave
from fractions import Fraction
from pathlib import Path
from typing import Any

from PIL import Image, ImageDraw

from workbench.media.clip_facts import ClipFacts
from workbench.media.flash_verdict import FlashVerdict
from workbench.media.render_order import STILL_NAME, RenderOrder
from workbench.media.render_report import RenderedFile, RenderReport


def write_clip(folder: Path, name: str = "clip.fake", **facts: Any) -> Path:
    """Lay a clip out."""
    known = {"duration": 1.0, "rate": 30, "sound": True, "noise": False, "flash": 0} | facts
    path = folder / name
    path.write_text(json.dumps(known))
    return path


def probe(path: Path) -> ClipFacts:
    """What the clip says of itself."""
    known = json.loads(path.read_text())
    return ClipFacts(
        kind="video",
        width=320,
        height=240,
        frames=None,
        duration=Fraction(str(known["duration"])),
        rate=Fraction(str(known["rate"])),
        sound=(44100, 2) if known["sound"] else None,
    )


class FakeRender:
    """Renders into folders below one folder; remembers every order."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.orders: list[RenderOrder] = []

    def __call__(
        self, order: RenderOrder, *, progress: Any = None, cancelled: Any = None
    ) -> tuple[RenderReport, Path]:
        self.orders.append(order)
        known = json.loads(order.source.read_text())
        waiting = self.folder / str(len(self.orders))
        waiting.mkdir(parents=True)
        facts = probe(order.source)
        rest = facts.duration - order.start
        clip = min(rest, order.length) if order.length is not None else rest
        length = clip / order.speed + order.hold_start + order.hold_end
        count = max(1, -(-length // order.delay))
        frames = []
        for index in range(count):
            if cancelled is not None and cancelled():
                break
            time = order.start + max(Fraction(0), index * order.delay - order.hold_start) * order.speed
            content = draw(order, known, time)
            frames.append(put(waiting, order.frames.name_of(index), content))
            if progress is not None:
                progress(index + 1, count)
        sound = None
        if order.audio is not None and not order.silent and (known["sound"] or order.sound):
            sound = put(
                waiting, order.audio.name, tone(count * order.delay, order.audio.rate, order.audio.channels)
            )
        still = (
            put(waiting, STILL_NAME, draw(order, known, Fraction(0), upright=True))
            if order.still is not None
            else None
        )
        report = RenderReport(
            frames=tuple(frames),
            sound=sound,
            still=still,
            facts=facts,
            count=count,
            length=count * order.delay,
            drift_naive_ms=float((clip * facts.rate * order.delay - clip) * 1000),
            drift_ours_ms=float((count * order.delay - length) * 1000),
            flash=judge(order, Fraction(known["flash"])),
            loudness=-23.0 if sound else None,
            true_peak=-3.0 if sound else None,
        )
        return report, waiting


def judge(order: RenderOrder, flash: Fraction) -> FlashVerdict:
    """More than six changes in a second fail, unless they are dim."""
    turns = int(flash * order.speed) if order.dim > Fraction(1, 4) else 0
    if turns <= 6:
        return FlashVerdict(True, None, turns // 2, 0, turns, 0)
    return FlashVerdict(
        False, Fraction(1, 2), turns // 2, 0, turns, 0, ("general",),
        slower=Fraction(turns, 6), dim=Fraction(1, 5), shorter=Fraction(1, 2),
    )  # fmt: skip


def draw(order: RenderOrder, known: dict[str, Any], time: Fraction, *, upright: bool = False) -> bytes:
    """One frame: a bar at the place that the time says, with noise where the clip has it."""
    width, height = order.panel
    number = int(time * Fraction(str(known["rate"])))
    picture = Image.new("RGB", (width, height), (number * 7 % 256, 40, 90))
    ImageDraw.Draw(picture).rectangle(
        [number * 3 % width, 0, number * 3 % width + 8, height], fill=(250, 240, 10)
    )
    if known["noise"]:
        grain = random.Random(number).randbytes(width * height // 16 * 3)
        picture.paste(
            Image.frombytes("RGB", (width // 4, height // 4), grain[: width // 4 * (height // 4) * 3])
        )
    if not upright and order.rotate:
        picture = picture.rotate(-order.rotate, expand=True)
    colours = None if upright else order.frames.colours
    if colours is not None:
        picture = picture.quantize(colours)
    held = io.BytesIO()
    kind = "png" if upright else order.frames.container
    picture.save(
        held,
        {"png": "PNG", "jpeg": "JPEG", "bmp": "BMP"}[kind],
        **({"quality": order.frames.quality} if kind == "jpeg" else {}),
    )
    return held.getvalue()


def put(folder: Path, name: str, content: bytes) -> RenderedFile:
    (folder / name).write_bytes(content)
    return RenderedFile(name, len(content), hashlib.sha256(content).hexdigest())


def tone(seconds: Fraction, rate: int, channels: int) -> bytes:
    held = io.BytesIO()
    with wave.open(held, "wb") as sound:
        sound.setnchannels(channels)
        sound.setsampwidth(2)
        sound.setframerate(rate)
        sound.writeframes(bytes(round(seconds * rate) * 2 * channels))
    return held.getvalue()
