"""Rename an entry, and chase its name through every manifest, script, picture and companion.

Writes come first, at the places as they are; then the moves, the deepest first. Nothing is written here.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from workbench.card.globs import matches_any
from workbench.card.menu import Entry, Menu, stem_of
from workbench.card.menu_search import MenuSearch
from workbench.card.names import check_free, check_name
from workbench.card.profile import NamesRule, Profile
from workbench.card.reference import Blocked, FileReference, Found
from workbench.card.rewriting import name_pieces
from workbench.card.tree import Tree
from workbench.changes.plan import Conflict, Listing, Move, Plan
from workbench.errors import CardwrightError, EntryError, NameRefusedError
from workbench.jobs.listing import keep_listing
from workbench.jobs.moving import find_taken, order_moves
from workbench.jobs.rewrites import list_writes, rewrite_one


def plan_rename(
    tree: Tree, profile: Profile, menu: Menu, entry: Entry, new_name: str, *, mentions: bool = True
) -> Plan:
    """The plan that gives `entry` the name `new_name`, with everything that names it.

    Args:
        mentions: also look for mentions that no rule covers (they are listed, never changed).

    Raises:
        NameRefusedError: the name would not survive on the card, or is taken; with a suggestion.
        EntryError: the entry is no longer there.
    """
    title = f"Rename {entry.name} to {new_name}"
    if new_name == entry.name:
        return Plan(title, (), notes=(f"{entry.name} has that name already.",))
    check_new_name(tree, profile, menu, entry, new_name)
    plan = plan_new_name(tree, profile, menu, entry, new_name, title, mentions=mentions)
    return plan.wished("rename", entry=entry.name, to=new_name, menu=menu.id)


def plan_new_name(
    tree: Tree,
    profile: Profile,
    menu: Menu,
    entry: Entry,
    new_name: str,
    title: str,
    *,
    mentions: bool = True,
) -> Plan:
    """As `plan_rename`, for a name that was checked already and is another than the present one."""
    pieces = name_pieces(new_name, menu.rule)
    found, done = MenuSearch(tree, profile, menu).find_and_do(
        [entry], lambda one: rewrite_one(profile, one, lambda _: pieces), mentions=mentions
    )
    moves = _plan_moves(profile, menu, entry, new_name, found.files)
    taken = find_taken(tree, profile, moves, but=lambda at: at == entry.at)
    listings: tuple[Listing, ...] = ()
    if menu.order == "directory" and tree.order_follows_moves(entry.at.volume):
        moves, listing = keep_listing(tree, entry.at.parent, moves)
        listings = (listing,)
    writes, refused = list_writes(tree, done)
    return Plan(
        title=title,
        steps=(*writes, *moves),
        unruled=found.mentions,
        conflicts=(*(say_blocked(tree, blocked) for blocked in found.blocked), *refused, *taken),
        notes=say_found(found, entry.name),
        listings=listings,
    )


def check_new_name(tree: Tree, profile: Profile, menu: Menu, entry: Entry, new_name: str) -> None:
    """Refuse a name that the card could not keep, or that something else in the folder has."""
    rule, limit = profile.volumes[entry.at.volume].names, menu.rule.prefix.limit
    if tree.stat(entry.at) is None:
        raise EntryError(
            f"the entry {entry.name} is no longer there; nothing was changed", path=str(entry.at)
        )
    check_name(new_name, rule, limit)
    siblings = [item.name for item in tree.list(entry.at.parent) if item.name != entry.name]
    check_free(new_name, siblings, rule, limit)
    check_listed(menu, entry, new_name, rule)


def check_listed(menu: Menu, entry: Entry, new_name: str, rule: NamesRule) -> None:
    """Refuse a name under which the device would no longer list the entry."""
    if matches_any(new_name, menu.rule.hide, fold=rule == "fat"):
        raise NameRefusedError(
            f"the device hides names such as {new_name!r}, so the entry would vanish; nothing was changed.",
            path=str(entry.at),
        )
    suffix = entry.name[len(entry.stem) :]
    new_suffix = new_name[len(stem_of(new_name, menu.rule)) :]
    if menu.rule.entries == "files" and new_suffix.lower() != suffix.lower():
        raise EntryError(
            f"the device knows {entry.name} by its suffix {suffix!r}, and {new_name!r} has another; "
            f"nothing was changed. Try {new_name + suffix!r}.",
            path=str(entry.at),
        )


def _plan_moves(
    profile: Profile, menu: Menu, entry: Entry, new_name: str, files: Sequence[FileReference]
) -> tuple[Move, ...]:
    pieces = {"entry": new_name, "stem": stem_of(new_name, menu.rule)}
    moves = [Move(found.at, found.renamed(pieces[found.piece])) for found in files]
    moves.append(Move(entry.at, entry.at.with_name(new_name)))
    return order_moves(profile, moves)


def say_blocked(tree: Tree, blocked: Blocked) -> Conflict:
    """A malformed manifest that may name the entry, as something in the way."""
    mendable = _is_mendable(tree, blocked)
    sentence = blocked.error.message.rstrip()
    reason = (
        f"{sentence}{'' if sentence.endswith('.') else '.'} It may name the entry, so it has to be mended "
        f"first{'' if mendable else ', by hand'}"
    )
    return Conflict(blocked.at, blocked.error.line, reason, mendable)


def _is_mendable(tree: Tree, blocked: Blocked) -> bool:
    from workbench.manifests.mending import propose_mend

    try:
        return propose_mend(tree.read(blocked.at), blocked.format) is not None
    except CardwrightError:
        return False


def say_found(found: Found, who: str) -> tuple[str, ...]:
    """What a person should know of a search, in sentences; `who` is what was renamed."""
    notes = []
    kinds = Counter(reference.kind for reference in found.files)
    if kinds:
        counted = [f"{count} {kind}{'s' if count != 1 else ''}" for kind, count in sorted(kinds.items())]
        notes.append(f"{_join(counted)} {'comes' if kinds.total() == 1 else 'come'} along.")
    return (*notes, *note_doubts(found, who))


def note_doubts(found: Found, who: str) -> tuple[str, ...]:
    """What may name the entry and was not looked at, or could mean another: it is left as it is."""
    notes = [
        f"{ambiguity.at}{f', line {ambiguity.line},' if ambiguity.line else ''} could name more than one "
        f"entry and is left as it is: {ambiguity.text}"
        for ambiguity in found.ambiguous
    ]
    notes += [f"{at} is too large to be searched for mentions." for at in found.unsearched]
    notes += [
        f"The volume {volume} is absent: whatever names {who} on it will go on naming the old name. "
        "Put it in first, if it belongs to this card."
        for volume in found.absent
    ]
    return tuple(notes)


def _join(words: Sequence[str]) -> str:
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)
