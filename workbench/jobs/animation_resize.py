"""Brings every frame of an animation on the card to the panel's size, in the kind that its frames have."""

from __future__ import annotations

from workbench.card.animations import read_animation, require_rule
from workbench.card.profile import Profile
from workbench.card.tree import Tree
from workbench.changes.plan import Plan, Step, Write, digest
from workbench.errors import EntryError
from workbench.jobs.animate.run import CancelledError
from workbench.jobs.animate.wish import Cancelled, OnProgress, Progress, ignore, never
from workbench.jobs.animation_frames import (
    decode_frame,
    encode_frame,
    keep_frame,
    panel_size,
    read_frame_kind,
    stored_size,
)
from workbench.media.colours import Colour
from workbench.media.fitting import Fit, fit_picture
from workbench.shown import shown


def plan_resize(
    tree: Tree,
    profile: Profile,
    name: str,
    *,
    size: tuple[int, int] | None = None,
    fit: Fit = "contain",
    background: Colour = (0, 0, 0),
    progress: OnProgress = ignore,
    cancelled: Cancelled = never,
) -> Plan:
    """The plan that scales the frames that are of another size.

    Args:
        size: as a person sees a frame; None for what the profile says.

    Raises:
        EntryError: no such animation, or it has no frames.
        MediaError: a frame cannot be read.
        CancelledError: the person stopped it.
    """
    rule = require_rule(profile)
    animation = read_animation(tree, profile, name)
    if not animation.frames:
        raise EntryError(
            f"the boot animation {shown(animation.name)} has no frames", path=str(animation.folder)
        )
    wide, high = size or panel_size(profile, rule)
    turned = (wide, high) if stored_size(profile, rule) == panel_size(profile, rule) else (high, wide)
    steps: list[Step] = []
    for index, frame in enumerate(animation.frames):
        if cancelled():
            raise CancelledError("stopped; nothing was changed")
        progress(Progress("scaling frames", index, len(animation.frames)))
        kind = read_frame_kind(tree, profile, rule, frame)
        if (kind.width, kind.height) == turned and kind.container == rule.frames.format:
            continue
        raw = tree.read(frame.at)
        picture = fit_picture(decode_frame(tree, profile, rule, frame.at), wide, high, fit, background)
        content = encode_frame(picture, profile, rule, raw)
        steps.append(Write(tree.resolve(frame.at), keep_frame(content), digest(raw)))
    title = f"Bring the frames of {animation.name} to {wide}×{high}"
    notes = (
        (f"{len(steps)} of {len(animation.frames)} frames are scaled.",)
        if steps
        else ("All have that size.",)
    )
    return Plan(title, tuple(steps), notes=notes)
