"""`cardwright cards`: removable cards and the profile each matches."""

from __future__ import annotations

import argparse
from typing import Any

from workbench.cli.output import say, say_json, warn


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--profile", metavar="FILE", help="a profile to match besides the known ones")
    parser.add_argument("--json", action="store_true", help="print JSON")


def run(args: argparse.Namespace) -> int:
    from workbench.card.discovery import find_cards
    from workbench.cli.opened import known_profiles

    cards = find_cards(known_profiles(args.profile))
    if args.json:
        say_json({"cards": [_card_shape(card) for card in cards]})
        return 0
    if not cards:
        warn("No removable card is mounted. Put one in, or name a folder: cardwright menu FOLDER")
    for card in cards:
        say(f"{card.name}  {card.profile.name if card.profile else 'no profile matches'}")
        for volume in card.volumes.values():
            say(f"  {_volume_sentence(volume)}")
        for sign in _signs(card):
            say(f"  ! {sign}")
    return 0


def _signs(card: Any) -> list[str]:
    """What is not as it should be, as far as it is seen at a glance."""
    health = _read_health(card)
    signs = [f"{volume.role}: {sign}" for volume in health.volumes for sign in volume.signs]
    if health.ledger is not None and health.ledger.unfinished:
        signs.insert(0, f"{health.ledger.unfinished} is unfinished: finish it or take it back with recover")
    return signs


def _read_health(card: Any) -> Any:
    from workbench.card.health import read_health
    from workbench.changes.ledger_health import glance_at_ledger

    return read_health(card).with_ledger(glance_at_ledger(card))


def _volume_sentence(volume: Any) -> str:
    if not volume.present:
        return f"{volume.role}: absent"
    parts = [f"{volume.role}: {volume.root}", volume.filesystem]
    if volume.free_bytes is not None:
        parts.append(f"{volume.free_bytes:,} bytes free, in units of {volume.cluster_bytes:,}")
    if volume.read_only:
        parts.append("read-only")
    return ", ".join(parts)


def _card_shape(card: Any) -> dict[str, Any]:
    health = _read_health(card)
    signs = {volume.role: list(volume.signs) for volume in health.volumes}
    return {
        "unfinished": (health.ledger.unfinished or None) if health.ledger is not None else None,
        "bytes_kept": health.ledger.kept_bytes if health.ledger is not None else 0,
        "name": card.name,
        "profile": card.profile.name if card.profile else None,
        "volumes": [
            {
                "role": volume.role,
                "root": str(volume.root) if volume.present else None,
                "present": volume.present,
                "label": volume.label,
                "filesystem": volume.filesystem,
                "size_bytes": volume.size_bytes,
                "free_bytes": volume.free_bytes,
                "cluster_bytes": volume.cluster_bytes,
                "read_only": volume.read_only,
                "names": volume.host_names,
                "signs": signs.get(volume.role, []),
            }
            for volume in card.volumes.values()
        ],
    }
