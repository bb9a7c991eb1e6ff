"""Rules about scripts: CR LF line ends, a byte order mark, no interpreter line.

A script whose first line ends in CR LF is "not found" though it is there, and one that begins with a byte
order mark is no script to the kernel (measured with dash on Linux).
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from workbench.card.contents import Contents, TooLarge
from workbench.card.paths import VolumePath
from workbench.card.profile import Profile
from workbench.card.tree import Tree
from workbench.changes.plan import Edit, Plan, Write, digest
from workbench.errors import CardError
from workbench.jobs.check.checked_card import CheckedCard
from workbench.jobs.check.finding import Finding, Remedy
from workbench.jobs.check.rule import Rule
from workbench.manifests.document import apply_edits

LINE_ENDS = Rule(
    "script-line-ends", "error", "has CR LF line ends, which a shell takes for parts of its words"
)
MARK = Rule("script-byte-order-mark", "error", "begins with a byte order mark, so a device does not start it")
INTERPRETER = Rule("no-interpreter-line", "warning", "does not say on its first line which program runs it")
RULES = (LINE_ENDS, MARK, INTERPRETER)

_BOM = b"\xef\xbb\xbf"
_SUFFIX = ".sh"


def find(card: CheckedCard) -> Iterator[Finding]:
    """Every script that the profile names, and every file that is one by its suffix."""
    seen: set[VolumePath] = set()
    for manifest in card.manifests:
        if manifest.format == "shell" and manifest.real not in seen:
            seen.add(manifest.real)
            yield from _look(manifest.real, manifest.raw)
    contents = Contents(card.tree)
    for volume in card.roles:
        for folder, listing in card.folders(volume).items():
            for name, is_folder in listing:
                if name.lower().endswith(_SUFFIX) and not is_folder and not name.startswith("._"):
                    at = VolumePath(volume, f"{folder}/{name}" if folder else name)
                    if at not in seen:
                        yield from _look(at, _read(contents, at))


def _read(contents: Contents, at: VolumePath) -> bytes:
    try:
        return contents.read(at.volume, at.path) or b""
    except TooLarge:
        return b""


def _look(at: VolumePath, raw: bytes) -> Iterator[Finding]:
    if b"\0" in raw or not raw.strip():
        return
    has_mark = raw.startswith(_BOM)
    if has_mark:
        remedy = Remedy("take the mark out", partial(_plan_plain, at))
        yield MARK.found(at, "begins with a byte order mark", line=1, remedy=remedy)
    ends = raw if raw.endswith(b"\n") else raw + b"\n"
    if b"\r\n" in ends:
        line = 1 + raw.count(b"\n", 0, ends.index(b"\r\n"))
        remedy = Remedy("end its lines as a shell wants them", partial(_plan_plain, at))
        yield LINE_ENDS.found(at, "has line ends of CR LF", line=line, remedy=remedy)
    if not raw.removeprefix(_BOM).startswith(b"#!"):
        remedy = Remedy("say /bin/sh on its first line", partial(_plan_interpreter, at))
        yield INTERPRETER.found(at, "does not begin with #! and a program", line=1, remedy=remedy)


def _plan_plain(at: VolumePath, tree: Tree, profile: Profile) -> Plan:  # noqa: ARG001 - as every remedy
    """Both faults at once: a script with one of them left would not start either."""
    raw = tree.read(at)
    edits = [Edit(0, len(_BOM), b"")] if raw.startswith(_BOM) else []
    place = raw.find(b"\r\n")
    while place >= 0:
        edits.append(Edit(place, place + 1, b""))
        place = raw.find(b"\r\n", place + 1)
    if raw.endswith(b"\r"):
        edits.append(Edit(len(raw) - 1, len(raw), b""))
    return _write(tree, at, raw, edits, f"Write {at.name} as a shell reads it")


def _plan_interpreter(at: VolumePath, tree: Tree, profile: Profile) -> Plan:  # noqa: ARG001 - as every remedy
    raw = tree.read(at)
    start = len(_BOM) if raw.startswith(_BOM) else 0
    if raw[start:].startswith(b"#!"):
        return Plan(f"Say which program runs {at.name}", ())
    end = b"\r\n" if b"\r\n" in raw else b"\n"
    return _write(tree, at, raw, [Edit(start, start, b"#!/bin/sh" + end)], f"Say that /bin/sh runs {at.name}")


def _write(tree: Tree, at: VolumePath, raw: bytes, edits: list[Edit], title: str) -> Plan:
    if not edits:
        return Plan(title, ())
    try:
        real = tree.resolve(at)
    except CardError:
        real = at
    return Plan(title, (Write(real, apply_edits(raw, edits), digest(raw), tuple(edits)),))
