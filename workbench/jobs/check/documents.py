"""Rules about manifests themselves: malformed ones, and keys that stand twice."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from workbench.card.paths import VolumePath
from workbench.card.profile import Profile
from workbench.card.tree import Tree
from workbench.changes.plan import Plan, Write, digest
from workbench.errors import ManifestError
from workbench.jobs.check.checked_card import CheckedCard
from workbench.jobs.check.finding import Finding, Remedy
from workbench.jobs.check.manifests_read import ReadManifest
from workbench.jobs.check.rule import Rule
from workbench.late_pattern import late_pattern
from workbench.manifests.document import Format, apply_edits
from workbench.manifests.mending import propose_mend

MALFORMED = Rule("malformed-manifest", "error", "is malformed, so the device may read nothing of it")
DUPLICATE = Rule("duplicate-key", "warning", "holds one key twice, and the device may heed either")
RULES = (MALFORMED, DUPLICATE)

_KEY = late_pattern(rb"(?m)^[ \t]*([^\s=:#;\[][^=:\n]*?)[ \t]*[=:]")


def find(card: CheckedCard) -> Iterator[Finding]:
    """Every manifest that cannot be read, and those that can be read in two ways."""
    for manifest in card.manifests:
        if manifest.error is not None:
            yield _malformed(manifest)
        elif manifest.document is not None and manifest.format in ("json", "ini", "keyvalue", "xml"):
            yield from _duplicates(manifest)


def _malformed(manifest: ReadManifest) -> Finding:
    error = manifest.error
    assert error is not None
    remedy = None
    if manifest.mend is not None:
        what = manifest.mend.reason.rstrip(".")
        remedy = Remedy(what[0].lower() + what[1:], partial(_plan_mend, manifest.real, manifest.format))
    return MALFORMED.found(manifest.real, _problem(error), line=error.line, remedy=remedy)


def _problem(error: ManifestError) -> str:
    """The sentence without the place, which a finding has anyway."""
    message = error.message
    if error.path and message.startswith(error.path):
        message = message[len(error.path) :].partition(": ")[2] or message
    return message.partition(". The file was left")[0].rstrip(".")


def _plan_mend(at: VolumePath, format: Format, tree: Tree, profile: Profile) -> Plan:  # noqa: ARG001 - as every remedy
    raw = tree.read(at)
    mend = propose_mend(raw, format)
    if mend is None:
        return Plan(f"Mend {at.name}", ())
    after = apply_edits(raw, mend.edits)
    step = Write(tree.resolve(at), after, digest(raw), mend.edits)
    return Plan(f"Mend {at.name}: {mend.reason}", (step,))


def _duplicates(manifest: ReadManifest) -> Iterator[Finding]:
    """JSON says so when an edit is asked for; files of keys are gone through line by line."""
    document = manifest.document
    if manifest.format == "json":
        try:
            document.check_editable()  # type: ignore[union-attr]
        except ManifestError as error:
            problem = _problem(error).partition(" (first on line")[0]
            yield DUPLICATE.found(manifest.real, problem, line=error.line)
        return
    if manifest.format in ("ini", "keyvalue") and _may_repeat(manifest.raw, manifest.format):
        yield from _twice_in_lines(manifest)


def _may_repeat(raw: bytes, format: Format) -> bool:
    """A quick look, at C speed: whether a section holds a key twice, or a section stands twice."""
    parts = (b"\n" + raw).split(b"\n[") if format == "ini" else [raw]
    if len({part.partition(b"\n")[0] for part in parts[1:]}) != len(parts) - 1:
        return True
    return any(len(keys := _KEY.findall(part)) != len(set(keys)) for part in parts)


def _twice_in_lines(manifest: ReadManifest) -> Iterator[Finding]:
    """Keys of one section that stand twice, told by the bytes alone: a second reading would cost too much."""
    seen: set[tuple[bytes, bytes]] = set()
    section = b""
    raw = manifest.raw.removeprefix(b"\xef\xbb\xbf")
    for number, line in enumerate(raw.split(b"\n"), 1):
        text = line.strip()
        if not text or text[:1] in b"#;" or (line[:1] in b" \t" and manifest.format == "ini"):
            continue
        if manifest.format == "ini" and text[:1] == b"[":
            section = text
            continue
        key = _key_of(text, manifest.format)
        if key is None:
            continue
        if (section, key) in seen:
            name = key.decode("utf-8", "replace")
            where = f" of {section.decode('utf-8', 'replace')}" if section else ""
            yield DUPLICATE.found(manifest.real, f"the key {name!r}{where} stands twice", line=number)
        seen.add((section, key))


def _key_of(text: bytes, format: Format) -> bytes | None:
    mark = text.find(b"=")
    if format == "ini":
        colon = text.find(b":")
        mark = colon if colon >= 0 and (mark < 0 or colon < mark) else mark
    if mark < 0:
        return text if format == "ini" else None
    key = text[:mark].strip()
    return key.removeprefix(b"export ").strip() if format == "keyvalue" else key
