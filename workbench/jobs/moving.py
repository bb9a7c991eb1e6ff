"""Moves that change names, many at once: swaps and cycles too, and nothing is moved over something else."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from workbench.card.name_index import list_names
from workbench.card.names import fold_name
from workbench.card.paths import ASIDE, VolumePath
from workbench.card.profile import NamesRule, Profile
from workbench.card.tree import Tree
from workbench.changes.plan import Conflict, Move


def order_moves(profile: Profile, moves: Iterable[Move]) -> tuple[Move, ...]:
    """The moves in an order in which each finds its place free: the deepest first, rings by a third name.

    Every source is a place as it is before the first move, every target one in the same folder.
    """
    unlike = [move for move in dict.fromkeys(moves) if move.source != move.to]
    deepest = sorted(unlike, key=lambda move: -move.source.path.count("/"))
    by_source = {_key(profile, move.source): move for move in deepest}
    done: list[Move] = []
    started: set[VolumePath] = set()
    for first in deepest:
        chain: list[Move] = []
        move: Move | None = first
        while move is not None and move.source not in started:
            started.add(move.source)
            chain.append(move)
            move = by_source.get(_key(profile, move.to))
        if move is not None and chain and move is first and len(chain) > 1:
            # A ring: the first goes aside, which frees its place for the last.
            aside = VolumePath(first.source.volume, f"{ASIDE}/{len(done):05d}")
            done += [Move(first.source, aside), *reversed(chain[1:]), Move(aside, first.to)]
        else:
            done += reversed(chain)
    return tuple(done)


def _key(profile: Profile, at: VolumePath) -> tuple[str, str]:
    """Equal for two spellings of one place: the names rule is what a host takes for one at the least."""
    return at.volume, fold_name(at.path, profile.volumes[at.volume].names)


def find_taken(
    tree: Tree, profile: Profile, moves: Sequence[Move], *, but: Callable[[VolumePath], bool]
) -> list[Conflict]:
    """Moves whose new place something else has, or will have.

    Args:
        but: whether a source's new name has been checked already (the entries themselves).
    """
    leaving = {(move.source.volume, move.source.path) for move in moves}
    folders: dict[VolumePath, dict[str, str]] = {}
    coming: dict[tuple[str, str], VolumePath] = {}
    taken: list[Conflict] = []
    for move in moves:
        folder, rule = move.to.parent, profile.volumes[move.to.volume].names
        if folder not in folders:
            folders[folder] = _names_in(tree, folder, leaving, rule)
        there = folders[folder].get(fold_name(move.to.name, rule))
        other = coming.setdefault(_key(profile, move.to), move.source)
        if but(move.source):
            continue
        if there is not None:
            because = f"{move.source} would be moved there, but it is taken"
            taken.append(Conflict(move.to.with_name(there), None, because))
        elif other != move.source:
            because = f"both {other} and {move.source} would be moved there"
            taken.append(Conflict(move.to, None, because))
    return taken


def _names_in(
    tree: Tree, folder: VolumePath, leaving: set[tuple[str, str]], rule: NamesRule
) -> dict[str, str]:
    prefix = f"{folder.path}/" if folder.path else ""
    staying = (name for name in list_names(tree, folder) if (folder.volume, prefix + name) not in leaving)
    return {fold_name(name, rule): name for name in staying}
