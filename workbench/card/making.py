"""Makes a `Card` of folders that were found and, where one matches, a profile."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

from workbench.card.computer import Computer
from workbench.card.identify import Match, match_card
from workbench.card.measuring import measure_volume
from workbench.card.profile import Profile
from workbench.card.volumes import Card, CardSource, Volume
from workbench.shown import shown


def make_card(
    profiles: Sequence[Profile],
    roots: Sequence[Path],
    computer: Computer,
    source: CardSource,
    *,
    name: str = "",
    notes: tuple[str, ...] = (),
) -> Card:
    """The card that these folders are, with the profile that it matches, or none."""
    match, about = match_card(profiles, roots)
    notes += about
    if match is None:
        return make_unknown_card(roots, computer, source, name=name, notes=notes)
    return make_known_card(match, computer, source, name=name, notes=notes)


def make_known_card(
    match: Match, computer: Computer, source: CardSource, *, name: str = "", notes: tuple[str, ...] = ()
) -> Card:
    """The card of a profile: every role of it, those without a folder said to be absent."""
    volumes = {
        role: _measure(role, match.roots[role], computer) if role in match.roots else Volume.absent(role)
        for role in match.profile.volumes
    }
    notes += _describe_case(volumes.values())
    return Card(name or _name(volumes.values()), volumes, match.profile, source, notes)


def make_unknown_card(
    roots: Sequence[Path],
    computer: Computer,
    source: CardSource,
    *,
    name: str = "",
    notes: tuple[str, ...] = (),
    absent: Iterable[Volume] = (),
) -> Card:
    """A card that no profile matches: its volumes go by their labels."""
    volumes: dict[str, Volume] = {}
    for root in roots:
        role = _free_role(computer.label_of(computer.mount_of(root)) or root.name, volumes)
        volumes[role] = _measure(role, root, computer)
    for volume in absent:
        role = _free_role(volume.label or volume.role, volumes)
        volumes[role] = Volume.absent(role, label=volume.label, device=volume.device)
    return Card(name or _name(volumes.values()), volumes, None, source, notes)


def _measure(role: str, root: Path, computer: Computer) -> Volume:
    mount = computer.mount_of(root)
    is_whole = mount is not None and Path(mount.point) == root
    return measure_volume(role, root, mount, computer.label_of(mount) if is_whole else "")


def _name(volumes: Iterable[Volume]) -> str:
    """The label of the first volume that is there."""
    labels = sorted(volumes, key=lambda volume: not volume.present)
    return labels[0].label or labels[0].role if labels else ""


def _free_role(label: str, taken: Iterable[str]) -> str:
    """A role from a label: `VOLUME:PATH` has to be read back."""
    role = plain = label.replace(":", "_").replace("/", "_") or "volume"
    number = 2
    while role in set(taken):
        role, number = f"{plain} {number}", number + 1
    return role


def _describe_case(volumes: Iterable[Volume]) -> tuple[str, ...]:
    return tuple(
        f"Nothing on the volume {shown(volume.role)} shows whether this computer tells names apart by case "
        f"there; taken from its file system: {'no' if volume.host_names == 'fat' else 'yes'}."
        for volume in volumes
        if volume.present and not volume.case_probed
    )
