"""What a change touches, thing by thing: where each stood, where it will stand, how it is known again.

A `Location` hangs on the nearest folder that the change itself touches, so that it stays true while that
folder is moved about. `list_touched` makes them from an overlay; they are written to plan.json.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from workbench.card.tree import Kind
from workbench.changes.ground import fold_host
from workbench.changes.metadata import Metadata
from workbench.changes.overlay import Node, Overlay
from workbench.changes.steps import Prepared
from workbench.manifests.document import Edit
from workbench.values import dataclass, replace

ROOT = 0
OWN = -1
"""The change's own folder in the ledger."""


@dataclass(frozen=True, slots=True)
class Location:
    """A place below a base: `ROOT`, `OWN`, or the id of a touched folder."""

    base: int
    path: str

    def key(self, fat: bool) -> tuple[int, str]:
        """Equal for two spellings of one place on that host."""
        return (self.base, fold_host(self.path) if fat else self.path)

    def to_json(self) -> list[Any]:
        return [self.base, self.path]

    @classmethod
    def from_json(cls, found: Any) -> Location | None:
        return None if found is None else cls(int(found[0]), str(found[1]))


@dataclass(frozen=True, slots=True)
class Touched:
    """One thing that a change moves, writes, makes, replaces or removes."""

    id: int
    volume: str
    kind: Kind
    initial: Location | None
    """None: the change makes it."""
    final: Location | None
    """None: a file that is replaced; what is kept of it is `copy`."""
    visited: tuple[Location, ...]
    fingerprint: str = ""
    """Empty for a folder that the change makes: it is known by its place."""
    replaces: int | None = None
    replaced_by: int | None = None
    copy: str | None = None
    """Where a second copy is, should the thing be lost: `pack`, `kept`, `edits` (it is made again from the
    old content), `moved` (until the change is at its end), `host` (whole, on this computer), or None."""
    mode: int | None = None
    """Permission bits wanted on new content; None: the volume's default."""
    metadata: Metadata | None = None
    """Of a replaced file."""
    edits: tuple[tuple[Edit, ...], ...] = ()
    hints: tuple[int, int] = (0, 0)
    """Inode and modification time when prepared: they only tell twins apart."""

    @property
    def is_new(self) -> bool:
        """Whether the change makes it."""
        return self.initial is None

    @property
    def rest(self) -> Location:
        """Its place in the change's own folder: staged if new, kept otherwise."""
        return Location(OWN, f"stage/{self.id}" if self.is_new else f"kept/{self.id}")

    @property
    def is_kept(self) -> bool:
        """Whether there is a copy for good, so that the thing itself may be overwritten."""
        return self.copy is not None and self.copy != "moved"

    @property
    def is_made_folder(self) -> bool:
        return self.is_new and self.kind == "folder"

    def goal(self, *, forward: bool) -> Location:
        """Where it belongs at the end, or at the start."""
        return (self.final if forward else self.initial) or self.rest

    def to_json(self) -> dict[str, Any]:
        return {
            "id": self.id,
            "volume": self.volume,
            "kind": self.kind,
            "initial": self.initial and self.initial.to_json(),
            "final": self.final and self.final.to_json(),
            "visited": [one.to_json() for one in self.visited],
            "fingerprint": self.fingerprint,
            "replaces": self.replaces,
            "replaced_by": self.replaced_by,
            "copy": self.copy,
            "mode": self.mode,
            "metadata": self.metadata and self.metadata.to_json(),
            "edits": [[edit_to_json(edit) for edit in level] for level in self.edits],
            "hints": list(self.hints),
        }

    @classmethod
    def from_json(cls, found: Mapping[str, Any]) -> Touched:
        levels = (tuple(map(edit_from_json, level)) for level in found["edits"])
        visited = (Location.from_json(one) for one in found["visited"])
        return cls(
            id=found["id"],
            volume=found["volume"],
            kind=found["kind"],
            initial=Location.from_json(found["initial"]),
            final=Location.from_json(found["final"]),
            visited=tuple(one for one in visited if one is not None),
            fingerprint=found["fingerprint"],
            replaces=found["replaces"],
            replaced_by=found["replaced_by"],
            copy=found["copy"],
            mode=found["mode"],
            metadata=found["metadata"] and Metadata.from_json(found["metadata"]),
            edits=tuple(levels),
            hints=(found["hints"][0], found["hints"][1]),
        )


def edit_to_json(edit: Edit) -> list[Any]:
    """Plain data for plan.json."""
    return [edit.start, edit.end, edit.new.hex()]


def edit_from_json(found: Any) -> Edit:
    """The edit that `edit_to_json` wrote."""
    return Edit(found[0], found[1], bytes.fromhex(found[2]))


@dataclass(frozen=True, slots=True)
class Work:
    """What a change touches, and the new content by the id of the thing it belongs to."""

    things: tuple[Touched, ...]
    contents: Mapping[int, bytes | Prepared]
    on_host: frozenset[str] = frozenset()
    """Roles of the volumes whose kept copies go to the host."""


def list_touched(overlay: Overlay) -> Work:
    """The things that a plan touched, in the order of their first touch, without fingerprints."""
    ids = {node: number for number, node in enumerate(overlay.touched, 1)}
    things = tuple(_describe(overlay, node, ids) for node in overlay.touched)
    contents = {ids[node]: node.content for node in overlay.touched if node.content is not None}
    return Work(things, contents)


def _describe(overlay: Overlay, node: Node, ids: Mapping[Node, int]) -> Touched:
    visited = tuple(dict.fromkeys(_locate(overlay, place, ids) for place in node.visited))
    found = Touched(
        id=ids[node],
        volume=node.volume,
        kind=node.kind,
        initial=None if node.start is None else _locate(overlay, node.start, ids),
        final=None if node.parent is None else _locate(overlay, (node.parent, node.name), ids),
        visited=visited,
        replaces=None if node.replaces is None else ids[node.replaces],
        replaced_by=None if node.replaced_by is None else ids[node.replaced_by],
        mode=node.mode,
        edits=tuple(node.edits) if any(node.edits) else (),
    )
    return replace(found, final=Location(OWN, f"kept/{found.id}")) if node.is_removed else found


def locate_folder(overlay: Overlay, folder: Node) -> Location:
    """Where a folder is; an empty path means its base itself."""
    ids = {node: number for number, node in enumerate(overlay.touched, 1)}
    names: list[str] = []
    while folder not in ids and folder.parent is not None:
        names.append(folder.name)
        folder = folder.parent
    return Location(ids.get(folder, ROOT), "/".join(reversed(names)))


def _locate(overlay: Overlay, place: tuple[Node, str], ids: Mapping[Node, int]) -> Location:
    folder, name = place
    names = [name]
    while folder not in ids:
        if overlay.is_aside(folder):
            return Location(OWN, "/".join(("aside", *reversed(names))))
        if folder.parent is None:
            return Location(ROOT, "/".join(reversed(names)))
        names.append(folder.name)
        folder = folder.parent
    return Location(ids[folder], "/".join(reversed(names)))
