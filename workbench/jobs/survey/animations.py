"""Tells a boot animation from other numbered pictures: by settings that agree with them, and a choice."""

from __future__ import annotations

import re
import struct
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from workbench.card.paths import VolumePath
from workbench.card.tree import Tree
from workbench.errors import CardError
from workbench.jobs.survey.motion import Sequence as Frames
from workbench.jobs.survey.places import Places, suffix_of
from workbench.jobs.survey.plain import Plain
from workbench.jobs.survey.reading import Manifest
from workbench.jobs.survey.sites import Chain, Site
from workbench.manifests.selector import join_pointer
from workbench.values import dataclass, field

_SOUNDS = ("wav", "mp3", "ogg", "flac", "m4a", "opus")
_DELAY = re.compile(r"delay|hold|wait|pause|interval|sleep|duration|time|frame_?ms|_ms|ms$|msec|milli", re.I)
_NUMBER = re.compile(r"[0-9]{1,6}(\.[0-9]{1,4})?")
_RATE = re.compile(r"fps|rate|per_?sec|speed|hz", re.I)


@dataclass(frozen=True, slots=True)
class AnimationGuess:
    """One sequence of frames with what belongs to it."""

    frames: Frames
    volume: str
    folder: str
    """Path of the folder with the frames."""
    settings: Manifest | None
    count: str | None
    """Pointer of the number of frames."""
    count_key: str
    """`count`, or `last` for the number of the last frame."""
    pace: tuple[str, str, str, float] | None
    """`delay` or `rate`, its pointer, its unit, its value."""
    sound: str | None
    """Name of the sound beside the frames."""
    sound_shape: tuple[int, int] | None
    """Samples a second and channels, where the file says it."""
    chosen: tuple[Site, Chain] | None = field(repr=False)
    """The text that names the folder."""


def find_animation(
    tree: Tree,
    places: Places,
    motions: Sequence[Frames],
    manifests: Sequence[Manifest],
    sites: Sequence[Site],
) -> tuple[AnimationGuess | None, tuple[str, ...]]:
    """The boot animation, and sequences that are none as far as can be seen."""
    by_folder: dict[tuple[str, str], list[Manifest]] = {}
    for manifest in manifests:
        by_folder.setdefault((manifest.volume, manifest.path.rpartition("/")[0]), []).append(manifest)
    found: list[AnimationGuess] = []
    left: list[AnimationGuess] = []
    for motion in motions:
        guess = _guess(tree, places, motion, by_folder, sites)
        (found if guess.count is not None or guess.chosen is not None else left).append(guess)
    found.sort(key=lambda one: (one.chosen is None, one.count is None))
    titles = tuple(f"{one.volume}:{one.folder}" for one in left)
    return (found[0] if found else None), titles


def _guess(
    tree: Tree,
    places: Places,
    motion: Frames,
    by_folder: Mapping[tuple[str, str], list[Manifest]],
    sites: Sequence[Site],
) -> AnimationGuess:
    folder = places.folders[motion.folder]
    settings, count, count_key, pace = None, None, "count", None
    for manifest in by_folder.get((folder.volume, folder.path), ()):
        numbers = dict(_numbers(manifest.data))
        named = _count_of(numbers, motion)
        if named is not None:
            settings, (count, count_key) = manifest, named
            pace = _pace_of({pointer: value for pointer, value in numbers.items() if pointer != count})
            break
    sound = next((n for n, is_f in folder.listing if not is_f and suffix_of(n) in _SOUNDS), None)
    shape = _sound_shape(tree, VolumePath(folder.volume, folder.child(sound))) if sound else None
    chosen = _chosen(folder.name, folder.path, sites)
    return AnimationGuess(
        motion, folder.volume, folder.path, settings, count, count_key, pace, sound, shape, chosen
    )


def _numbers(data: Plain, tokens: tuple[str, ...] = ()) -> Iterator[tuple[str, float]]:
    """Every number with its pointer; texts that are numbers too (INI knows nothing else)."""
    if len(tokens) > 6:
        return
    if isinstance(data, dict):
        for key, value in data.items():
            yield from _numbers(value, (*tokens, str(key)))
    elif isinstance(data, list):
        for number, item in enumerate(data):
            if isinstance(item, dict):  # XML's elements; a bare list of numbers is no setting
                yield from _numbers(item, (*tokens, str(number)))
    elif isinstance(data, bool):
        return
    elif isinstance(data, int | float) or (isinstance(data, str) and _NUMBER.fullmatch(data)):
        yield join_pointer(tokens), float(data)


def _count_of(numbers: Mapping[str, float], motion: Frames) -> tuple[str, str] | None:
    for wanted, key in ((motion.count, "count"), (motion.first + motion.count - 1, "last")):
        for pointer, value in numbers.items():
            if value == wanted and not _DELAY.search(pointer) and not _RATE.search(pointer):
                return pointer, key
    return None


def _pace_of(numbers: Mapping[str, float]) -> tuple[str, str, str, float] | None:
    for pointer, value in numbers.items():
        if value > 0 and _DELAY.search(pointer):
            unit = "us" if value >= 5000 else "ms" if value >= 5 else "s"
            return "delay", pointer, unit, value
    for pointer, value in numbers.items():
        if 1 <= value <= 120 and _RATE.search(pointer):
            return "rate", pointer, "fps", value
    # One number that nothing else explains: too large for a rate, or no whole number of milliseconds.
    left = [(pointer, value) for pointer, value in numbers.items() if value > 1]
    if len(left) == 1 and (left[0][1] > 60 or left[0][1] % 1):
        unit = "ms" if left[0][1] > 60 else "fps"
        return "delay", left[0][0], unit, left[0][1]
    return None


def _chosen(name: str, path: str, sites: Sequence[Site]) -> tuple[Site, Chain] | None:
    """A setting that is the folder's name and nothing else."""
    for site in sites:
        if site.is_key or site.is_open or site.shape.format in ("shell", "lines") or not site.shape.is_plain:
            continue
        if site.shape.manifests[0].path.startswith(path + "/"):
            continue
        for chain, text in site.samples:
            if text == name:
                return site, chain
    return None


def _sound_shape(tree: Tree, at: VolumePath) -> tuple[int, int] | None:
    """Of a WAV file: samples a second and channels (RIFF, `fmt ` chunk)."""
    try:
        raw = tree.read(at, 4096)
    except CardError:
        return None
    start = raw.find(b"fmt ", 12)
    if raw[:4] != b"RIFF" or raw[8:12] != b"WAVE" or start < 0 or len(raw) < start + 16:
        return None
    channels, rate = struct.unpack_from("<HI", raw, start + 10)
    return (rate, channels) if 1000 <= rate <= 384_000 and 1 <= channels <= 8 else None


def as_table(**values: Any) -> dict[str, Any]:
    """A table without what is unknown."""
    return {key: value for key, value in values.items() if value is not None}
