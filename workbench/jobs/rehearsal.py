"""The whole start as the device would show it, as a timeline: splash, boot animation, then the menu in order.

Only data: whoever shows it asks for each picture when its time comes, and drops those that came too late.
"""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING, Literal

from workbench.card.animation_pace import USUAL
from workbench.card.animations import Animation, FrameFile, read_animation, read_animations, read_chosen
from workbench.card.menu import read_menus
from workbench.card.profile import Profile
from workbench.card.tree import Tree
from workbench.errors import CardwrightError, MediaError
from workbench.jobs.animation_frames import decode_frame
from workbench.shown import shown
from workbench.values import dataclass

if TYPE_CHECKING:
    from PIL.Image import Image

SceneKind = Literal["splash", "animation", "menu"]

SPLASH_SECONDS = Fraction(2)
"""How long a splash is shown here: no card says how long a device needs to start."""


@dataclass(frozen=True, slots=True)
class Scene:
    """One stretch of the start."""

    kind: SceneKind
    start: Fraction
    """Seconds from the beginning."""
    length: Fraction | None
    """Seconds; None for the last one, which stays."""
    title: str
    """What is seen, in words."""
    frames: tuple[FrameFile, ...] = ()
    """Of an animation, in the order shown; one that is missing stands for a gap in the numbers."""
    delay: Fraction | None = None
    plays: int = 1
    """How often the frames are shown."""
    sound: str = ""
    """Place of the sound that plays, or empty."""
    lines: tuple[str, ...] = ()
    """Of a menu: what the device lists, top to bottom."""
    name: str = ""
    """Of an animation: what the card calls it."""


@dataclass(frozen=True, slots=True)
class Rehearsal:
    scenes: tuple[Scene, ...]
    notes: tuple[str, ...]
    """What is not known, or would go wrong."""

    def scene_at(self, time: Fraction) -> Scene | None:
        """What is shown at that time; the last scene stays."""
        started = [scene for scene in self.scenes if scene.start <= time]
        return started[-1] if started else None


def rehearse(
    tree: Tree, profile: Profile, *, menu_id: str | None = None, name: str | None = None
) -> Rehearsal:
    """The start of the device with this card in it.

    Args:
        menu_id: the menu that comes up; None for the first one.
        name: another animation than the one that is chosen.

    Raises:
        EntryError: no such animation or menu.
    """
    notes: list[str] = []
    scenes: list[Scene] = []
    splash = _splash_scene(tree, profile, notes)
    if splash is not None:
        scenes.append(splash)
    animation = _find_animation(tree, profile, name, notes)
    if animation is not None:
        scenes.append(_animation_scene(animation, _end(scenes), notes))
    menu = _menu_scene(tree, profile, menu_id, _end(scenes), notes)
    if menu is not None:
        scenes.append(menu)
    return Rehearsal(tuple(scenes), tuple(notes))


def frame_at(scene: Scene, time: Fraction) -> int | None:
    """Index of the frame that stands at a time of the whole start; None outside, and of no animation."""
    if scene.delay is None or not scene.frames or time < scene.start:
        return None
    index = int((time - scene.start) / scene.delay)
    return index % len(scene.frames) if index < len(scene.frames) * scene.plays else None


def picture_of(tree: Tree, profile: Profile, scene: Scene, index: int = 0) -> Image | None:
    """The picture of a splash or of a frame, upright; None where there is none that can be shown."""
    try:
        if scene.kind == "splash":
            from workbench.jobs.splash import show, view

            return view(show(tree, profile, "start"))
        if scene.kind == "animation" and profile.animation is not None and index < len(scene.frames):
            return decode_frame(tree, profile, profile.animation, scene.frames[index].at)
    except (MediaError, CardwrightError):
        return None
    return None


def _end(scenes: list[Scene]) -> Fraction:
    return sum((scene.length or Fraction(0) for scene in scenes), Fraction(0))


def _splash_scene(tree: Tree, profile: Profile, notes: list[str]) -> Scene | None:
    if not any(rule.moment == "start" for rule in profile.splashes):
        return None
    from workbench.jobs.splash import show

    report = show(tree, profile, "start")
    if report.kind is None:
        notes.append(f"The splash is not seen: {report.sentence}.")
        return None
    notes.append(f"How long the splash stands is the device's own; {SPLASH_SECONDS} s are taken here.")
    return Scene("splash", Fraction(0), SPLASH_SECONDS, f"splash: {report.sentence}")


def _find_animation(tree: Tree, profile: Profile, name: str | None, notes: list[str]) -> Animation | None:
    if name is not None:
        return read_animation(tree, profile, name)
    rule = profile.animation
    if rule is None:
        return None
    known = read_animations(tree, profile)
    playing = next((one for one in known if one.is_chosen), None)
    chosen = read_chosen(tree, profile)
    if playing is None and chosen is not None:
        notes.append(
            f"{shown(chosen)} is to play, and no such animation is on the card: nothing will be seen."
        )
    if playing is None and rule.chosen is None and len(known) == 1:
        return known[0]
    return playing


def _animation_scene(animation: Animation, start: Fraction, notes: list[str]) -> Scene:
    delay = animation.pace.delay if animation.pace is not None else USUAL
    if animation.pace is None:
        notes.append(f"The pace of {shown(animation.name)} is not known; 35 ms a frame are taken.")
    frames = animation.frames[: animation.shown_count]
    missing = animation.shown_count - len(frames)
    if missing:
        notes.append(f"{missing} frames of {shown(animation.name)} are missing.")
    plays = max(1, animation.loops or 1)
    length = len(frames) * plays * delay
    times = f", {plays} times" if plays > 1 else ""
    title = f"{shown(animation.name)}: {len(frames)} frames{times}, {float(length):.2f} s"
    sound = str(animation.sound or "")
    return Scene("animation", start, length, title, frames, delay, plays, sound, name=animation.name)


def _menu_scene(
    tree: Tree, profile: Profile, menu_id: str | None, start: Fraction, notes: list[str]
) -> Scene | None:
    menus = read_menus(tree, profile, menu_id)
    if not menus:
        return None
    menu = menus[0]
    if menu.is_missing:
        notes.append(f"The folder of the menu {shown(menu.id)} is not on the card: nothing will be listed.")
    lines = tuple(entry.label for entry in menu.entries)
    return Scene("menu", start, None, f"menu {shown(menu.id)}: {len(lines)} entries", lines=lines)
