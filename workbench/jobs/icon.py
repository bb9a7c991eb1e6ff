"""The pictures of an entry: what is there, what its neighbours have, a new one in their size and format.

Nothing is made up about the format: the neighbours' commonest counts, else that of the picture that is there,
else what the suffix says. The size is the profile's where it names one.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from workbench.card.menu import Entry, Menu
from workbench.card.paths import VolumePath
from workbench.card.profile import Profile
from workbench.card.tree import Tree
from workbench.changes.plan import MakeFolder, Plan, Step, Write, digest
from workbench.errors import CardError, CardwrightError, EntryError, MediaError
from workbench.jobs.picture_places import PicturePlace, find_picture_places
from workbench.jobs.renders import drop_renders, hold
from workbench.jobs.user_picture import read_safely
from workbench.media.colours import parse_colour
from workbench.media.fitting import Fit, contained, fit_clear, fit_picture
from workbench.media.icon_format import SUFFIXES, IconFormat, encode_icon, plain_format, read_format
from workbench.media.limits import MAX_FILE
from workbench.media.picture import decode_bytes
from workbench.shown import shown
from workbench.values import dataclass, field

if TYPE_CHECKING:
    from PIL.Image import Image

__all__ = ["EntryPicture", "drop_renders", "list_pictures", "plan_icon", "view_picture"]

_ENOUGH = 24
"""Neighbours whose pictures are looked at: more would say the same."""

Size = tuple[int, int]


@dataclass(frozen=True, slots=True)
class EntryPicture:
    """One picture of an entry, there or missing."""

    kind: str
    """`icon`, `art`, or the device's own word."""
    at: VolumePath
    """Where it is; where it would be put, if it is missing."""
    is_missing: bool
    size: Size | None
    """Pixels of the picture that is there; None where it is missing or cannot be read."""
    format: str
    """Of the picture that is there: `png`, `bmp`, `jpeg`, `gif`; empty where it is missing or unknown."""
    has_alpha: bool
    wanted: str
    """What a new one is made to: `64×64 PNG, 8 bits a sample`; empty where nothing tells."""
    sentence: str
    """For a person: what is there, and whether it fits what its neighbours have."""
    content: bytes | None = field(default=None, repr=False)
    """The file's bytes."""


def list_pictures(tree: Tree, profile: Profile, menu: Menu, entry: Entry) -> tuple[EntryPicture, ...]:
    """The entry's pictures, each kind that the profile knows, in its order; missing ones too.

    Nothing is decoded beyond the heads of the entry's own pictures and some of its neighbours'.
    """
    return tuple(_describe(_look(tree, place)) for place in find_picture_places(tree, profile, menu, entry))


def view_picture(picture: EntryPicture) -> Image:
    """The picture decoded, RGB or RGBA.

    Raises:
        MediaError: nothing is there, or it cannot be read.
    """
    if picture.content is None:
        raise MediaError(picture.sentence, path=str(picture.at))
    if not picture.format:
        raise MediaError(f"{picture.at} cannot be shown: {picture.sentence}", path=str(picture.at))
    return decode_bytes(picture.content, Path(str(picture.at)))


def plan_icon(
    tree: Tree,
    profile: Profile,
    menu: Menu,
    entry: Entry,
    kind: str | None,
    picture_path: Path,
    *,
    fit: Fit = "contain",
    background: str | None = None,
) -> Plan:
    """The plan that puts a picture in: the old one is kept by the change, a missing one is made.

    Large content waits as a render; whoever drops the plan calls `drop_renders` on it.

    Args:
        kind: which of the entry's pictures; None for the first that the profile names.
        background: `#RRGGBB` around the picture and behind what is see-through; None leaves that clear where
            the format can, black where it cannot.

    Raises:
        EntryError: the profile has no picture of that kind for this menu.
        MediaError: no picture, a bomb, or nothing says what format is wanted.
        CardError: the volume of the pictures is absent.
    """
    chosen = _choose_kind(profile, menu, kind)
    places = [one for one in find_picture_places(tree, profile, menu, entry) if one.rule.kind == chosen]
    if not places:
        raise _nowhere(tree, menu, entry, chosen)
    looks = [_look(tree, place) for place in places]
    sizes = [look.size_wanted for look in looks if look.size_wanted is not None]
    largest = (max((w for w, _ in sizes), default=0), max((h for _, h in sizes), default=0))
    picture = read_safely(picture_path, largest if sizes else (profile.panel.width, profile.panel.height))
    steps: list[Step] = []
    notes: list[str] = []
    for look in looks:
        size = look.size_wanted or _within_panel(profile, picture)
        notes += _put(tree, look, size, picture, fit, background, steps)
    title = f"Put {picture_path.name} as the {chosen} of {entry.name}"
    plan = Plan(title, tuple(steps), notes=tuple(dict.fromkeys(notes)))
    return plan.wished(
        "icon",
        entry=entry.name,
        picture=str(picture_path.absolute()),
        menu=menu.id,
        kind=chosen,
        fit=fit,
        background=background,
    )


@dataclass(frozen=True, slots=True)
class _Look:
    """What is known of one place."""

    place: PicturePlace
    content: bytes | None
    format: IconFormat | None
    size: Size | None
    because: str
    """Why the picture there cannot be read; empty if it can, or if there is none."""
    wanted: IconFormat | None
    size_wanted: Size | None
    model: bytes | None
    """A picture of the wanted format."""


def _look(tree: Tree, place: PicturePlace) -> _Look:
    content, because = _read(tree, place.at) if place.is_there else (None, "")
    own: list[tuple[IconFormat, Size, bytes]] = []
    if content is not None:
        try:
            own = [(*read_format(content), content)]
        except MediaError as error:
            because = error.message
    beside = list(_read_neighbours(tree, place))
    known = [*own, *beside]
    formats = Counter(one for one, _, _ in beside) or Counter(one for one, _, _ in own)
    wanted = formats.most_common(1)[0][0] if formats else plain_format(_suffix(place.at))
    sizes = Counter(size for _, size, _ in beside) or Counter(size for _, size, _ in own)
    size = place.rule.size or (sizes.most_common(1)[0][0] if sizes else None)
    model = next((raw for one, at_size, raw in known if one == wanted and at_size == size), None)
    model = model or next((raw for one, _, raw in known if one == wanted), None)
    there = own[0] if own else None
    return _Look(
        place, content, there[0] if there else None, there[1] if there else None, because, wanted, size, model
    )


def _read(tree: Tree, at: VolumePath) -> tuple[bytes | None, str]:
    try:
        item = tree.stat(tree.resolve(at))
        if item is None or item.kind != "file":
            return None, "it is no file"
        if item.size > MAX_FILE:
            return None, f"it holds {item.size:,} bytes, which is no picture"
        return tree.read(at), ""
    except CardError as error:
        return None, error.message


def _read_neighbours(tree: Tree, place: PicturePlace) -> Iterable[tuple[IconFormat, Size, bytes]]:
    """Of those with the same suffix, if there are any: in one folder two formats may live."""
    alike = [at for at in place.neighbours if _suffix(at).lower() == _suffix(place.at).lower()]
    for at in (alike or place.neighbours)[:_ENOUGH]:
        content, _ = _read(tree, at)
        if content is None:
            continue
        try:
            yield (*read_format(content), content)
        except MediaError:
            continue


def _suffix(at: VolumePath) -> str:
    _, dot, suffix = at.name.rpartition(".")
    return dot + suffix


def _describe(look: _Look) -> EntryPicture:
    wanted = look.wanted.describe(look.size_wanted) if look.wanted and look.size_wanted else ""
    return EntryPicture(
        kind=look.place.rule.kind,
        at=look.place.at,
        is_missing=not look.place.is_there,
        size=look.size,
        format=look.format.container if look.format is not None else "",
        has_alpha=look.format.has_alpha if look.format is not None else False,
        wanted=wanted,
        sentence=_say(look, wanted),
        content=look.content,
    )


def _say(look: _Look, wanted: str) -> str:
    if not look.place.is_there:
        return f"missing; it would be {wanted}" if wanted else "missing"
    if look.format is None or look.size is None:
        return f"it cannot be read: {look.because}"
    present = look.format.describe(look.size)
    if look.size_wanted is not None and look.size != look.size_wanted:
        whose = "the device wants" if look.place.rule.size else "its neighbours have"
        width, height = look.size_wanted
        return f"{present}; {whose} {width}×{height}"
    return present if present == wanted or not wanted else f"{present}; its neighbours are {wanted}"


def _choose_kind(profile: Profile, menu: Menu, kind: str | None) -> str:
    kinds = list(dict.fromkeys(rule.kind for rule in menu.rule.pictures))
    if not kinds:
        raise EntryError(
            f"the profile {profile.name} names no pictures for the menu {shown(menu.id)}; "
            "nothing was changed. Add [[menus.pictures]] to it.",
            path=str(profile.source),
        )
    if kind is None or kind in kinds:
        return kind or kinds[0]
    raise EntryError(
        f"the entries of the menu {shown(menu.id)} have no picture of the kind {shown(kind)!r}; they have: "
        f"{', '.join(kinds)}; nothing was changed",
        path=str(profile.source),
    )


def _nowhere(tree: Tree, menu: Menu, entry: Entry, kind: str) -> CardwrightError:
    rules = [rule for rule in menu.rule.pictures if rule.kind == kind]
    absent = [rule.path.volume for rule in rules if rule.path.volume not in tree.roles()]
    if absent:
        return CardError(
            f"the volume {absent[0]} is absent, and each {kind} lies on it; nothing was changed. "
            "Put it in first.",
            path=str(rules[0].path),
        )
    return EntryError(
        f"nothing says where the {kind} of {shown(entry.name)} goes: {rules[0].path} leaves that open and no "
        "other entry has one; nothing was changed",
        path=str(rules[0].path),
    )


def _within_panel(profile: Profile, picture: Image) -> Size:
    """The picture's own size, where nothing says another; no larger than the panel."""
    room = profile.panel.width, profile.panel.height
    fits = picture.width <= room[0] and picture.height <= room[1]
    return picture.size if fits else contained(picture.size, room)


def _put(
    tree: Tree, look: _Look, size: Size, picture: Image, fit: Fit, background: str | None, steps: list[Step]
) -> list[str]:
    """Add the steps for one place; answers what a person should know."""
    place = look.place
    if look.wanted is None:
        raise MediaError(
            f"nothing says what format {place.at} should have: no other entry has a picture there, and its "
            f"suffix is none of {', '.join(SUFFIXES)}. Nothing was changed",
            path=str(place.at),
        )
    content = _render(picture, size, look.wanted, look.model, fit, background)
    written = look.wanted.describe(size)
    notes = [f"{place.at}: {written}"]
    if _is_clear(picture) and not look.wanted.has_alpha and background is None:
        notes.append("What is see-through in the picture becomes black: this format has no such thing.")
    if place.shared_with:
        names = ", ".join(shown(one.name) for one in place.shared_with[:4])
        notes.append(f"{place.at} is shown for {names} too.")
    if content == look.content:
        return [f"{place.at} holds exactly this already."]
    at = tree.resolve(place.at) if place.is_there else place.at
    steps += [MakeFolder(folder) for folder in _missing_folders(tree, at, steps)]
    before = _digest_of(tree, at, look) if place.is_there else None
    steps.append(Write(at, hold(content), before))
    return notes


def _is_clear(picture: Image) -> bool:
    return picture.mode == "RGBA" and picture.getchannel("A").getextrema() != (255, 255)


def _digest_of(tree: Tree, at: VolumePath, look: _Look) -> str:
    return digest(look.content if look.content is not None else tree.read(at))


def _render(
    picture: Image, size: Size, wanted: IconFormat, model: bytes | None, fit: Fit, background: str | None
) -> bytes:
    colour = parse_colour(background) if background is not None else (0, 0, 0)
    is_clear = background is None
    image = fit_clear(picture, *size, fit) if is_clear else fit_picture(picture, *size, fit, colour)
    return encode_icon(image, wanted, model, colour)


def _missing_folders(tree: Tree, at: VolumePath, steps: Iterable[Step]) -> list[VolumePath]:
    made = {step.at for step in steps if isinstance(step, MakeFolder)}
    folders: list[VolumePath] = []
    folder = at.parent
    while folder.path and folder not in made and tree.stat(folder) is None:
        folders.insert(0, folder)
        folder = folder.parent
    return folders
