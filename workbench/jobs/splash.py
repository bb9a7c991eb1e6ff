"""Dresses the moments at which a device shows a splash: show, put, blank, restore.

The file that is there is answered in its own kind, and nothing is planned that the device could not show.
Only the profile says which file belongs to which moment and how it is turned.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from workbench.card.paths import VolumePath
from workbench.card.profile import Profile, SplashRule
from workbench.card.tree import Tree
from workbench.changes.plan import MakeFolder, Plan, Step, Write, digest
from workbench.errors import CardError, MediaError
from workbench.jobs.renders import drop_renders, hold
from workbench.jobs.splash_target import (
    SplashTarget,
    choose_rules,
    find_splash_file,
    find_targets,
    hint_of,
    profile_hint,
    require_volume,
    turn_of,
)
from workbench.jobs.user_picture import read_safely
from workbench.media.codec import decode_picture, encode_picture
from workbench.media.colours import parse_colour
from workbench.media.fitting import Fit, fit_picture, turn_clockwise
from workbench.media.kind import SplashKind
from workbench.media.kind_reader import Hint, read_kind
from workbench.media.levels import Dither
from workbench.media.loaders import find_doubts
from workbench.values import dataclass, field

if TYPE_CHECKING:
    from PIL.Image import Image

__all__ = [
    "CAUTION",
    "SplashReport",
    "drop_renders",
    "plan_blank",
    "plan_put",
    "plan_rendered",
    "plan_restore",
    "read_safely",
    "show",
    "show_all",
    "view",
]

CAUTION = "A wrong splash can stop a device from starting; keep the means to restore this volume."

Standing = Literal["there", "absent", "volume-absent", "unknown"]


@dataclass(frozen=True, slots=True)
class SplashReport:
    """What stands at one moment's place."""

    moment: str
    at: VolumePath
    standing: Standing
    kind: SplashKind | None
    """None unless it is there and known."""
    sentence: str
    """For a person: the kind, or what is missing or wrong."""
    rotate: int
    """Clockwise turn of a picture before it was stored."""
    content: bytes | None = field(default=None, repr=False)
    """The file's bytes, known kind or not."""


def show(tree: Tree, profile: Profile, moment: str = "start") -> SplashReport:
    """What is at that moment's place.

    Raises:
        EntryError: the profile knows no such moment.
        CardError: the file is there and cannot be read.
    """
    return _report(tree, profile, choose_rules(profile, (moment,))[0])


def show_all(tree: Tree, profile: Profile) -> tuple[SplashReport, ...]:
    """What is at each moment's place, in the profile's order; one that cannot be read hides no other."""
    return tuple(_report_or_reason(tree, profile, rule) for rule in profile.splashes)


def view(report: SplashReport) -> Image:
    """The splash as a person sees it on the panel: decoded, its turn undone.

    Raises:
        MediaError: nothing there to be decoded, or damaged.
    """
    if report.content is None or report.kind is None:
        raise MediaError(report.sentence, path=str(report.at))
    try:
        return turn_clockwise(decode_picture(report.content, report.kind), -report.rotate)
    except MediaError as error:
        raise MediaError(f"{report.at} cannot be shown: {error.message}", path=str(report.at)) from error


def plan_put(
    tree: Tree,
    profile: Profile,
    moments: Sequence[str],
    picture_path: Path,
    *,
    fit: Fit = "contain",
    background: str = "#000000",
    dither: Dither = "ordered",
    kind: Hint | None = None,
    read: Callable[[Path, tuple[int, int]], Image] | None = None,
) -> Plan:
    """The plan that puts a picture at these moments (`("all",)`: every one of the profile).

    Args:
        read: how the picture is read for a size, if not by `read_safely`.
        kind: what shall differ from what is there: container, bits, masks, rows, gzip, width, height.

    Raises:
        MediaError: no picture, or a splash that the device could not show.
        EntryError, CardError: no such moment; its volume is not there.
    """
    colour = parse_colour(background)
    targets, notes = find_targets(tree, profile, moments, kind)
    sizes = [target.seen_size for target in targets]
    wanted = max(width for width, _ in sizes), max(height for _, height in sizes)
    picture = (read or read_safely)(picture_path, wanted)

    fitted: dict[tuple[int, int], Image] = {}

    def render(target: SplashTarget) -> Image:
        size = target.seen_size
        if size not in fitted:
            fitted[size] = fit_picture(picture, *size, fit, colour)
        return fitted[size]

    title = f"Put {picture_path.name} as the splash of {_name(targets)}"
    plan = plan_rendered(tree, profile, title, targets, render, dither, notes)
    return plan.wished(
        "splash",
        picture=str(picture_path.absolute()),
        moments=list(moments),
        fit=fit,
        background=background,
        dither=dither,
        **(kind or {}),
    )


def plan_blank(
    tree: Tree, profile: Profile, moments: Sequence[str], colour: str = "#000000", *, kind: Hint | None = None
) -> Plan:
    """The plan that fills these moments' splashes with one colour, in the kind that is there.

    Raises:
        MediaError, EntryError, CardError: as `plan_put`.
    """
    shade = parse_colour(colour)
    targets, notes = find_targets(tree, profile, moments, kind)

    def render(target: SplashTarget) -> Image:
        from PIL import Image as images

        return images.new("RGB", target.seen_size, shade)

    title = f"Blank the splash of {_name(targets)}"
    plan = plan_rendered(tree, profile, title, targets, render, "none", notes)
    return plan.wished("splash", blank=True, moments=list(moments), background=colour, **(kind or {}))


def plan_restore(tree: Tree, profile: Profile, moment: str, old_bytes: bytes) -> Plan:
    """The plan that puts a kept splash back, byte for byte.

    Raises:
        EntryError, CardError: no such moment; its volume is not there.
    """
    rule = choose_rules(profile, (moment,))[0]
    require_volume(tree, rule)
    at, old = find_splash_file(tree, rule)
    notes = [_describe_kept(profile, rule, old_bytes), *_cautions(profile, at)]
    steps, remark = _steps(tree, at, old, old_bytes)
    return Plan(f"Restore the splash of {moment}", steps, notes=tuple(filter(None, (*notes, remark))))


def _report_or_reason(tree: Tree, profile: Profile, rule: SplashRule) -> SplashReport:
    try:
        return _report(tree, profile, rule)
    except CardError as error:
        at = VolumePath(rule.file.volume, rule.file.path)
        return SplashReport(rule.moment, at, "unknown", None, error.message, turn_of(profile, rule))


def _report(tree: Tree, profile: Profile, rule: SplashRule) -> SplashReport:
    at = VolumePath(rule.file.volume, rule.file.path)
    turn = turn_of(profile, rule)

    def say(standing: Standing, sentence: str, content: bytes | None = None) -> SplashReport:
        return SplashReport(rule.moment, at, standing, None, sentence, turn, content)

    if at.volume not in tree.roles():
        return say("volume-absent", f"the volume {at.volume} is not there, so its splash cannot be seen")
    _, content = find_splash_file(tree, rule)
    if content is None:
        return say("absent", f"{at} is not there")
    try:
        kind = read_kind(content, profile_hint(profile, rule))
    except MediaError as error:
        return say("unknown", f"{at} is of no kind known here: {error.message}", content)
    return SplashReport(rule.moment, at, "there", kind, kind.describe(), turn, content)


def plan_rendered(
    tree: Tree,
    profile: Profile,
    title: str,
    targets: Sequence[SplashTarget],
    render: Callable[[SplashTarget], Image],
    dither: Dither,
    notes: list[str],
) -> Plan:
    """The plan that puts what `render` draws (as seen, before the turn) at each target.

    Raises:
        MediaError: a splash that the device could not show.
    """
    steps: list[Step] = []
    for target in targets:
        content = _encode(target, turn_clockwise(render(target), target.rotate), dither)
        written = read_kind(content, hint_of(target.kind))
        _check_bytes(target, written)
        fresh, remark = _steps(tree, target.at, target.old, content, steps)
        steps += fresh
        notes += [_describe(target, written), *target.notes, *_new_doubts(target, written)]
        notes += [*filter(None, [remark]), *_cautions(profile, target.at)]
    return Plan(title, tuple(steps), notes=tuple(dict.fromkeys(notes)))


def _encode(target: SplashTarget, image: Image, dither: Dither) -> bytes:
    try:
        return encode_picture(image, target.kind, target.like, dither=dither)
    except MediaError as error:
        raise MediaError(f"{target.at}: {error.message}", path=str(target.at)) from error


def _describe(target: SplashTarget, written: SplashKind) -> str:
    turned = f", stored turned by {target.rotate}° clockwise" if target.rotate else ""
    return f"{target.rule.moment}: {written.describe()}{turned}"


def _new_doubts(target: SplashTarget, written: SplashKind) -> list[str]:
    """Only what is new is doubted: what the file there already is, the device shows."""
    limit = target.rule.max_unpacked
    known = find_doubts(target.present, limit) if target.present else ()
    return [f"{target.at}: {doubt}" for doubt in find_doubts(written, limit) if doubt not in known]


def _check_bytes(target: SplashTarget, written: SplashKind) -> None:
    most, most_unpacked = target.rule.max_bytes, target.rule.max_unpacked
    if most is not None and written.size > most:
        too_large = f"{written.size:,} bytes are more than the {most:,} that the device takes"
    elif most_unpacked is not None and written.unpacked > most_unpacked:
        too_large = (
            f"{written.unpacked:,} bytes unpacked are more than the {most_unpacked:,} that the loader takes"
        )
    else:
        return
    raise MediaError(
        f"{target.at}: {too_large}. Nothing was changed; choose a plainer picture, fewer bits or gzip, "
        "if the device reads that",
        path=str(target.at),
    )


def _steps(
    tree: Tree, at: VolumePath, old: bytes | None, content: bytes, before: Sequence[Step] = ()
) -> tuple[tuple[Step, ...], str | None]:
    """The steps that put content at a place, and a remark where there is nothing to do."""
    if content == old:
        return (), f"{at} holds exactly this already"
    made = {step.at for step in before if isinstance(step, MakeFolder)}
    folders: list[Step] = []
    folder = at.parent
    while folder.path and folder not in made and tree.stat(folder) is None:
        folders.insert(0, MakeFolder(folder))
        folder = folder.parent
    write = Write(at, hold(content), digest(old) if old is not None else None)
    return (*folders, write), None


def _cautions(profile: Profile, at: VolumePath) -> list[str]:
    """A volume that holds no menu is the firmware's own."""
    if at.volume != "system" and any(menu.root.volume == at.volume for menu in profile.menus):
        return []
    return [CAUTION]


def _describe_kept(profile: Profile, rule: SplashRule, old_bytes: bytes) -> str:
    try:
        return f"{rule.moment}: {read_kind(old_bytes, profile_hint(profile, rule)).describe()}, as it was"
    except MediaError as error:
        return (
            f"{rule.moment}: {len(old_bytes):,} bytes as they were, of no kind known here ({error.message})"
        )


def _name(targets: Sequence[SplashTarget]) -> str:
    return ", ".join(target.rule.moment for target in targets)
