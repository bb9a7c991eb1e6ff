"""The frames of an animation on a card: their stored kind, decoded upright, encoded in the same kind."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from workbench.card.animation_rule import AnimationRule
from workbench.card.animations import Animation, FrameFile, frame_name, frames_folder
from workbench.card.paths import VolumePath
from workbench.card.profile import Profile
from workbench.card.tree import Tree
from workbench.changes.plan import Prepared, digest
from workbench.errors import MediaError
from workbench.media.codec import decode_picture, encode_picture
from workbench.media.fitting import turn_clockwise, turned_size
from workbench.media.kind import SplashKind
from workbench.media.kind_reader import Hint, kind_from_hint, read_kind
from workbench.media.picture import decode_bytes
from workbench.values import replace

if TYPE_CHECKING:
    from PIL.Image import Image

_HEAD = 64 * 1024
"""Bytes of a file in which the header of any picture stands."""


def panel_size(profile: Profile, rule: AnimationRule) -> tuple[int, int]:
    """Width and height of a frame as a person sees it."""
    return rule.frames.size or (profile.panel.width, profile.panel.height)


def turn_of(profile: Profile, rule: AnimationRule) -> int:
    """Clockwise turn of a frame before it is stored."""
    return profile.panel.rotate if rule.frames.rotate is None else rule.frames.rotate


def stored_size(profile: Profile, rule: AnimationRule) -> tuple[int, int]:
    """Width and height of a frame's file."""
    return turned_size(panel_size(profile, rule), turn_of(profile, rule))


def read_frame_kind(tree: Tree, profile: Profile, rule: AnimationRule, frame: FrameFile) -> SplashKind:
    """How a frame is stored; only its head is read.

    Raises:
        MediaError: it is no picture of a kind that is known.
        CardError: it cannot be read.
    """
    hint = _hint(profile, rule)
    whole = rule.frames.format in ("raw", "bmp") or frame.size <= _HEAD
    content = tree.read(frame.at, None if whole else _HEAD)
    return read_kind(content, hint)


def decode_frame(tree: Tree, profile: Profile, rule: AnimationRule, at: VolumePath) -> Image:
    """A frame as a person sees it, RGB.

    Raises:
        MediaError: it is torn, or of no kind that is known.
    """
    raw = tree.read(at)
    try:
        if rule.frames.format == "raw":
            picture = decode_picture(raw, read_kind(raw, _hint(profile, rule)))
        else:
            picture = decode_bytes(raw, Path(at.name))
    except MediaError as error:
        raise MediaError(f"{at} cannot be shown: {error.message}", path=str(at)) from error
    return turn_clockwise(picture.convert("RGB"), -turn_of(profile, rule))


def encode_frame(image: Image, profile: Profile, rule: AnimationRule, like: bytes) -> bytes:
    """A frame's bytes, stored as another one is; `image` is upright and of its final size."""
    turned = turn_clockwise(image, turn_of(profile, rule))
    kind = read_kind(like, _hint(profile, rule))
    width, height = turned.size
    if kind.container != rule.frames.format:
        wanted: Hint = {"container": rule.frames.format, "width": width, "height": height}
        return encode_picture(turned, kind_from_hint(wanted))
    same = like if (kind.width, kind.height) == turned.size else None
    return encode_picture(turned, replace(kind, width=width, height=height), same)


def keep_frame(content: bytes) -> Prepared:
    """The content laid in the cache folder: many frames would make a plan's own file heavy."""
    from workbench.host.renders import keep_render

    return Prepared(str(keep_render(content)), len(content), digest(content))


def frame_place(rule: AnimationRule, animation: Animation, index: int) -> VolumePath:
    """Where the frame at an index (from 0) belongs."""
    folder = frames_folder(rule, animation.name)
    return folder.child(frame_name(rule, animation.name, rule.frames.first + index))


def _hint(profile: Profile, rule: AnimationRule) -> Hint:
    """What cannot be told from raw pixels."""
    frames = rule.frames
    if frames.format != "raw":
        return {}
    width, height = stored_size(profile, rule)
    hint: Hint = {"container": "raw", "bits": frames.bits or 16, "width": width, "height": height}
    if frames.masks is not None:
        hint = {**hint, "masks": frames.masks}
    return hint
