"""A plan: steps not yet carried out, with a title for a person. Jobs make plans; only `apply` runs them."""

from __future__ import annotations

from collections.abc import Mapping

from workbench.card.mention import Mention
from workbench.card.paths import VolumePath
from workbench.card.tree import Tree
from workbench.changes.steps import MakeFolder, Move, Prepared, Remove, Step, Write
from workbench.digests import sha256_hex
from workbench.manifests.document import Edit
from workbench.typed import Any
from workbench.values import dataclass, replace

__all__ = [
    "Conflict",
    "Edit",
    "Listing",
    "MakeFolder",
    "Mention",
    "Move",
    "Pack",
    "Plan",
    "Prepared",
    "Remove",
    "Step",
    "Write",
    "content_size",
    "digest",
    "place_of",
]


def digest(content: bytes) -> str:
    """SHA-256 in hex."""
    return sha256_hex(content)


@dataclass(frozen=True, slots=True)
class Conflict:
    """Something that cannot be done as asked, and why."""

    at: VolumePath
    line: int | None
    because: str
    mendable: bool = False
    """Whether it is a malformed manifest with a plain mend, which can be proposed."""


@dataclass(frozen=True, slots=True)
class Listing:
    """A folder whose own order has to come out exactly so (order `directory`)."""

    folder: VolumePath
    names: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Pack:
    """What a plan adds as one pack; recorded with the change, so that the pack can be taken out again."""

    name: str
    version: str
    author: str
    licence: str
    sha256: str
    """Of the archive; empty for a folder."""
    entries: tuple[str, ...]
    """The entries that it registered, as `VOLUME:PATH`."""
    steps: int
    """How many steps add it; a change with more steps did other things too."""
    start: int = 0
    """How many steps come before them."""


@dataclass(frozen=True, slots=True)
class Plan:
    """What will be done, and what a person should know before saying yes."""

    title: str
    steps: tuple[Step, ...]
    unruled: tuple[Mention, ...] = ()
    conflicts: tuple[Conflict, ...] = ()
    notes: tuple[str, ...] = ()
    """Sentences for the preview: "3 saves and 2 lists come along", a caution, a manifest left out."""
    listings: tuple[Listing, ...] = ()
    undoes: tuple[str, ...] = ()
    """Ids of the changes that this plan takes back, whole or in part."""
    packs: tuple[Pack, ...] = ()
    """The packs that it adds."""
    wishes: tuple[Mapping[str, Any], ...] = ()
    """What the person wished, as a routine words it (`jobs/routine`); empty where no routine could."""
    unwished: tuple[str, ...] = ()
    """Titles of the parts that no routine could word."""

    @property
    def volumes(self) -> tuple[str, ...]:
        """Roles of the volumes that it touches, in order of first mention."""
        return tuple(dict.fromkeys(place_of(step).volume for step in self.steps))

    @property
    def bytes(self) -> int:
        """Bytes of new content."""
        return sum(content_size(step) for step in self.steps if isinstance(step, Write))

    def on(self, tree: Tree) -> Tree:
        """The card as it will be after this plan."""
        from workbench.changes.planned_tree import PlannedTree

        return PlannedTree(tree, self)

    def wished(self, do: str, **values: Any) -> Plan:
        """This plan, with what the person wished in the words of a routine; what is None is left out."""
        if not self.steps:
            return self
        told = {key: value for key, value in values.items() if value is not None}
        return replace(self, wishes=({"do": do, **told},), unwished=())

    def then(self, other: Plan) -> Plan:
        """This plan and, on the card as it leaves it, the other one: one change, one title."""
        return replace(
            self,
            title=f"{self.title}; {other.title}" if self.steps else other.title,
            steps=self.steps + other.steps,
            unruled=self.unruled + other.unruled,
            conflicts=self.conflicts + other.conflicts,
            notes=tuple(dict.fromkeys(self.notes + other.notes)),
            listings=self.listings + other.listings,
            undoes=self.undoes + other.undoes,
            wishes=self.wishes + other.wishes,
            unwished=_unwished(self) + _unwished(other),
            packs=self.packs + tuple(replace(one, start=one.start + len(self.steps)) for one in other.packs),
        )


def _unwished(plan: Plan) -> tuple[str, ...]:
    if plan.unwished or plan.wishes or not plan.steps:
        return plan.unwished
    return (plan.title,)


def place_of(step: Step) -> VolumePath:
    """The place a step starts from."""
    return step.source if isinstance(step, Move) else step.at


def content_size(step: Write) -> int:
    """Bytes that a write puts on the card."""
    return step.content.size if isinstance(step.content, Prepared) else len(step.content)
