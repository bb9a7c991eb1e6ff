"""What `[animation]` of a profile says: where a boot animation's frames, settings, sound and choice lie.

Every file may hold `{name}`, the animation's name; selectors too, where one manifest serves all animations.
"""

from __future__ import annotations

from workbench.card.profile import FilePattern
from workbench.manifests.document import Format
from workbench.manifests.selector import Selector
from workbench.typed import Literal
from workbench.values import dataclass

Unit = Literal["us", "ms", "s", "fps"]
FrameKind = Literal["png", "jpeg", "bmp", "raw"]
SoundKind = Literal["mp3", "wav", "ogg"]


@dataclass(frozen=True, slots=True)
class FramesRule:
    """How frames are named and stored, in the animation's folder or in one folder below it."""

    pattern: str
    """`{n}.png`, `leaves/{n}.jpg`: `{n}` is the number; `{name}` may stand in it too."""
    first: int
    pad: int
    """Digits that a number is filled up to with zeros."""
    format: FrameKind
    bits: int
    """BMP and raw: bits of a pixel; 0 for the format's usual."""
    masks: str | None
    rows: Literal["bottom-up", "top-down"] | None
    colours: int | None
    """Most colours that the device takes in a frame; None for all."""
    size: tuple[int, int] | None
    """Width and height as a person sees a frame; None for the panel's."""
    rotate: int | None
    """Clockwise turn of a frame before it is stored; None for the panel's."""


@dataclass(frozen=True, slots=True)
class SettingsRule:
    """The manifest that tells the device how many frames there are and how fast they go."""

    file: FilePattern
    format: Format
    count: Selector | None
    """Number of frames."""
    last: Selector | None
    """Number of the last frame."""
    pace: Selector | None
    """How long one frame waits, or how many are shown in a second: `unit` says which."""
    unit: Unit
    decimals: int | None
    """Digits behind the point that the device understands in the pace; None: the unit's usual."""
    loops: Selector | None
    author: Selector | None
    template: str | None
    """The whole text of a new file; None to follow another animation's, or to write just the keys."""


@dataclass(frozen=True, slots=True)
class SoundRule:
    file: FilePattern
    format: SoundKind
    rate: int
    channels: int


@dataclass(frozen=True, slots=True)
class ChosenRule:
    """The setting that says which animation plays at start."""

    file: FilePattern
    format: Format
    at: Selector
    is_: str
    """What the text looks like: `{name}`, with literal affixes."""
    none: str | None
    """What stands there when nothing plays; None where the device always plays one."""


@dataclass(frozen=True, slots=True)
class ScriptRule:
    """A shell script that starts the animation."""

    file: FilePattern
    template: str | None
    """With `{name}`, `{label}`, `{author}`, `{count}`, `{last}`, `{delay}`, `{rate}`; None: as another's."""


@dataclass(frozen=True, slots=True)
class TextRule:
    """Where the text stands that the device shows for an animation."""

    file: FilePattern
    format: Format
    at: Selector


@dataclass(frozen=True, slots=True)
class ArtRule:
    file: FilePattern
    size: tuple[int, int] | None


@dataclass(frozen=True, slots=True)
class EntryRule:
    """The menu in which an animation is an entry too."""

    menu: str
    name: str
    """The entry's name: `{name}`, with literal affixes."""


@dataclass(frozen=True, slots=True)
class AnimationRule:
    folder: FilePattern
    """Of one animation; with `{name}` where a card may hold several."""
    frames: FramesRule
    settings: SettingsRule | None
    sound: SoundRule | None
    chosen: ChosenRule | None
    script: ScriptRule | None
    label: TextRule | None
    art: ArtRule | None
    entry: EntryRule | None
    draw_ms: float
    """What the device needs to draw one frame, besides its wait."""
    delay_ms: float | None
    """How long a frame waits where no settings say it; None where the profile does not know."""

    @property
    def manifests(self) -> tuple[tuple[FilePattern, Format], ...]:
        """Every manifest that the table names, with its format."""
        found: list[tuple[FilePattern, Format]] = [
            (one.file, one.format) for one in (self.settings, self.chosen, self.label) if one is not None
        ]
        if self.script is not None:
            found.append((self.script.file, "shell"))
        return tuple(found)
