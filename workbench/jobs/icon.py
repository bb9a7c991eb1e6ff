"""The pictures of an entry: what is there, what its neighbours have, a new one in their size and format."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from workbench.card.menu import Entry, Menu
from workbench.card.paths import VolumePath
from workbench.card.profile import Profile
from workbench.card.tree import Tree
from workbench.changes.plan import Plan
from workbench.media.fitting import Fit
from workbench.values import dataclass, field

if TYPE_CHECKING:
    from PIL.Image import Image


@dataclass(frozen=True, slots=True)
class EntryPicture:
    """One picture of an entry, there or missing."""

    kind: str
    """`icon`, `art`, or the device's own word."""
    at: VolumePath
    """Where it is; where it would be put, if it is missing."""
    is_missing: bool
    size: tuple[int, int] | None
    """Pixels of the picture that is there; None where it is missing or cannot be read."""
    format: str
    """Of the picture that is there: `png`, `bmp`, `jpeg` …; empty where it is missing or unknown."""
    has_alpha: bool
    wanted: str
    """What a new one is made to: `64×64 PNG, 32 bits with alpha`."""
    sentence: str
    """For a person: what is there, and whether it fits what its neighbours have."""
    content: bytes | None = field(default=None, repr=False)
    """The file's bytes."""


def list_pictures(tree: Tree, profile: Profile, menu: Menu, entry: Entry) -> tuple[EntryPicture, ...]:
    """The entry's pictures, each kind that the profile knows, in its order; missing ones too.

    Nothing is decoded beyond the heads of the entry's own pictures and some of its neighbours'.
    """
    raise NotImplementedError


def view_picture(picture: EntryPicture) -> Image:
    """The picture decoded, RGB or RGBA.

    Raises:
        MediaError: nothing is there, or it cannot be read.
    """
    raise NotImplementedError


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

    Large content waits as a render; whoever drops the plan calls `splash.drop_renders` on it.

    Args:
        kind: which of the entry's pictures; None for the first that the profile names.
        background: `#RRGGBB` around the picture and behind what is see-through; None leaves that clear where
            the format can, black where it cannot.

    Raises:
        EntryError: the profile has no picture of that kind for this menu.
        MediaError: no picture, a bomb, or nothing says what format is wanted.
    """
    raise NotImplementedError
