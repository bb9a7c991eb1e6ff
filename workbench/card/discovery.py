"""Finds cards: removable media, the card of the device that this runs on, folders given by path.

Never offers the disk that carries the running system, save on the device itself, and there exactly the
paths that a profile names.
"""

from __future__ import annotations

import os
from collections.abc import Collection, Mapping, Sequence
from pathlib import Path

from workbench.card.computer import Computer
from workbench.card.opening import choose_by_label, open_folder
from workbench.card.profile import Profile
from workbench.card.volumes import Card
from workbench.values import replace


def find_cards(
    profiles: Sequence[Profile], computer: Computer | None = None, only: Collection[str] = ()
) -> tuple[Card, ...]:
    """The cards in this computer's readers and slots, and its own where it is a device itself.

    With `only`, names of disks, other media are not touched (a busy one could not be unmounted).
    """
    from workbench.card.live_device import find_device_cards
    from workbench.card.removable import find_removable

    host = computer or Computer()
    removable = find_removable(profiles, host, only)
    taken = {volume.root for card in removable for volume in card.present}
    return (*removable, *find_device_cards(profiles, host, taken))


def open_card(
    text: str,
    profiles: Sequence[Profile],
    profile: Profile | None = None,
    volumes: Mapping[str, Path] | None = None,
    computer: Computer | None = None,
) -> Card:
    """The card that a person names: a folder, a mount point or a volume's label.

    A folder wins over a label of the same text. `profile` is what `--profile` gave, `volumes` what
    `--volume ROLE=PATH` gave.

    Raises:
        CardError: there is none, or it is not a card of that profile.
        AmbiguousCardError: two cards have that label.
        UsageError: a role that no profile has.
    """
    host = computer or Computer()
    choices = (replace(profile, origin="given"),) if profile is not None else tuple(profiles)
    folder = _find_folder(text)
    if folder is None:
        card = choose_by_label(text, find_cards(choices, host))
        if not volumes:
            return card
        folder = card.present[0].root
    if volumes:
        return open_folder(folder, choices, host, volumes)
    return _find_known(folder, choices, host) or open_folder(folder, choices, host, {})


def _find_folder(text: str) -> Path | None:
    path = os.path.expanduser(text)
    return Path(os.path.realpath(path)) if os.path.isdir(path) else None


def _find_known(folder: Path, profiles: Sequence[Profile], computer: Computer) -> Card | None:
    """The card in a reader, or the device's own, of which this folder is a volume.

    Asked only for mount points and the device's own paths: a plain folder must open fast.
    """
    device_paths = {
        computer.root / rule.device_path.lstrip("/")
        for profile in profiles
        for rule in profile.volumes.values()
        if rule.device_path
    }
    if folder not in device_paths and not any(Path(mount.point) == folder for mount in computer.mounts):
        return None
    mount = computer.mount_of(folder)
    disks = computer.blocks.find_disks(mount.device, mount.number) if mount else ()
    for card in find_cards(profiles, computer, disks):
        if any(volume.root == folder for volume in card.present):
            return card
    return None
