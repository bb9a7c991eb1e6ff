"""Plans a boot animation whole: frames, sound, settings, script, label, art, entry and choice in one plan.

The same wish made again replaces only what has changed. Nothing is written here.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path

from workbench.card.animation_pace import Pace
from workbench.card.animation_rule import AnimationRule
from workbench.card.animations import (
    Animation,
    frame_name,
    is_file,
    place,
    read_animations,
    require_rule,
    require_volume,
)
from workbench.card.names import check_name
from workbench.card.profile import Profile
from workbench.card.tree import Tree
from workbench.changes.plan import Plan, Prepared, Remove, Step, Write
from workbench.errors import ProfileError
from workbench.jobs.animate.budget import fit_budget, fits
from workbench.jobs.animate.frame_steps import Folders, Placed, place_frames, write_content
from workbench.jobs.animate.pacing import choose_pace, needs_rate
from workbench.jobs.animate.remedies import take_remedy
from workbench.jobs.animate.rendered import Render, Rendered, make_order
from workbench.jobs.animate.report import AnimateReport, cautions_of, remedies_of
from workbench.jobs.animate.run import Fitted, Probe, Run
from workbench.jobs.animate.script import plan_script
from workbench.jobs.animate.setting import Facts, choose_like, put_choice, put_label, put_settings
from workbench.jobs.animate.sheets import Sheets
from workbench.jobs.animate.wish import AnimateWish, Cancelled, OnProgress, ignore, never
from workbench.media.clip_facts import ClipFacts
from workbench.media.render_order import RenderOrder
from workbench.shown import shown
from workbench.values import dataclass, replace


@dataclass(frozen=True, slots=True)
class PlannedAnimation:
    """A plan, and what a person should know before saying yes to it."""

    plan: Plan
    report: AnimateReport
    wish: AnimateWish
    """As it was carried out: the name in the spelling of the card."""


def plan_animate(
    tree: Tree,
    profile: Profile,
    wish: AnimateWish,
    *,
    unit: int = 4096,
    render: Render | None = None,
    probe: Probe | None = None,
    progress: OnProgress = ignore,
    cancelled: Cancelled = never,
) -> PlannedAnimation:
    """Render the clip as the device needs it and plan everything that belongs to it.

    Args:
        unit: bytes of an allocation unit of the volume that the frames go to.
        render, probe: what renders and what looks at a clip; None for `jobs.rendering`.

    Raises:
        MediaError: the clip cannot be read, or the device could not show it.
        ProfileError, CardError, EntryError: the profile knows no animations; a volume is absent.
        NameRefusedError: the name would not survive on the card.
        ManifestError: a manifest is malformed, or cannot hold a text.
        CancelledError: the person stopped it.
    """
    rule = require_rule(profile)
    require_volume(tree, rule)
    others = read_animations(tree, profile)
    wish = _with_name(profile, rule, others, wish)
    run = Run(rule, wish, others, unit, render or _default_render(), progress, cancelled)
    fitted = _render(run, tree, profile, probe or _default_probe())
    plan, placed = _plan_all(tree, profile, rule, run, fitted)
    report = _make_report(plan.on(tree), run, fitted, placed)
    return PlannedAnimation(plan, report, wish)


def default_name(profile: Profile, source: Path) -> str:
    """What an animation is called where nobody says it: as the device's only one, else as its clip."""
    rule = profile.animation
    if rule is not None and "{name}" not in rule.folder.path:
        return rule.folder.path.rpartition("/")[2]
    return source.stem or source.name


def _default_render() -> Render:
    from workbench.jobs.rendering import render

    return render


def _default_probe() -> Probe:
    from workbench.jobs.rendering import probe

    return probe


def _with_name(
    profile: Profile, rule: AnimationRule, others: Sequence[Animation], wish: AnimateWish
) -> AnimateWish:
    """The wish under a name that will survive; one that is there already but for its case is that one."""
    names = profile.volumes[rule.folder.volume].names
    check_name(wish.name, names)
    if "{name}" not in rule.folder.path and wish.name != rule.folder.path.rpartition("/")[2]:
        only = shown(rule.folder.path.rpartition("/")[2])
        raise ProfileError(
            f"this device has one boot animation, called {only}, and no place for {shown(wish.name)}; "
            "nothing was changed.",
            path=str(rule.folder),
        )
    alike = [one.name for one in others if one.name.casefold() == wish.name.casefold()]
    return replace(wish, name=alike[0]) if names == "fat" and len(alike) == 1 else wish


def _render(run: Run, tree: Tree, profile: Profile, probe: Probe) -> Fitted:
    wish = run.wish
    is_looked_at = needs_rate(run.rule, run.others, wish.delay) or (
        _needs_still(run) and wish.art_frame is None
    )
    facts = run.look(probe) if is_looked_at else None
    rate = facts.rate * wish.speed if facts is not None and facts.rate is not None else None
    chosen = choose_pace(run.rule, run.others, wish.name, wish.delay, rate)
    order = replace(make_order(profile, run.rule, wish, chosen.pace), loops=_comes_round(run))
    _check_first(run, tree, profile, chosen.pace)
    if _needs_still(run):
        order = replace(order, still=_guess_still(wish, order, facts))
    fitted = Fitted(run.make(order, "rendering"), chosen.pace, chosen.because)
    for _ in range(3):
        if wish.remedy is not None:
            fitted = take_remedy(run, fitted, wish.remedy)
        if wish.budget is None or fits(run, fitted.rendered, wish.budget):
            break
        fitted = fit_budget(run, fitted, wish.budget)
        if wish.remedy is None or fitted.rendered.report.flash.passes:
            break
    return _with_still(run, fitted)


def _comes_round(run: Run) -> bool:
    """Whether the first frame follows the last one: then flashes are looked for across that seam too."""
    return run.wish.loops == 0 or run.plays() > 1


def _needs_still(run: Run) -> bool:
    return run.rule.art is not None or run.rule.entry is not None


def _check_first(run: Run, tree: Tree, profile: Profile, pace: Pace) -> None:
    """Refuse before the long work what would be refused after it: texts, manifests, the entry's name."""
    _plan_entry(tree, profile, run)
    _put_manifests(tree, profile, run, _facts(run, 1, pace), Folders(tree))


def _guess_still(wish: AnimateWish, order: RenderOrder, facts: ClipFacts | None) -> int | None:
    """The frame for the art: the one asked for, else the middle one, as far as the clip says its length."""
    if wish.art_frame is not None or facts is None:
        return wish.art_frame
    whole = max(Fraction(0), facts.duration - order.start)
    clip = whole if order.length is None else min(whole, order.length)
    return int(clip / order.speed / order.delay / 2) if clip else None


def _with_still(run: Run, fitted: Fitted) -> Fitted:
    """Render once more for the art, where it is not known before how many frames there are."""
    if not _needs_still(run) or fitted.rendered.report.still is not None:
        return fitted
    count = fitted.rendered.report.count
    wanted = count // 2 if run.wish.art_frame is None else min(run.wish.art_frame, count - 1)
    order = replace(fitted.rendered.order, still=wanted)
    return replace(fitted, rendered=run.make(order, "taking the art"))


def _plan_all(
    tree: Tree, profile: Profile, rule: AnimationRule, run: Run, fitted: Fitted
) -> tuple[Plan, Placed]:
    wish, rendered = run.wish, fitted.rendered
    title = f"Make the boot animation {wish.name} of {wish.source.name}"
    entry = _plan_entry(tree, profile, run)
    here = entry.on(tree) if entry.steps else tree
    own, placed = _plan_files(here, profile, rule, run, fitted)
    plan = replace(entry.then(own), title=title)
    if rule.entry is not None and rendered.report.still is not None:
        from workbench.jobs.animate.dressing import plan_entry_art

        still = rendered.folder / rendered.report.still.name
        plan = replace(plan.then(plan_entry_art(plan.on(tree), profile, wish.name, still)), title=title)
    return plan, placed


def _plan_files(
    tree: Tree, profile: Profile, rule: AnimationRule, run: Run, fitted: Fitted
) -> tuple[Plan, Placed]:
    """Everything but the entry."""
    wish, rendered = run.wish, fitted.rendered
    folders = Folders(tree)
    files = {
        frame_name(rule, wish.name, rule.frames.first + number): file
        for number, file in enumerate(rendered.report.frames)
    }
    placed = place_frames(tree, rule, wish.name, files, rendered.folder, folders)
    sound, notes = _place_sound(tree, rule, rendered, wish.name, folders)
    facts = _facts(run, rendered.report.count, fitted.pace)
    texts, said = _put_manifests(tree, profile, run, facts, folders)
    steps = [*placed.steps, *sound, *texts]
    if rendered.report.still is not None and rule.art is not None:
        from workbench.jobs.animate.dressing import plan_art

        still = rendered.folder / rendered.report.still.name
        steps += plan_art(tree, rule, wish.name, still, list(run.others), wish.background, folders)
    return Plan("", tuple(steps), notes=tuple(dict.fromkeys((*notes, *said)))), placed


def _plan_entry(tree: Tree, profile: Profile, run: Run) -> Plan:
    if run.rule.entry is None:
        return Plan("", ())
    from workbench.jobs.animate.dressing import plan_entry

    return plan_entry(tree, profile, run.wish.name, run.wish.label, list(run.others))


def _facts(run: Run, count: int, pace: Pace) -> Facts:
    """What the manifests shall say; author and label stay as they are where no others are wished."""
    wish = run.wish
    now = next((one for one in run.others if one.name == wish.name), None)
    return Facts(
        name=wish.name,
        count=count,
        first=run.rule.frames.first,
        pace=pace,
        loops=wish.loops,
        author=wish.author if wish.author is not None or now is None else now.author,
        label=wish.label if wish.label is not None or now is None else now.label,
    )


def _put_manifests(
    tree: Tree, profile: Profile, run: Run, facts: Facts, folders: Folders
) -> tuple[list[Step], list[str]]:
    """The steps for settings, label, choice and script, and notes."""
    rule, like = run.rule, choose_like(run.others, facts.name)
    sheets = Sheets(tree, profile)
    like_raw = tree.read(like.settings) if like is not None and like.settings is not None else None
    notes = put_settings(sheets, rule, facts, like, like_raw)
    if run.wish.label is not None:
        notes += put_label(sheets, rule, facts)
    if run.wish.choose:
        put_choice(sheets, tree, profile, facts.name)
    steps: list[Step] = []
    for step in sheets.steps():
        if isinstance(step, Write):
            steps += folders.make(step.at.parent)
        steps.append(step)
    script, said = plan_script(tree, rule, facts, like, folders)
    return [*steps, *script], [*notes, *said]


def _place_sound(
    tree: Tree, rule: AnimationRule, rendered: Rendered, name: str, folders: Folders
) -> tuple[list[Step], list[str]]:
    if rule.sound is None:
        return [], []
    at = place(rule.sound.file, name)
    sound = rendered.report.sound
    if sound is None:
        if not is_file(tree, at):
            return [], []
        return [Remove(at)], [f"The old sound {at} is put away: there is none now."]
    prepared = Prepared(str(rendered.folder / sound.name), sound.size, sound.sha256)
    write = write_content(tree, at, prepared)
    return ([*folders.make(at.parent), write] if write is not None else []), []


def _small_files(tree: Tree, rule: AnimationRule, name: str) -> list[int]:
    """Sizes of what belongs to the animation besides frames and sound, as the card will be."""
    files = [one.file for one in (rule.settings, rule.script, rule.art) if one is not None]
    own = {place(file, name) for file in files if "{name}" in file.path}
    items = [tree.stat(at) for at in sorted(own) if is_file(tree, at)]
    return [item.size for item in items if item is not None]


def _make_report(after: Tree, run: Run, fitted: Fitted, placed: Placed) -> AnimateReport:
    rendered = fitted.rendered
    report = rendered.report
    small = sum(-(-size // run.unit) * run.unit for size in _small_files(after, run.rule, run.wish.name))
    return AnimateReport(
        name=run.wish.name,
        frames=report.count,
        length=Fraction(report.length),
        pace=fitted.pace,
        pace_because=fitted.because,
        bytes=run.cost(rendered) + small,
        unit=run.unit,
        startup=report.length * run.plays(),
        drift_naive_ms=report.drift_naive_ms,
        drift_ours_ms=report.drift_ours_ms,
        flash=report.flash,
        remedies=remedies_of(report.flash),
        loudness=report.loudness,
        true_peak=report.true_peak,
        sound_length=Fraction(report.length) if report.sound is not None else None,
        written=placed.written,
        kept=placed.kept,
        removed=placed.removed,
        traded=fitted.traded,
        notes=tuple(dict.fromkeys((*report.facts.notes, *report.notes))),
        cautions=cautions_of(rendered),
    )
