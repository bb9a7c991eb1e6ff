"""The lines of the form that makes a boot animation, and the wish that they come to. Knows no Textual."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from workbench.errors import CardwrightError, UsageError
from workbench.jobs.amounts import read_crop, read_number, read_time, read_times, read_whole
from workbench.tui.animating import read_pace_text
from workbench.values import dataclass

if TYPE_CHECKING:
    from workbench.card.profile import Profile
    from workbench.jobs.animate.wish import AnimateWish

FieldKind = Literal["path", "text", "choice"]


@dataclass(frozen=True, slots=True)
class FormField:
    """One line of the form."""

    key: str
    word: str
    otherwise: str
    """What holds while the line is empty."""
    note: str = ""
    """What may be typed."""
    kind: FieldKind = "text"
    choices: tuple[str, ...] = ()


FIELDS: tuple[FormField, ...] = (
    FormField("source", "clip", "none yet: o chooses one", kind="path"),
    FormField("name", "name", "as the clip is called"),
    FormField("start", "begins at", "its beginning", "Seconds, or minutes and seconds: 2.5, 1:30."),
    FormField("length", "length", "to its end", "Seconds, or minutes and seconds: 2.5, 1:30."),
    FormField("rate", "pace", "the card's or the clip's own", "35 ms a frame, or frames a second: 24 fps."),
    FormField(
        "fit", "fit", "contain: all of it, with room around it", "", "choice", ("contain", "cover", "stretch")
    ),
    FormField("background", "background", "black", "#rrggbb, or a name."),
    FormField("crop", "part", "the whole picture", "X,Y,WIDTH,HEIGHT in pixels of the clip."),
    FormField("speed", "speed", "as it is", "2 shows it twice as fast, 0.5 half as fast."),
    FormField("sound", "sound", "the clip's own", "A file of its own, or: none.", "path"),
    FormField("loudness", "loudness", "as it is", "LUFS, such as -23."),
    FormField("budget", "budget", "none", "Room on the card or time at start: 8MB, 6s, or both: 8MB,6s."),
    FormField("colours", "colours", "as the profile says", "At most so many in a frame: 2 to 256."),
    FormField("dither", "dither", "none", "", "choice", ("none", "ordered", "diffuse")),
    FormField("hold", "holds", "not", "Seconds that the first and the last frame stand: 0.5,1."),
    FormField("fade", "fades", "not", "Seconds from and to the background: 0.5,1."),
    FormField("dim", "dimmed to", "full brightness", "0 to 1."),
    FormField("loops", "plays", "as the settings say", "How often, where the device has a setting for it."),
    FormField("label", "shown as", "nothing of its own", "What the device shows for it."),
    FormField("author", "author", "nobody named", "Whose work it is."),
    FormField("art", "art", "of the middle frame", "Which frame becomes its art, counted from 0."),
    FormField("choose", "at start", "another plays, or none", "", "choice", ("no", "yes")),
)
BY_KEY = {field.key: field for field in FIELDS}

Form = Mapping[str, str]


def wish_of(form: Form, profile: Profile, remedy: str | None) -> AnimateWish:
    """The wish that the lines come to.

    Raises:
        UsageError, MediaError: a line does not hold what it is for; the sentence names it.
    """
    from workbench.jobs.animate import AnimateWish, default_name
    from workbench.jobs.animate.wish import REMEDIES

    if not form.get("source", "").strip():
        raise UsageError("no clip is chosen yet; o chooses one")
    source = Path(form["source"].strip()).expanduser()
    values = {key: read_field(key, text) for key, text in form.items() if text.strip()}
    hold, fade = (values.get(key) or (Fraction(0), Fraction(0)) for key in ("hold", "fade"))
    sound = values.get("sound")
    return AnimateWish(
        source=source,
        name=values.get("name") or default_name(profile, source),
        start=values.get("start") or Fraction(0),
        length=values.get("length"),
        speed=values.get("speed") or Fraction(1),
        crop=values.get("crop"),
        fit=values.get("fit") or "contain",
        background=values.get("background") or (0, 0, 0),
        delay=values.get("rate"),
        hold_start=hold[0],
        hold_end=hold[1],
        fade_in=fade[0],
        fade_out=fade[1],
        dim=values.get("dim") or Fraction(1),
        loops=values.get("loops"),
        colours=values.get("colours"),
        dither=values.get("dither") or "none",
        sound=sound if isinstance(sound, Path) else None,
        silent=sound == "none",
        loudness=values.get("loudness"),
        art_frame=values.get("art"),
        author=values.get("author"),
        label=values.get("label"),
        choose=form.get("choose") == "yes",
        budget=values.get("budget"),
        remedy=next((one for one in REMEDIES if one == remedy), None),
    )


def fault_of(key: str, text: str) -> str | None:
    """What is wrong with what a line holds; an empty one is right."""
    try:
        read_field(key, text) if text.strip() else None
    except CardwrightError as error:
        return error.message
    return None


def read_field(key: str, text: str) -> Any:
    """What a line that is not empty comes to.

    Raises:
        UsageError, MediaError: it does not hold what it is for.
    """
    read = _READERS.get(key)
    return read(text.strip()) if read is not None else text


def _read_dim(text: str) -> Fraction:
    dim = read_number(text, "dimmed to", least=Fraction(0))
    if dim > 1:
        raise UsageError(f"dimmed to takes a number above 0 and at most 1, not {text!r}")
    return dim


def _read_loudness(text: str) -> Fraction:
    loudness = read_number(text, "loudness")
    if not -70 <= loudness <= 0:
        raise UsageError(f"loudness takes LUFS from -70 to 0, such as -23, not {text!r}")
    return loudness


def _read_colour(text: str) -> Any:
    from workbench.media.colours import parse_colour

    return parse_colour(text)


def _read_budget(text: str) -> Any:
    from workbench.jobs.animate import parse_budget

    return parse_budget(text)


def _read_sound(text: str) -> Path | str:
    return "none" if text == "none" else Path(text).expanduser()


_READERS: dict[str, Callable[[str], Any]] = {
    "name": str,
    "start": lambda text: read_time(text, "begins at"),
    "length": lambda text: read_time(text, "length"),
    "rate": read_pace_text,
    "background": _read_colour,
    "crop": lambda text: read_crop(text, "part"),
    "speed": lambda text: read_number(text, "speed", least=Fraction(0)),
    "sound": _read_sound,
    "loudness": _read_loudness,
    "budget": _read_budget,
    "colours": lambda text: read_whole(text, "colours", 2, 256),
    "hold": lambda text: read_times(text, "holds"),
    "fade": lambda text: read_times(text, "fades"),
    "dim": _read_dim,
    "loops": lambda text: read_whole(text, "plays", 0, 1_000_000),
    "art": lambda text: read_whole(text, "art", 0, 1_000_000),
}
