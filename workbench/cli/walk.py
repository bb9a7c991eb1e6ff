"""The main job on a practice card, done and printed: list, rename, device reader, splash, undo, proof."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path
from typing import Any

from workbench.card.discovery import open_card
from workbench.card.disk_tree import DiskTree
from workbench.card.menu import Entry, Menu, read_menus
from workbench.card.profile import Profile
from workbench.card.references import find_all_references
from workbench.card.volumes import Card
from workbench.changes.plan import Plan
from workbench.cli.carrying import carry_out
from workbench.cli.opened import known_profiles
from workbench.cli.output import say
from workbench.errors import CardwrightError
from workbench.jobs.practice import profile_path, read_device, snapshot

NEW_NAME = "Ça & là's [new]"
"""A name that needs quoting nearly everywhere; legal on FAT."""


def walk_through(device: str, folder: Path) -> int:
    """Do the main job on the card in `folder`; returns 0 where every proof held, 1 otherwise."""
    card = open_card(str(folder), known_profiles(str(profile_path(device))))
    assert card.profile is not None
    before, shown_before = snapshot(folder), _ask_device(device, card)
    menu, entry = _list_menus(card, card.profile)
    new_name = NEW_NAME + (Path(entry.name).suffix if menu.rule.entries == "files" else "")

    _head(f"Rename {entry.name}, with everything that names it")
    _write(folder, card, _plan_rename(card, card.profile, menu, entry, new_name))
    proofs = [_compare_device(shown_before, _ask_device(device, card), entry.name, new_name)]

    _head("Put a blank splash in")
    _write(folder, card, _plan_blank(card, card.profile))
    proofs.append(_has_new_splash(shown_before, _ask_device(device, card)))

    _head("Take both changes back")
    _undo(folder, card, 2)
    _undo(folder, card, 1)
    proofs.append(_is_same(before, snapshot(folder)))
    return 0 if all(proofs) else 1


def _list_menus(card: Card, profile: Profile) -> tuple[Menu, Entry]:
    """Print the menus; returns the entry that most places name."""
    tree = DiskTree(card)
    menus, references = read_menus(tree, profile), find_all_references(tree, profile)
    _head(f"The menus of {card.name}, as the device lists them")
    best: tuple[int, Menu, Entry] | None = None
    for menu in menus:
        say(f"{menu.id} (order: {menu.order})")
        for entry in menu.entries:
            count = len(references.get(entry.at, ()))
            say(f"  {entry.position:>3}  {entry.name}  (named in {count} places)")
            if best is None or count > best[0]:
                best = (count, menu, entry)
    if best is None:
        raise CardwrightError("the card has no entry to try anything on")
    return best[1], best[2]


def _plan_rename(card: Card, profile: Profile, menu: Menu, entry: Entry, name: str) -> Plan:
    from workbench.jobs.rename import plan_rename

    return plan_rename(DiskTree(card), profile, menu, entry, name)


def _plan_blank(card: Card, profile: Profile) -> Plan:
    from workbench.jobs.splash import plan_blank

    return plan_blank(DiskTree(card), profile, (profile.splashes[0].moment,), "#203040")


def _undo(folder: Path, card: Card, back: int) -> None:
    """Undo the change that was `back` changes of ours ago, undos not counted."""
    from workbench.changes.ledger import read_history
    from workbench.changes.undo import plan_undo

    mine = [change.number for change in read_history(card) if not change.undoes]
    _write(folder, card, plan_undo(card, mine[-1] if back == 2 else mine[-2]))


def _write(folder: Path, card: Card, plan: Plan) -> None:
    code = carry_out(Namespace(card=folder, dry_run=False, yes=True, json=False), card, plan)
    if code:
        raise CardwrightError(f"the practice walk stopped at: {plan.title}")


def _ask_device(device: str, card: Card) -> dict[str, Any]:
    return read_device(device, {volume.role: volume.root for volume in card.present})


def _compare_device(before: dict[str, Any], after: dict[str, Any], old: str, new: str) -> bool:
    """The device must show the same entries with the same labels, commands and saves, under the new name."""
    problems = len(after["problems"])
    count = sum(len(menu["entries"]) for menu in after["menus"])
    same = sum(len(menu["entries"]) for menu in before["menus"]) == count
    names = [entry["name"] for menu in after["menus"] for entry in menu["entries"]]
    held = not problems and same and new in names and old not in names
    say(
        f"The device reader, a program of its own, shows {count} entries now, {new} among them; "
        f"problems: {problems}."
    )
    return _verdict(held, "Every reference still leads where it led.")


def _has_new_splash(before: dict[str, Any], after: dict[str, Any]) -> bool:
    changed = [moment for moment, found in after["splash"].items() if found != before["splash"][moment]]
    problems = len(after["problems"])
    say(f"The device reader sees another splash for: {', '.join(changed)}; problems: {problems}.")
    return _verdict(len(changed) == 1 and not problems, "The device takes the new splash.")


def _is_same(before: dict[str, Any], after: dict[str, Any]) -> bool:
    say(f"{len(before)} names before, {len(after)} after.")
    return _verdict(before == after, "Every name, mode and byte is as it was before the first change.")


def _verdict(held: bool, sentence: str) -> bool:
    say(f"proved: {sentence}" if held else f"NOT TRUE: {sentence}")
    return held


def _head(text: str) -> None:
    say(f"\n== {text}")
