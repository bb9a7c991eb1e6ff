"""Finds out how a device turns and colours its splash: a test picture goes up, two answers come back.

The picture is stored as it is, unturned, in the kind that is there: so the letter that a person sees at the
top names the turn, whatever the profile says by now. Nothing is guessed: an answer that none of ours explains
gives no line.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Literal, Protocol

from workbench.card.profile import Profile
from workbench.card.tree import Tree
from workbench.changes.plan import Plan
from workbench.errors import UsageError
from workbench.jobs.splash import plan_rendered, show
from workbench.jobs.splash_target import SplashTarget, find_targets, turn_of
from workbench.media.fitting import turned_size
from workbench.media.kind import SplashKind
from workbench.media.probe_picture import LETTERS, draw_probe
from workbench.values import dataclass, replace

if TYPE_CHECKING:
    from PIL.Image import Image

Bars = Literal["rgb", "bgr", "none"]
"""The colours of bars 1, 2, 3 as they are seen, or `none` of these."""

NONE = "none"
"""The answer where nothing that is offered fits."""

TOP_QUESTION = (
    f"Which letter stands upright at the top of the device ({', '.join(LETTERS)}; "
    f"{NONE} if there is none, or it reads mirrored)?"
)
BARS_QUESTION = (
    "What colours have the bars 1, 2, 3 (rgb for red, green, blue; bgr for blue, green, red; "
    f"{NONE} for anything else)?"
)
HOW_TO = (
    "Put the card into the device and look at what it shows. Fine stripes that run together mean that the "
    "device scales the picture; a frame that is not whole, that it cuts it."
)
_SWAPPED = {16: "565-swapped", 32: "8888-swapped"}


@dataclass(frozen=True, slots=True)
class ProfileLine:
    """One line that the answers put into the profile."""

    table: str
    """The table it belongs to: `panel`, or `splash` of the moment."""
    line: str
    """TOML."""
    because: str
    is_new: bool = True
    """False: the profile says so by now."""

    def sentence(self) -> str:
        """For a person."""
        standing = "" if self.is_new else " (the profile says so already)"
        return f"[{self.table}] {self.line}{standing}: {self.because}"


def probe_title(moment: str) -> str:
    """The title of the plan that puts the picture up; by it the change is found again."""
    return f"Put up the test picture for {moment}"


class Written(Protocol):
    """What is asked of a change in a ledger."""

    @property
    def number(self) -> int: ...
    @property
    def title(self) -> str: ...
    @property
    def state(self) -> str: ...
    @property
    def undone_by(self) -> int | None: ...
    @property
    def undoes(self) -> Sequence[str]: ...


def find_standing(changes: Iterable[Written], moment: str) -> int | None:
    """The number of the change that put the test picture up and was not taken back."""
    standing = [
        one.number
        for one in changes
        if one.state == "done"
        and one.undone_by is None
        and not one.undoes
        and one.title == probe_title(moment)
    ]
    return max(standing, default=None)


def plan_probe(tree: Tree, profile: Profile, moment: str = "start") -> Plan:
    """The plan that puts the test picture up at that moment, in the kind that is there.

    Raises:
        EntryError, CardError: no such moment; its volume is not there.
        MediaError: a kind that cannot be written, or too small for a test picture.
    """
    targets, notes = find_targets(tree, profile, (moment,), None)

    def render(target: SplashTarget) -> Image:
        return draw_probe(*target.seen_size)

    unturned = [replace(target, rotate=0) for target in targets]
    plan = plan_rendered(tree, profile, probe_title(moment), unturned, render, "none", notes)
    return replace(plan, notes=(*plan.notes, HOW_TO))


def asks_bars(tree: Tree, profile: Profile, moment: str) -> bool:
    """Whether the order of the channels is a question: a PNG or JPEG settles it by itself."""
    kind = show(tree, profile, moment).kind
    return kind is not None and kind.container in ("bmp", "raw")


def rotation_of(letter: str) -> int | None:
    """The clockwise turn to store pictures with, when that letter is seen at the top; None for `none`.

    The edge at the device's top was carried there by a clockwise turn; storing undoes it.

    Raises:
        UsageError: no letter of the test picture.
    """
    if letter.lower() == NONE:
        return None
    if len(letter) != 1 or letter.upper() not in LETTERS:
        raise UsageError(f"the test picture has the letters {', '.join(LETTERS)}, not {letter!r}")
    return 90 * LETTERS.index(letter.upper())


def propose_lines(
    tree: Tree, profile: Profile, moment: str, top: str, bars: Bars
) -> tuple[tuple[ProfileLine, ...], tuple[str, ...]]:
    """What the answers put into the profile, and sentences about what no line can say.

    Raises:
        UsageError: no letter of the test picture.
    """
    turn = rotation_of(top)
    kind = show(tree, profile, moment).kind
    lines: list[ProfileLine] = []
    remarks: list[str] = []
    if turn is None:
        remarks.append("no letter stood upright at the top: how the device turns its splash stays unknown")
    else:
        lines += _turn_lines(profile, moment, top.upper(), turn, kind)
    if bars == "bgr" and kind is not None:
        found = _swap_lines(profile, moment, kind)
        lines += found
        remarks += [] if found else [_no_swap(kind)]
    elif bars == NONE:
        remarks.append("the bars had other colours: the depth of the splash may be another than it states")
    return tuple(lines), tuple(remarks)


def _turn_lines(
    profile: Profile, moment: str, letter: str, turn: int, kind: SplashKind | None
) -> list[ProfileLine]:
    rule = next(rule for rule in profile.splashes if rule.moment == moment)
    table = "panel" if rule.rotate is None else f"splash of {moment}"
    because = f"the letter {letter} stood at the top"
    lines = [ProfileLine(table, f"rotate = {turn}", because, turn != turn_of(profile, rule))]
    if kind is not None and rule.rotate is None:
        seen = turned_size((kind.width, kind.height), turn)
        if seen != (profile.panel.width, profile.panel.height):
            stored = f"a splash of {kind.width}×{kind.height} with that turn is seen as {seen[0]}×{seen[1]}"
            lines += [ProfileLine("panel", f"width = {seen[0]}", stored)]
            lines += [ProfileLine("panel", f"height = {seen[1]}", stored)]
    return lines


def _swap_lines(profile: Profile, moment: str, kind: SplashKind) -> list[ProfileLine]:
    masks = _SWAPPED.get(kind.bits) if kind.container == "raw" else None
    if masks is None:
        return []
    rule = next(rule for rule in profile.splashes if rule.moment == moment)
    named = {"container": kind.container, "bits": kind.bits, **rule.kind, "masks": masks}
    text = ", ".join(f"{key} = {_toml(value)}" for key, value in named.items())
    because = "bar 1 was blue and bar 3 red: the device reads the channels the other way round"
    return [ProfileLine(f"splash of {moment}", f"kind = {{ {text} }}", because)]


def _toml(value: str | int | bool) -> str:
    return str(value).lower() if isinstance(value, bool | int) else f'"{value}"'


def _no_swap(kind: SplashKind) -> str:
    if kind.container == "bmp" and kind.bits in _SWAPPED:
        return (
            "the device reads red for blue. A BMP states its channels itself: put the next picture up with "
            f"--masks {_SWAPPED[kind.bits]}, and those after it follow"
        )
    return "the device reads red for blue, which no line can say for this kind; swap them in the picture"
