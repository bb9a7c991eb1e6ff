"""What the page of packs asks for, done in worker threads. Knows nothing of Textual."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from workbench.values import dataclass, field

if TYPE_CHECKING:
    from workbench.card.paths import VolumePath
    from workbench.card.profile import Profile
    from workbench.card.tree import Tree
    from workbench.changes.brought import BroughtPack, Traces
    from workbench.changes.plan import Plan
    from workbench.jobs.packs.parts import Decision, PackLook, Part
    from workbench.tui.desk import Desk, Wish

MOST_DIFFERENT = 400
"""Lines of a difference that are shown."""


@dataclass(frozen=True, slots=True)
class OpenPack:
    """The pack that is open, and what the person said about it."""

    source: Path
    into: Mapping[str, VolumePath] = field(default_factory=dict)
    without: tuple[str, ...] = ()
    decisions: Mapping[str, Decision] = field(default_factory=dict)


def read_brought(desk: Desk) -> Traces:
    """The packs on the card, and what else was changed there."""
    from workbench.changes.brought import read_traces

    return read_traces(desk.card)


def look_into(desk: Desk, traces: Traces, opened: OpenPack) -> PackLook:
    """What is in the pack, on the card as it is."""
    from workbench.host.archives.limits import Limits
    from workbench.jobs.packs.looking import Answers, look

    usual = Limits()
    free = sum(volume.free_bytes for volume in desk.card.present)
    limits = Limits(total_bytes=min(usual.total_bytes, free)) if free else usual
    return look(
        desk.disk,
        desk.known_profile(),
        opened.source,
        answers=Answers(opened.into, opened.without),
        traces=traces,
        limits=limits,
    )


def read_difference(desk: Desk, found: PackLook, part: Part) -> list[str]:
    """How a text of the pack differs from the card's."""
    from workbench.jobs.packs.adding import diff_part

    return diff_part(desk.disk, found, part)[:MOST_DIFFERENT]


def add_wish(found: PackLook, decisions: Mapping[str, Decision]) -> Wish:
    """The pack, as a wish."""

    def plan(tree: Tree, profile: Profile) -> Plan:
        from workbench.jobs.packs.adding import plan_add_pack

        return plan_add_pack(tree, profile, found, decisions)

    return plan


def plan_removal(desk: Desk, brought: BroughtPack, traces: Traces) -> Plan:
    """What takes a pack out; what was edited since is in its conflicts."""
    from workbench.changes.taking_out import plan_taking_out
    from workbench.jobs.packs.removing import plan_remove_pack

    taken = plan_taking_out(desk.card, brought, traces)
    return plan_remove_pack(desk.disk, desk.known_profile(), taken, brought.entries)
