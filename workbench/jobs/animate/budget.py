"""Finds what fits a budget: first fewer frames a second, then fewer colours, then a shorter clip.

A file takes whole allocation units, so sizes are counted as the volume does. What was given up is said.
"""

from __future__ import annotations

import re
from fractions import Fraction

from workbench.card.animation_pace import Pace
from workbench.errors import MediaError, UsageError
from workbench.jobs.animate.pacing import pace_from
from workbench.jobs.animate.rendered import Rendered, limit_colours
from workbench.jobs.animate.report import show_seconds, show_size
from workbench.jobs.animate.run import Fitted, Run
from workbench.jobs.animate.wish import Budget
from workbench.media.render_order import RenderOrder
from workbench.values import replace

_UNITS = {
    "b": 1,
    "kb": 1000,
    "mb": 1000**2,
    "gb": 1000**3,
    "kib": 1024,
    "mib": 1024**2,
    "gib": 1024**3,
}
_AMOUNT = re.compile(r"\s*(\d+(?:\.\d+)?)\s*([a-z]+)\s*", re.I)
_SMOOTH, _LEAST = Fraction(1, 18), Fraction(1, 12)
"""Longest delays: with all colours, and before colours are given up too. Below some twelve frames a second
pictures do not run into one motion any more (common practice, no source)."""
_SAMPLE = 12
"""Frames from which the size of all others is guessed."""
_TRIES = 5


def parse_budget(text: str) -> Budget:
    """`8MB`, `512 KiB`, `6s`; both with a comma between them.

    Raises:
        UsageError: neither a size nor a time.
    """
    budget = Budget()
    for part in text.split(","):
        found = _AMOUNT.fullmatch(part)
        unit = found[2].lower() if found else ""
        if found is None or not Fraction(found[1]) or not (unit in _UNITS or unit == "s"):
            raise UsageError(f"a budget is a size or a time, such as 8MB or 6s, not {part.strip()!r}")
        if unit == "s":
            budget = replace(budget, seconds=Fraction(found[1]))
        else:
            budget = replace(budget, bytes=int(Fraction(found[1]) * _UNITS[unit]))
    return budget


def fit_budget(run: Run, fitted: Fitted, budget: Budget) -> Fitted:
    """Render until it fits.

    Raises:
        MediaError: not even a moment of the clip fits.
    """
    if budget.seconds is not None:
        fitted = _fit_seconds(run, fitted, budget.seconds)
    if budget.bytes is not None and run.needed(fitted.rendered) > budget.bytes:
        fitted = _fit_bytes(run, fitted, budget.bytes)
    return fitted


def fits(run: Run, rendered: Rendered, budget: Budget) -> bool:
    """Whether the budget is kept."""
    startup = rendered.report.length * run.plays()
    return (budget.bytes is None or run.needed(rendered) <= budget.bytes) and (
        budget.seconds is None or startup <= budget.seconds
    )


def _fit_seconds(run: Run, fitted: Fitted, seconds: Fraction) -> Fitted:
    first = rendered = fitted.rendered
    room = seconds / run.plays()
    target = room
    for _ in range(_TRIES):
        if rendered.report.length <= room:
            break
        rendered = run.make(_cut(rendered.order, target), f"cutting it to {show_seconds(room)}")
        target -= rendered.order.delay
    if rendered.report.length > room:
        raise _too_small(show_seconds(seconds))
    if rendered is first:
        return fitted
    whole = first.report.length / room
    said = (
        f"cut from {show_seconds(first.report.length)} to {show_seconds(rendered.report.length)}; all of it "
        f"would fit if it ran {float(whole):.2f} times as fast"
    )
    return replace(fitted, rendered=rendered, traded=(*fitted.traded, said))


def _cut(order: RenderOrder, seconds: Fraction) -> RenderOrder:
    """The order for so many seconds on the device, holds included."""
    clip = (seconds - order.hold_start - order.hold_end) * order.speed
    if clip <= 0:
        raise _too_small(show_seconds(seconds))
    return replace(order, length=clip, still=None)


def _fit_bytes(run: Run, fitted: Fitted, most: int) -> Fitted:
    steps = _lossy_steps(replace(fitted.rendered.order, still=None))
    last = fitted.rendered
    for number, order in enumerate(steps):
        slowest = _SMOOTH if number == 0 and len(steps) > 1 else _LEAST
        mean = run.mean(last) if number == 0 else _sample(run, order)
        for _ in range(2):
            pace = _pace_for(run, fitted, mean, most, slowest)
            if pace is None:
                break
            last = run.make(replace(order, delay=pace.delay), f"trying {_describe(order, pace)}")
            if run.needed(last) <= most:
                return _traded(fitted, last, pace)
            mean = run.mean(last)
    return _shorten(run, fitted, steps[-1], most)


def _lossy_steps(order: RenderOrder) -> list[RenderOrder]:
    """The order as it is, and with less and less in each frame."""
    frames = order.frames
    if frames.container == "png":
        fewer = [limit_colours(order, colours) for colours in (256, 64)]
    elif frames.container == "jpeg":
        fewer = [replace(order, frames=replace(frames, quality=q)) for q in (80, 65) if q < frames.quality]
    else:
        fewer = []
    return list(dict.fromkeys((order, *fewer)))


def _sample(run: Run, order: RenderOrder) -> int:
    """What a frame takes, from a few in the middle of the clip."""
    plain = replace(
        order,
        silent=True,
        hold_start=Fraction(0),
        hold_end=Fraction(0),
        fade_in=Fraction(0),
        fade_out=Fraction(0),
    )
    length = order.length
    step = order.delay * order.speed
    if length is not None and length > 2 * _SAMPLE * step:
        plain = replace(plain, start=order.start + length / 2, length=_SAMPLE * step)
    else:
        plain = replace(plain, length=min(length or _SAMPLE * step, _SAMPLE * step))
    return run.mean(run.make(plain, "measuring a few frames"))


def _pace_for(run: Run, fitted: Fitted, mean: int, most: int, slowest: Fraction) -> Pace | None:
    """The fastest pace at which all frames should fit; None where that is slower than allowed."""
    report = fitted.rendered.report
    sound = -(-report.sound.size // run.unit) * run.unit if report.sound else 0
    count = (most - run.small - sound) // max(1, mean)
    if count < 1:
        return None
    needed = report.length / count
    if needed <= fitted.pace.delay:
        return fitted.pace
    pace = pace_from(run.rule, run.others, needed)
    return pace if pace is not None and pace.delay <= max(slowest, fitted.pace.delay) else None


def _shorten(run: Run, fitted: Fitted, order: RenderOrder, most: int) -> Fitted:
    """Cut the end off, at the plainest frames and the slowest pace."""
    pace = fitted.pace
    slow = pace_from(run.rule, run.others, _LEAST - Fraction(1, 1000))
    if slow is not None and pace.delay < slow.delay <= Fraction(1, 10):
        pace = slow
    order = replace(order, delay=pace.delay)
    rendered = run.make(order, f"trying {_describe(order, pace)}")
    room = most - run.small
    while (cost := run.cost(rendered)) > room:
        count = rendered.report.count
        count = min(count - 1, max(1, count * room // cost))
        if count < 1:
            raise _too_small(show_size(most))
        target = count * pace.delay
        rendered = run.make(_cut(order, target), f"cutting it to {show_seconds(target)}")
    return _traded(fitted, rendered, pace)


def _traded(fitted: Fitted, rendered: Rendered, pace: Pace) -> Fitted:
    before, after = fitted.rendered.order, rendered.order
    said = []
    if pace.delay != fitted.pace.delay:
        said.append(f"{_rate(fitted.pace)} frames a second became {_rate(pace)}")
    if after.frames.colours != before.frames.colours:
        said.append(f"at most {after.frames.colours} colours in a frame")
    if after.frames.quality != before.frames.quality:
        said.append(f"JPEG quality {after.frames.quality} for {before.frames.quality}")
    if rendered.report.length < fitted.rendered.report.length - max(pace.delay, fitted.pace.delay):
        lengths = (show_seconds(one.report.length) for one in (fitted.rendered, rendered))
        said.append(f"cut from {' to '.join(lengths)}")
    because = fitted.because if pace == fitted.pace else "to fit the budget"
    return replace(fitted, rendered=rendered, pace=pace, because=because, traded=(*fitted.traded, *said))


def _rate(pace: Pace) -> str:
    return f"{float(1 / pace.delay):.1f}"


def _describe(order: RenderOrder, pace: Pace) -> str:
    colours = "" if order.frames.colours is None else f", {order.frames.colours} colours"
    return f"{_rate(pace)} frames a second{colours}"


def _too_small(budget: str) -> MediaError:
    return MediaError(
        f"not even a moment of the clip fits {budget}; nothing was changed. Allow more, or smaller frames."
    )
