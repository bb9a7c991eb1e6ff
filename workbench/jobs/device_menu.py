"""What a plan owes to the device's own programs: lists that they made are put away, so that they make them
anew, and edits that they would write over are not made behind their back.
"""

from __future__ import annotations

from collections.abc import Iterator

from workbench.card.derived import list_derived
from workbench.card.globs import translate
from workbench.card.paths import VolumePath
from workbench.card.profile import FilePattern, Profile
from workbench.card.tree import Tree
from workbench.card.volumes import Card
from workbench.changes.plan import Conflict, Move, Plan, Remove, Write, place_of
from workbench.shown import shown
from workbench.values import replace

RESTART = "Restart the device to see this: its menu goes on showing what it read before."


def plan_for_device(card: Card, tree: Tree, plan: Plan) -> Plan:
    """What has to be done beside a plan, without its own steps; `tree` is the card before the plan."""
    profile = card.profile
    nothing = Plan("Put away what the device makes anew", (), unwished=("",))
    if profile is None or not plan.steps or _is_splash_alone(profile, plan):
        return nothing
    away = tuple(at for at in list_derived(tree, profile) if not _is_touched(plan, at))
    is_live = card.source == "device"
    return replace(
        nothing,
        steps=tuple(map(Remove, away)),
        conflicts=tuple(_find_lost(profile, plan)) if is_live else (),
        notes=tuple(_tell(profile, is_live, away)),
    )


def complete_for_device(card: Card, tree: Tree, plan: Plan) -> Plan:
    """The plan with all that; what it puts away is no mention any more."""
    beside = plan_for_device(card, tree, plan)
    away = {place_of(step) for step in beside.steps}
    left = tuple(one for one in plan.unruled if one.at not in away)
    return replace(replace(plan, unruled=left).then(beside), title=plan.title)


def _is_splash_alone(profile: Profile, plan: Plan) -> bool:
    """Whether it touches nothing but splashes, which no list of the device is made from."""
    splashes = {str(one.file) for one in profile.splashes}
    return all(str(place_of(step)) in splashes for step in plan.steps)


def _is_touched(plan: Plan, at: VolumePath) -> bool:
    places = [place_of(step) for step in plan.steps]
    places += [step.to for step in plan.steps if isinstance(step, Move)]
    return any(at == place or at.is_below(place) for place in places)


def _find_lost(profile: Profile, plan: Plan) -> Iterator[Conflict]:
    """Edits that the running menu would write over at its exit, where nothing here can stop it first."""
    if profile.device.stop and profile.device.start:
        return
    for step in plan.steps:
        if isinstance(step, Write) and _fits(profile.device.rewritten, step.at):
            yield Conflict(
                step.at,
                None,
                "is written back by the device's menu when that ends, so this edit would be lost; the "
                "profile has no commands that stop and start the menu. Do it with the card in a computer",
            )


def _fits(patterns: tuple[FilePattern, ...], at: VolumePath) -> bool:
    return any(
        one.volume == at.volume and translate(one.path, fold=True).match(at.path) is not None
        for one in patterns
    )


def _tell(profile: Profile, is_live: bool, derived: tuple[VolumePath, ...]) -> Iterator[str]:
    if derived:
        names = ", ".join(sorted(shown(str(at)) for at in derived))
        yield f"Put away, because the device makes it anew from what is there: {names}"
    if not is_live:
        return
    rule = profile.device
    if rule.stop and rule.start:
        yield (
            f"The device's menu is stopped first ({shown(rule.stop)}) and started again afterwards "
            f"({shown(rule.start)})."
        )
    else:
        yield RESTART
