"""What a profile says, checked. Profiles are data: adding a family of devices needs no Python.

The shapes here mirror the TOML one to one; `profile_reader` makes them from a file and finds fault.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from workbench.manifests.document import Format
from workbench.manifests.selector import Selector
from workbench.typed import TYPE_CHECKING, Literal
from workbench.values import dataclass, field

if TYPE_CHECKING:
    from workbench.card.animation_rule import AnimationRule

NamesRule = Literal["fat", "exact"]
Order = Literal["bytes", "letters", "letters-up", "natural", "directory"]
PrefixStyle = Literal["shortest", "numbers", "letters"]
Origin = Literal["given", "user", "card", "built-in"]
Moment = Literal["start", "charging", "low-battery", "shutdown"]


@dataclass(frozen=True, slots=True)
class FilePattern:
    """`VOLUME:PATH` with `*`, `**` and the placeholders `{entry}`, `{stem}`, `{parent}`, `{name}`."""

    volume: str
    path: str

    def __str__(self) -> str:
        return f"{self.volume}:{self.path}"

    @property
    def is_plain(self) -> bool:
        """Whether it names one place: no glob, no placeholder."""
        return not any(char in self.path for char in "*?[{")


@dataclass(frozen=True, slots=True)
class Panel:
    width: int
    height: int
    """Pixels, as a person sees the panel."""
    rotate: int
    """Clockwise turn of a picture before it is stored: 0, 90, 180 or 270."""


@dataclass(frozen=True, slots=True)
class VolumeRule:
    role: str
    identify: tuple[str, ...]
    """Paths that must all be there; a trailing `/` means a folder."""
    device_path: str | None
    """Where the device itself mounts it."""
    names: NamesRule
    read_only_on_purpose: bool = False
    """Whether the device mounts it read-only, so that by consent it may be opened and closed again."""


@dataclass(frozen=True, slots=True)
class PrefixRule:
    style: PrefixStyle
    separator: str
    shown: bool
    """Whether the device shows the prefix; False where it strips it."""
    limit: int
    """Longest name that the device takes, in UTF-16 units."""


@dataclass(frozen=True, slots=True)
class ReferenceRule:
    file: FilePattern
    format: Format
    at: Selector | None
    """None: every text of the document (shell: words and assignments; lines: every line)."""
    is_: str
    """What the text looks like there: `{entry}`, `{stem}` or `{path}`, with literal affixes."""
    names_key: bool
    """Whether it is the key (section, assignment name) at `at` that names the entry, not the value."""


@dataclass(frozen=True, slots=True)
class LabelRule:
    file: FilePattern
    format: Format
    at: Selector
    key: Selector | None
    """Where the entry is named, when `at` cannot say it itself; bindings agree between both."""
    is_: str
    otherwise: Literal["name"]


@dataclass(frozen=True, slots=True)
class PictureRule:
    kind: str
    """`icon`, `art`, or the device's own word."""
    path: FilePattern
    """With `{entry}` or `{stem}`."""
    size: tuple[int, int] | None


@dataclass(frozen=True, slots=True)
class MenuRule:
    id: str
    root: FilePattern
    """May hold `{parent}`: then each folder that fits is a menu of its own."""
    entries: Literal["folders", "files"]
    match: tuple[str, ...]
    """Globs for file entries; `("*",)` for folders."""
    hide: tuple[str, ...]
    order: Order
    prefix: PrefixRule
    label: LabelRule | None
    companions: tuple[FilePattern, ...]
    references: tuple[ReferenceRule, ...]
    pictures: tuple[PictureRule, ...]

    @property
    def roles_led_to(self) -> frozenset[str]:
        """The volumes on which the rules look for what names an entry, or goes with it."""
        files = (
            *(one.file for one in self.references),
            *(one.path for one in self.pictures),
            *self.companions,
        )
        return frozenset(file.volume for file in files)


@dataclass(frozen=True, slots=True)
class SplashRule:
    moment: str
    """`start`, `charging`, `low-battery`, `shutdown`."""
    file: FilePattern
    kind: Mapping[str, str | int | bool]
    """What the device reads: container (bmp, png, jpeg, raw), bits, masks, rows, gzip; may be empty."""
    rotate: int | None
    """Overrides the panel's turn for this moment."""
    max_bytes: int | None
    """Largest file on the card."""
    max_unpacked: int | None
    """Largest size after gunzip."""


@dataclass(frozen=True, slots=True)
class DeviceRule:
    """How to keep the device's own programs out of the way while a card is edited in the device."""

    stop: str | None
    start: str | None
    derived: tuple[FilePattern, ...]
    """Files that the device makes again from others."""
    rewritten: tuple[FilePattern, ...]
    """Files that its menu writes back at exit."""


@dataclass(frozen=True, slots=True)
class Profile:
    name: str
    source: Path
    panel: Panel
    volumes: Mapping[str, VolumeRule]
    variables: Mapping[str, str]
    menus: tuple[MenuRule, ...]
    splashes: tuple[SplashRule, ...]
    animation: AnimationRule | None = None
    device: DeviceRule = field(default_factory=lambda: DeviceRule(None, None, (), ()))
    origin: Origin = "given"
    """Who it comes from: `--profile`, the user's folder, the card itself, or this program."""
    sha256: str = ""
    """Of a card's own profile, its bytes: by it a person's trust in it is remembered. Else empty."""
    trusted: bool = True
    """False for a card's own profile until the person has said yes to it once."""

    def menu(self, menu_id: str) -> MenuRule:
        """The menu of that id (`KeyError` where there is none)."""
        return {menu.id: menu for menu in self.menus}[menu_id]
