"""The order for one render, made of a wish and of what the profile says; and the render itself.

Jobs take whatever renders as an argument, so that a test can hand in its own.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any, Protocol

from workbench.card.animation_pace import Pace
from workbench.card.animation_rule import AnimationRule
from workbench.card.profile import Profile
from workbench.errors import MediaError
from workbench.jobs.animate.wish import AnimateWish, Cancelled
from workbench.media.render_order import FrameFormat, RenderOrder, SoundFormat
from workbench.media.render_report import RenderReport
from workbench.values import dataclass, replace


@dataclass(frozen=True, slots=True)
class Rendered:
    """One finished render and the folder in which its files wait."""

    order: RenderOrder
    report: RenderReport
    folder: Path


class Render(Protocol):
    """`jobs.rendering.render`, or a stand-in."""

    def __call__(
        self, order: RenderOrder, *, progress: Callable[[int, int], None] = ..., cancelled: Cancelled = ...
    ) -> tuple[RenderReport, Path]: ...


def make_order(profile: Profile, rule: AnimationRule, wish: AnimateWish, pace: Pace) -> RenderOrder:
    """The order that gives what was wished, in the device's own format and at its own times.

    Raises:
        MediaError: the wish is one that the device cannot show.
    """
    frames = rule.frames
    if wish.colours is not None and frames.format not in ("png", "bmp"):
        raise MediaError(
            f"frames of this device are {frames.format.upper()}, which has no palette; nothing was changed. "
            "Leave --colours out."
        )
    colours = min((one for one in (wish.colours, frames.colours) if one is not None), default=None)
    turn: Any = profile.panel.rotate if frames.rotate is None else frames.rotate
    return RenderOrder(
        source=wish.source,
        panel=frames.size or (profile.panel.width, profile.panel.height),
        delay=pace.delay,
        frames=FrameFormat(
            container=frames.format,
            bits=frames.bits,
            masks=frames.masks,
            rows=frames.rows,
            colours=colours,
            dither=wish.dither,
            pattern=frames.pattern.rpartition("/")[2].replace("{name}", wish.name),
            first=frames.first,
            pad=frames.pad,
        ),
        audio=_audio(rule, wish),
        sound=wish.sound,
        silent=wish.silent or rule.sound is None,
        start=wish.start,
        length=wish.length,
        speed=wish.speed,
        crop=wish.crop,
        fit=wish.fit,
        background=wish.background,
        rotate=turn,
        hold_start=wish.hold_start,
        hold_end=wish.hold_end,
        fade_in=wish.fade_in,
        fade_out=wish.fade_out,
        dim=wish.dim,
        still=None,
    )


def limit_colours(order: RenderOrder, colours: int | None) -> RenderOrder:
    """The order with at most so many colours, mixed by diffusion so that few still look like many."""
    if colours is None or (order.frames.colours is not None and order.frames.colours <= colours):
        return order
    dither = order.frames.dither if order.frames.dither != "none" else "diffuse"
    return replace(order, frames=replace(order.frames, colours=colours, dither=dither))


def _audio(rule: AnimationRule, wish: AnimateWish) -> SoundFormat | None:
    sound = rule.sound
    if sound is None or wish.silent:
        return None
    return SoundFormat(
        container=sound.format,
        rate=sound.rate,
        channels=sound.channels,
        loudness=wish.loudness,
        fade_out=min(wish.fade_out, Fraction(2)),
    )
