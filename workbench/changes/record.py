"""plan.json: the whole of a change, on every volume that it touches, written once.

It ends in the SHA-256 of everything before, so that a torn or edited one is told from a whole one.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from typing import Any

from workbench.card.paths import LEDGER_FOLDER, VolumePath
from workbench.changes.host_keep import HostKeep
from workbench.changes.pack import Packed, index_from_json, index_to_json
from workbench.changes.plan import Pack
from workbench.changes.plan_file import pack_from_json, pack_to_json
from workbench.changes.spans import Span
from workbench.changes.touched import OWN, ROOT, Location, Touched
from workbench.errors import LedgerError
from workbench.values import dataclass, field

SCHEMA = 1
_SEAL = b',\n"sha256":"'


@dataclass(frozen=True, slots=True)
class FolderOrder:
    """A folder whose own order the change sets."""

    volume: str
    folder: Location
    before: tuple[str, ...]
    """All names as they stood."""
    wanted: tuple[str, ...]
    """Names in the order wanted; any others follow in the order that they had."""


@dataclass(frozen=True, slots=True)
class Record:
    """What plan.json says."""

    id: str
    """`0007-3f2ac1`: the number and a random part."""
    number: int
    title: str
    time: str
    """ISO 8601, UTC, by the host's clock; only shown, never compared."""
    undoes: tuple[str, ...]
    volumes: Mapping[str, str]
    """Volume id by role."""
    previous: Mapping[str, str]
    """The last change before this one, by role; `""` for a volume's first."""
    things: tuple[Touched, ...]
    orders: tuple[FolderOrder, ...] = ()
    packs: Mapping[str, Mapping[int, Packed]] = field(default_factory=dict)
    """By role, then by the id of the thing."""
    steps: tuple[Mapping[str, Any], ...] = ()
    notes: tuple[str, ...] = ()
    spans: Mapping[int, tuple[tuple[Span, ...], ...]] = field(default_factory=dict)
    """By the id of an edited thing, for each level of its edits: what they replaced."""
    kept_on: Mapping[str, HostKeep] = field(default_factory=dict)
    """By role: what is kept on the host, where the volume was too full."""
    brought: tuple[Pack, ...] = ()
    """The packs that it added."""
    wishes: tuple[Mapping[str, Any], ...] = ()
    """What the person wished, as a routine words it."""
    unwished: tuple[str, ...] = ()
    """Titles of the parts that no routine could word."""

    @property
    def folder(self) -> str:
        """The change's own folder, below the root of each of its volumes."""
        return f"{LEDGER_FOLDER}/changes/{self.id}"

    def thing(self, number: int) -> Touched:
        """The thing with that id."""
        return self.things[number - 1]

    def of_volume(self, role: str) -> tuple[Touched, ...]:
        """The things on one volume."""
        return tuple(thing for thing in self.things if thing.volume == role)

    def place(self, volume: str, location: Location, *, at_end: bool) -> VolumePath:
        """Where a location is before the change, or after it."""
        if location.base == ROOT:
            return VolumePath(volume, location.path)
        if location.base == OWN:
            return VolumePath(volume, f"{self.folder}/{location.path}")
        base = self.thing(location.base)
        place = base.goal(forward=at_end)
        return self.place(volume, place, at_end=at_end).child(location.path)


def write_record(record: Record) -> bytes:
    """plan.json."""
    found = {
        "schema": SCHEMA,
        "id": record.id,
        "number": record.number,
        "title": record.title,
        "time": record.time,
        "undoes": list(record.undoes),
        "volumes": dict(record.volumes),
        "previous": dict(record.previous),
        "notes": list(record.notes),
        "steps": list(record.steps),
        "things": [thing.to_json() for thing in record.things],
        "orders": [_order_to_json(order) for order in record.orders],
        "packs": {role: index_to_json(index) for role, index in record.packs.items()},
        "spans": {str(number): _spans_to_json(levels) for number, levels in record.spans.items()},
        "kept_on": {role: keep.to_json() for role, keep in record.kept_on.items()},
    }
    if record.brought:
        found["brought"] = list(map(pack_to_json, record.brought))
    if record.wishes:
        found["wishes"] = list(map(dict, record.wishes))
    if record.unwished:
        found["unwished"] = list(record.unwished)
    body = json.dumps(found, separators=(",", ":")).encode("ascii")[:-1]
    return body + _SEAL + hashlib.sha256(body).hexdigest().encode("ascii") + b'"}\n'


def read_record(raw: bytes, at: str) -> Record:
    """What `write_record` wrote; `at` says where it lies, for the error.

    Raises:
        LedgerError: it is torn, damaged, or of a later version.
    """
    body, _, seal = raw.rpartition(_SEAL)
    if seal != hashlib.sha256(body).hexdigest().encode("ascii") + b'"}\n':
        raise LedgerError(f"the record {at} is damaged; it was left as it is", path=at)
    found = json.loads(raw)
    if found["schema"] != SCHEMA:
        raise LedgerError(f"the record {at} is of a later version of Cardwright (schema {found['schema']})")
    return Record(
        id=found["id"],
        number=found["number"],
        title=found["title"],
        time=found["time"],
        undoes=tuple(found["undoes"]),
        volumes=found["volumes"],
        previous=found["previous"],
        things=tuple(map(Touched.from_json, found["things"])),
        orders=tuple(map(_order_from_json, found["orders"])),
        packs={role: index_from_json(index) for role, index in found["packs"].items()},
        steps=tuple(found["steps"]),
        notes=tuple(found["notes"]),
        spans={int(number): _spans_from_json(levels) for number, levels in found.get("spans", {}).items()},
        kept_on={role: HostKeep.from_json(keep) for role, keep in found.get("kept_on", {}).items()},
        brought=tuple(map(pack_from_json, found.get("brought", ()))),
        wishes=tuple(map(dict, found.get("wishes", ()))),
        unwished=tuple(map(str, found.get("unwished", ()))),
    )


def _spans_to_json(levels: tuple[tuple[Span, ...], ...]) -> list[Any]:
    return [[span.to_json() for span in level] for level in levels]


def _spans_from_json(levels: Any) -> tuple[tuple[Span, ...], ...]:
    return tuple(tuple(map(Span.from_json, level)) for level in levels)


def _order_to_json(order: FolderOrder) -> list[Any]:
    return [order.volume, order.folder.to_json(), list(order.before), list(order.wanted)]


def _order_from_json(found: Any) -> FolderOrder:
    folder = Location.from_json(found[1])
    assert folder is not None
    return FolderOrder(found[0], folder, tuple(found[2]), tuple(found[3]))
