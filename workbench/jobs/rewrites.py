"""The manifests of a rename with the new names in place, as writes; where they are many, by two processes."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from workbench.card.paths import VolumePath
from workbench.card.profile import Profile
from workbench.card.reference import ManifestReferences
from workbench.card.rewriting import PiecesOf, rewrite_document
from workbench.card.sharing import share
from workbench.card.tree import Tree
from workbench.changes.plan import Conflict, Edit, Write
from workbench.errors import ManifestError

Outcome = tuple[bytes, list[tuple[int, int, bytes]], str] | tuple[int | None, str]
"""Content, edits and digest as a write has them; or line and reason of a refusal."""


def plan_rewrites(
    tree: Tree,
    profile: Profile,
    manifests: Sequence[ManifestReferences],
    pieces_for: Callable[[ManifestReferences], PiecesOf],
) -> tuple[list[Write], list[Conflict]]:
    """The manifests that change, and those that were left as they are with the reason.

    Args:
        pieces_for: what stands in each reference of a manifest from now on.
    """
    outcomes = share(manifests, lambda found: rewrite_one(profile, found, pieces_for(found)))
    return list_writes(tree, [(one.at, outcome) for one, outcome in zip(manifests, outcomes, strict=True)])


def rewrite_one(profile: Profile, found: ManifestReferences, pieces_of: PiecesOf) -> Outcome:
    """One manifest with the new names in place."""
    try:
        content, edits, before = rewrite_document(
            profile, found.at, found.document, found.references, pieces_of
        )
    except ManifestError as error:
        return error.line, error.message
    return content, [(edit.start, edit.end, edit.new) for edit in edits], before


def list_writes(
    tree: Tree, outcomes: Iterable[tuple[VolumePath, Outcome]]
) -> tuple[list[Write], list[Conflict]]:
    """What came of each manifest as steps and refusals, as `plan_rewrites` gives them."""
    writes, refused = [], []
    for at, outcome in outcomes:
        if len(outcome) == 2:
            refused.append(Conflict(at, *outcome))
            continue
        content, edits, before = outcome
        if edits:
            made = tuple(Edit(*edit) for edit in edits)
            writes.append(Write(tree.resolve(at), content, before, made))
    return writes, refused
