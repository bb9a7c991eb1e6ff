"""Many entries of a menu get other names in one go: every manifest is read, parsed and edited once.

Names may go round among the entries. What each entry's rename is about is in `rename`.
"""

from __future__ import annotations

from collections.abc import Mapping

from workbench.card.entry import Entry, Menu
from workbench.card.menu_search import MenuSearch
from workbench.card.name_index import list_names
from workbench.card.names import check_free, check_name, fold_name
from workbench.card.paths import VolumePath
from workbench.card.profile import NamesRule, Profile
from workbench.card.reference import ManifestReferences
from workbench.card.rewriting import Pieces, PiecesOf, name_pieces
from workbench.card.tree import Tree
from workbench.changes.plan import Listing, Move, Plan
from workbench.errors import EntryError, NameRefusedError
from workbench.jobs.listing import keep_listing
from workbench.jobs.moving import find_taken, order_moves
from workbench.jobs.rename import check_listed, say_blocked, say_found
from workbench.jobs.rewrites import plan_rewrites
from workbench.shown import shown


def plan_renames(
    tree: Tree,
    profile: Profile,
    menu: Menu,
    renames: Mapping[str, str],
    *,
    mentions: bool = True,
    title: str = "",
    read: MenuSearch | None = None,
) -> Plan:
    """The plan that gives entries of a menu (by present name) other names, with everything that names them.

    Args:
        renames: present name → new name; a name may be one that another of the entries leaves.
        mentions: also look for mentions that no rule covers (they are listed, never changed).
        read: the menu's references, where they were read from this tree already.

    Raises:
        NameRefusedError: a name would not survive on the card, or is taken; with a suggestion.
        EntryError: an entry is not in the menu, or no longer there.
    """
    by_name = {entry.name: entry for entry in menu.entries}
    unknown = [name for name in renames if name not in by_name]
    if unknown:
        raise EntryError(
            f"there is no entry {shown(unknown[0])!r} in the menu {shown(menu.id)}; nothing was changed",
            path=str(menu.root),
        )
    wanted = {by_name[old]: new for old, new in renames.items() if old != new}
    title = title or f"Rename {len(wanted)} entries of {menu.id}"
    if not wanted:
        return Plan(title, (), notes=("Every entry has its name already.",))
    check_new_names(tree, profile, menu, wanted)
    found = (read or MenuSearch(tree, profile, menu)).find(list(wanted), mentions=mentions)
    pieces = {entry.at: name_pieces(new, menu.rule) for entry, new in wanted.items()}
    own = [Move(entry.at, entry.at.with_name(new)) for entry, new in wanted.items()]
    owned = zip(found.files, found.owners, strict=True)
    others = [Move(file.at, file.renamed(pieces[entry.at][file.piece])) for file, entry in owned]
    places = {entry.at for entry in wanted}
    taken = find_taken(tree, profile, [*own, *others], but=lambda at: at in places)
    moves = order_moves(profile, [*others, *own])
    listings: tuple[Listing, ...] = ()
    if menu.order == "directory" and tree.order_follows_moves(menu.root.volume):
        beside = [move for move in others if move.source.parent == menu.root]
        elsewhere = [move for move in others if move.source.parent != menu.root]
        moves, listing = keep_listing(tree, menu.root, [*order_moves(profile, elsewhere), *beside, *own])
        listings = (listing,)
    writes, refused = plan_rewrites(
        tree, profile, found.manifests, lambda one: _pieces_by_reference(one, pieces)
    )
    return Plan(
        title=title,
        steps=(*writes, *moves),
        unruled=found.mentions,
        conflicts=(*(say_blocked(tree, blocked) for blocked in found.blocked), *refused, *taken),
        notes=say_found(found, _say_entries(list(wanted))),
        listings=listings,
    )


def check_new_names(tree: Tree, profile: Profile, menu: Menu, wanted: Mapping[Entry, str]) -> None:
    """Refuse names that the card could not keep, that something else has, or that two entries would share."""
    rule, limit = profile.volumes[menu.root.volume].names, menu.rule.prefix.limit
    beside = list_names(tree, menu.root)
    leaving, there = {entry.name for entry in wanted}, set(beside)
    gone = [entry for entry in wanted if entry.name not in there]
    if gone:
        raise EntryError(
            f"the entry {shown(gone[0].name)} is no longer there; nothing was changed", path=str(gone[0].at)
        )
    seen: dict[str, str] = {fold_name(name, rule): name for name in beside if name not in leaving}
    for entry, new in wanted.items():
        check_name(new, rule, limit)
        other = seen.setdefault(fold_name(new, rule), new)
        if other is not new:
            _refuse_taken(entry, new, other, [name for name in beside if name not in leaving], rule, limit)
        check_listed(menu, entry, new, rule)


def _refuse_taken(entry: Entry, new: str, other: str, beside: list[str], rule: NamesRule, limit: int) -> None:
    check_free(new, beside, rule, limit)
    raise NameRefusedError(
        f"{shown(entry.name)!r} and another entry would both be called {shown(other)!r}; nothing was "
        "changed. Give one of them another name first.",
        path=str(entry.at),
    )


def _pieces_by_reference(one: ManifestReferences, pieces: Mapping[VolumePath, Pieces]) -> PiecesOf:
    """What stands for the entry that each reference of a manifest names."""
    named = {
        id(reference): pieces[entry.at] for reference, entry in zip(one.references, one.entries, strict=True)
    }
    return lambda reference: named[id(reference)]


def _say_entries(entries: list[Entry]) -> str:
    return entries[0].name if len(entries) == 1 else "these entries"
