"""The boot animations on a card: their frames, what their settings say, their sound, and which one plays.

Reads names, sizes and manifests; no frame is decoded here. A settings file that is torn hides nothing else.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from workbench.card.animation_pace import Pace, fixed_pace, read_number, read_pace
from workbench.card.animation_rule import AnimationRule, ChosenRule, TextRule
from workbench.card.paths import VolumePath
from workbench.card.profile import FilePattern, Profile
from workbench.card.tree import Tree
from workbench.errors import CardError, EntryError, ManifestError, ProfileError
from workbench.manifests.document import Document, Format
from workbench.manifests.selector import Selector
from workbench.shown import shown
from workbench.typed import Any
from workbench.values import dataclass, field

MOST_FRAMES = 100_000
"""More numbered pictures than any device plays."""


@dataclass(frozen=True, slots=True)
class FrameFile:
    """One frame that is there."""

    number: int
    at: VolumePath
    size: int
    """Bytes."""


@dataclass(frozen=True, slots=True)
class Animation:
    """One boot animation as it is on the card."""

    name: str
    folder: VolumePath
    frames: tuple[FrameFile, ...]
    """Sorted by number."""
    settings: VolumePath | None
    """The settings file that is there."""
    count: int | None
    """Frames that the device will show, by its settings; None where they do not say."""
    pace: Pace | None
    loops: int | None
    author: str | None
    label: str | None
    sound: VolumePath | None
    """The sound that is there."""
    is_chosen: bool
    """Whether it plays at start."""
    fault: str = ""
    """Why its settings cannot be read; empty where they can."""
    texts: tuple[tuple[str, Any], ...] = field(default=(), repr=False)
    """What the settings hold at each pointer that the profile names, by the profile's word for it."""

    @property
    def delay_is_known(self) -> bool:
        return self.pace is not None

    @property
    def shown_count(self) -> int:
        """Frames that the device shows: as many as the settings say, else as are there."""
        return len(self.frames) if self.count is None else self.count


def require_rule(profile: Profile) -> AnimationRule:
    """The profile's animation table.

    Raises:
        ProfileError: it has none.
    """
    if profile.animation is None:
        raise ProfileError(
            f"the profile of {shown(profile.name)} says nothing of boot animations; nothing was changed. "
            "Add a table [animation] to it, or let survey find one.",
            path=str(profile.source),
        )
    return profile.animation


def place(pattern: FilePattern, name: str) -> VolumePath:
    """The place that a pattern names for one animation.

    Raises:
        CardError: the name cannot be a part of a path.
    """
    if not name or "/" in name or name in (".", ".."):
        raise CardError(f"{shown(name)!r} cannot be the name of an animation: it is no name of a folder")
    return VolumePath(pattern.volume, pattern.path.replace("{name}", name))


def pointer(selector: Selector, name: str) -> str | None:
    """The place in a manifest that a selector names for one animation; None where it leaves more open."""
    return selector.fill({"name": name})


def read_animations(tree: Tree, profile: Profile) -> tuple[Animation, ...]:
    """Every animation on the card, by name. None where the profile or the card has none."""
    rule = profile.animation
    if rule is None or rule.folder.volume not in tree.roles():
        return ()
    chosen = read_chosen(tree, profile)
    found = (_read(tree, profile, rule, name, chosen) for name in sorted(find_names(tree, rule)))
    return tuple(one for one in found if one.frames or one.settings is not None)


def read_animation(tree: Tree, profile: Profile, name: str) -> Animation:
    """One animation.

    Raises:
        EntryError: the card has none of that name; with those that it has.
        ProfileError, CardError: the profile knows no animations; its volume is absent.
    """
    rule = require_rule(profile)
    require_volume(tree, rule)
    known = {one.name: one for one in read_animations(tree, profile)}
    if name in known:
        return known[name]
    alike = [one for one in known if one.casefold() == name.casefold()]
    if len(alike) == 1:
        return known[alike[0]]
    names = ", ".join(map(shown, known)) or "none"
    raise EntryError(
        f"there is no boot animation {shown(name)!r} on this card; nothing was changed. It has: {names}",
        path=str(rule.folder),
    )


def require_volume(tree: Tree, rule: AnimationRule) -> None:
    """Refuse where the volume with the animations is absent."""
    if rule.folder.volume not in tree.roles():
        raise CardError(
            f"the volume {rule.folder.volume} is absent, and boot animations lie on it; nothing was changed. "
            "Put it in first.",
            path=str(rule.folder),
        )


def find_names(tree: Tree, rule: AnimationRule) -> Iterator[str]:
    """The names of the folders that could be animations."""
    parts = rule.folder.path.split("/")
    at = next((number for number, part in enumerate(parts) if "{name}" in part), None)
    if at is None:
        if is_folder(tree, VolumePath(rule.folder.volume, rule.folder.path)):
            yield parts[-1]
        return
    parent = VolumePath(rule.folder.volume, "/".join(parts[:at]))
    if not is_folder(tree, parent):
        return
    before, _, after = parts[at].partition("{name}")
    for item in tree.list(parent):
        name = item.name[len(before) : len(item.name) - len(after)]
        fits = item.name.startswith(before) and item.name.endswith(after) and name
        if fits and not name.startswith(".") and is_folder(tree, place(rule.folder, name)):
            yield name


def is_folder(tree: Tree, at: VolumePath) -> bool:
    """Whether a folder is there; links are followed."""
    try:
        item = tree.stat(at)
        if item is not None and item.kind == "link":
            item = tree.stat(tree.resolve(at))
    except CardError:
        return False
    return item is not None and item.kind == "folder"


def is_file(tree: Tree, at: VolumePath) -> bool:
    """Whether a file is there; links are followed."""
    if at.volume not in tree.roles():
        return False
    try:
        item = tree.stat(at)
        if item is not None and item.kind == "link":
            item = tree.stat(tree.resolve(at))
    except CardError:
        return False
    return item is not None and item.kind == "file"


def frames_folder(rule: AnimationRule, name: str) -> VolumePath:
    """The folder in which the frames of an animation lie."""
    below = rule.frames.pattern.rpartition("/")[0].replace("{name}", name)
    folder = place(rule.folder, name)
    return folder.child(below) if below else folder


def frame_name(rule: AnimationRule, name: str, number: int) -> str:
    """File name of a frame by its own number."""
    pattern = rule.frames.pattern.rpartition("/")[2]
    return pattern.replace("{name}", name).replace("{n}", str(number).zfill(rule.frames.pad))


def find_frames(tree: Tree, rule: AnimationRule, name: str) -> tuple[FrameFile, ...]:
    """The numbered pictures that are there, by number; named exactly as the device looks for them."""
    folder = frames_folder(rule, name)
    if not is_folder(tree, folder):
        return ()
    pattern = rule.frames.pattern.rpartition("/")[2].replace("{name}", name)
    before, _, after = pattern.partition("{n}")
    fold = re.IGNORECASE if tree.names_rule(folder.volume) == "fat" else 0
    fits = re.compile(re.escape(before) + r"([0-9]{1,9})" + re.escape(after), fold)
    found = []
    for item in tree.list(folder):
        match = fits.fullmatch(item.name)
        if item.kind == "file" and match and match[1] == str(int(match[1])).zfill(rule.frames.pad):
            found.append(FrameFile(int(match[1]), item.at, item.size))
    return tuple(sorted(found, key=lambda frame: frame.number)[:MOST_FRAMES])


def open_manifest(tree: Tree, profile: Profile, at: VolumePath, format: Format) -> Document | None:
    """A manifest of an animation; None where it is not there.

    Raises:
        ManifestError: it is malformed.
    """
    if not is_file(tree, at):
        return None
    from workbench.manifests.opening import open_document

    return open_document(tree.read(at), format, str(at), profile.variables)


def read_text(document: Document | None, where: str | None) -> Any:
    """What stands at a pointer; None where there is nothing."""
    if document is None or where is None:
        return None
    try:
        return document.get(where)
    except ManifestError:
        return None


def read_chosen(tree: Tree, profile: Profile) -> str | None:
    """The name that the device's setting gives; None where it gives none, or nothing tells."""
    rule = profile.animation.chosen if profile.animation is not None else None
    if rule is None:
        return None
    try:
        at = VolumePath(rule.file.volume, rule.file.path)
        text = read_text(open_manifest(tree, profile, at, rule.format), pointer(rule.at, ""))
    except (ManifestError, CardError):
        return None
    return name_chosen(rule, text)


def name_chosen(rule: ChosenRule, text: Any) -> str | None:
    """The animation's name in a text of the setting."""
    if not isinstance(text, str) or text == rule.none:
        return None
    before, _, after = rule.is_.partition("{name}")
    if not (text.startswith(before) and text.endswith(after)) or len(text) <= len(before) + len(after):
        return None
    return text[len(before) : len(text) - len(after)]


def _read(tree: Tree, profile: Profile, rule: AnimationRule, name: str, chosen: str | None) -> Animation:
    texts, settings, fault = _read_settings(tree, profile, rule, name)
    pace = fixed_pace(rule) or read_pace(rule, texts.get("pace"))
    author = texts.get("author")
    sound = place(rule.sound.file, name) if rule.sound is not None else None
    is_same = chosen is not None and (
        chosen == name or (_ignores_case(profile, rule) and chosen.casefold() == name.casefold())
    )
    return Animation(
        name=name,
        folder=place(rule.folder, name),
        frames=find_frames(tree, rule, name),
        settings=settings,
        count=_count(rule, texts),
        pace=pace,
        loops=_whole(texts.get("loops")),
        author=None if author is None else str(author),
        label=_read_label(tree, profile, rule.label, name),
        sound=sound if sound is not None and is_file(tree, sound) else None,
        is_chosen=is_same,
        fault=fault,
        texts=tuple(texts.items()),
    )


def _ignores_case(profile: Profile, rule: AnimationRule) -> bool:
    return profile.volumes[rule.folder.volume].names == "fat"


def _read_settings(
    tree: Tree, profile: Profile, rule: AnimationRule, name: str
) -> tuple[dict[str, Any], VolumePath | None, str]:
    wanted = rule.settings
    if wanted is None:
        return {}, None, ""
    at = place(wanted.file, name)
    try:
        document = open_manifest(tree, profile, at, wanted.format)
    except (ManifestError, CardError) as error:
        return {}, at, error.message
    if document is None:
        return {}, None, ""
    selectors = {
        "count": wanted.count,
        "last": wanted.last,
        "pace": wanted.pace,
        "loops": wanted.loops,
        "author": wanted.author,
    }
    found = {
        word: read_text(document, pointer(selector, name))
        for word, selector in selectors.items()
        if selector is not None
    }
    is_there = "{name}" in wanted.file.path or any(value is not None for value in found.values())
    return {word: value for word, value in found.items() if value is not None}, at if is_there else None, ""


def _count(rule: AnimationRule, texts: dict[str, Any]) -> int | None:
    if "count" in texts:
        return _whole(texts["count"])
    last = _whole(texts.get("last"))
    return None if last is None else max(0, last - rule.frames.first + 1)


def _whole(value: Any) -> int | None:
    number = read_number(value)
    return int(number) if number is not None and number.denominator == 1 else None


def _read_label(tree: Tree, profile: Profile, rule: TextRule | None, name: str) -> str | None:
    if rule is None:
        return None
    try:
        document = open_manifest(tree, profile, place(rule.file, name), rule.format)
    except (ManifestError, CardError):
        return None
    text = read_text(document, pointer(rule.at, name))
    return None if text is None else str(text)
