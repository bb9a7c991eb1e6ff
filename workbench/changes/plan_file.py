"""A plan as a file: a waiting plan in the user's state folder, and the steps inside the ledger's plan.json.

What is read back is a plan like any other: it is checked again, not trusted again, when it is applied.
"""

from __future__ import annotations

import base64
import json
from collections.abc import Mapping
from typing import Any

from workbench.card.mention import Mention
from workbench.card.paths import VolumePath
from workbench.changes.plan import Conflict, Listing, Pack, Plan, content_size, digest
from workbench.changes.steps import MakeFolder, Move, Prepared, Remove, Step, Write
from workbench.changes.touched import edit_from_json, edit_to_json
from workbench.errors import LedgerError

SCHEMA = 1
_PACK_TEXTS = ("name", "version", "author", "licence", "sha256")


def write_plan_file(plan: Plan) -> bytes:
    """The whole plan, inline content included, as JSON."""
    found = {
        "schema": SCHEMA,
        "title": plan.title,
        "steps": [step_to_json(step, inline=True) for step in plan.steps],
        "unruled": [[str(one.at), one.line, one.text, one.offset] for one in plan.unruled],
        "conflicts": [[str(one.at), one.line, one.because] for one in plan.conflicts],
        "notes": list(plan.notes),
        "listings": [[str(one.folder), list(one.names)] for one in plan.listings],
        "undoes": list(plan.undoes),
        "packs": list(map(pack_to_json, plan.packs)),
        "wishes": list(map(dict, plan.wishes)),
        "unwished": list(plan.unwished),
    }
    return json.dumps(found, indent=1).encode("ascii")


def read_plan_file(raw: bytes) -> Plan:
    """The plan that `write_plan_file` wrote.

    Raises:
        LedgerError: it is not one.
    """
    try:
        found = json.loads(raw)
        if found["schema"] != SCHEMA:
            raise LedgerError(
                f"the waiting plan is of schema {found['schema']}, which this version cannot read"
            )
        return Plan(
            title=str(found["title"]),
            steps=tuple(map(step_from_json, found["steps"])),
            unruled=tuple(Mention(_place(at), line, text, off) for at, line, text, off in found["unruled"]),
            conflicts=tuple(Conflict(_place(at), line, why) for at, line, why in found["conflicts"]),
            notes=tuple(found["notes"]),
            listings=tuple(Listing(_place(at), tuple(names)) for at, names in found["listings"]),
            undoes=tuple(found["undoes"]),
            packs=tuple(map(pack_from_json, found.get("packs", ()))),
            wishes=tuple(map(dict, found.get("wishes", ()))),
            unwished=tuple(map(str, found.get("unwished", ()))),
        )
    except (ValueError, KeyError, TypeError) as error:
        raise LedgerError(
            "the waiting plan cannot be read; it was left as it is. Discard it and plan anew."
        ) from error


def step_to_json(step: Step, *, inline: bool) -> dict[str, Any]:
    """One step as plain data; without `inline`, content is told by size and hash alone."""
    match step:
        case MakeFolder(at):
            return {"step": "make-folder", "at": str(at)}
        case Move(source, to):
            return {"step": "move", "at": str(source), "to": str(to)}
        case Remove(at):
            return {"step": "remove", "at": str(at)}
        case Write():
            return _write_to_json(step, inline)


def step_from_json(found: Mapping[str, Any]) -> Step:
    """The step that `step_to_json` made with inline content."""
    at = _place(found["at"])
    match found["step"]:
        case "make-folder":
            return MakeFolder(at)
        case "move":
            return Move(at, _place(found["to"]))
        case "remove":
            return Remove(at)
        case "write":
            edits = tuple(map(edit_from_json, found["edits"]))
            return Write(at, _content_from_json(found), found["before"], edits, found["mode"])
    raise ValueError(found["step"])


def pack_to_json(pack: Pack) -> dict[str, Any]:
    """A pack as plain data."""
    texts = {name: getattr(pack, name) for name in _PACK_TEXTS}
    return texts | {"entries": list(pack.entries), "steps": pack.steps, "start": pack.start}


def pack_from_json(found: Mapping[str, Any]) -> Pack:
    """The pack that `pack_to_json` made."""
    texts = {name: str(found[name]) for name in _PACK_TEXTS}
    entries = tuple(map(str, found["entries"]))
    return Pack(**texts, entries=entries, steps=int(found["steps"]), start=int(found.get("start", 0)))


def _write_to_json(step: Write, inline: bool) -> dict[str, Any]:
    content = step.content
    found: dict[str, Any] = {"step": "write", "at": str(step.at), "before": step.before, "mode": step.mode}
    found["size"] = content_size(step)
    found["sha256"] = content.sha256 if isinstance(content, Prepared) else digest(content)
    if inline:
        found["edits"] = [edit_to_json(edit) for edit in step.edits]
        if isinstance(content, Prepared):
            found["file"] = content.file
        else:
            found["inline"] = base64.b64encode(content).decode("ascii")
    return found


def _content_from_json(found: Mapping[str, Any]) -> bytes | Prepared:
    if "file" in found:
        return Prepared(found["file"], found["size"], found["sha256"])
    return base64.b64decode(found["inline"], validate=True)


def _place(text: str) -> VolumePath:
    volume, _, path = text.partition(":")
    return VolumePath(volume, path)
