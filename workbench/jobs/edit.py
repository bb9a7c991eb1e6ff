"""The manifest job: get, set, insert, delete and mend by pointer, in place.

Every plan here is one `Write` whose edits touch only what was asked; the result was judged again and
compared as data before the plan is returned. Nothing is written.
"""

from __future__ import annotations

import difflib
import json
from collections.abc import Callable, Iterator, Sequence

from workbench.card.globs import translate
from workbench.card.paths import VolumePath
from workbench.card.profile import FilePattern, Profile
from workbench.card.tree import Tree
from workbench.changes.plan import Plan, Write, digest
from workbench.errors import CardError, ManifestError
from workbench.manifests.detection import detect_format
from workbench.manifests.document import Document, Edit, Format, Mend, Value, apply_edits
from workbench.manifests.mending import propose_mend
from workbench.manifests.opening import edit_document, open_document
from workbench.values import dataclass


@dataclass(frozen=True, slots=True)
class Manifest:
    """One manifest of a card, as bytes and format; `open` judges it."""

    at: VolumePath
    """Where the bytes are: links followed."""
    format: Format
    raw: bytes

    def open(self) -> Document:
        """The document; `ManifestError` with line and column where it is malformed."""
        return open_document(self.raw, self.format, str(self.at))

    def mend(self) -> Mend | None:
        """The proposed repair, or None where it is well formed or nothing plain can be done."""
        return propose_mend(self.raw, self.format)


def read_manifest(tree: Tree, profile: Profile | None, at: VolumePath) -> Manifest:
    """Read a manifest; its format is the profile's where a rule names the file, else told by content.

    Raises:
        CardError: there is no such file.
        ManifestError: it is no text that we know.
    """
    if tree.stat(at) is None:
        raise CardError(f"there is no file {at}", path=str(at))
    raw = tree.read(at)
    found = _ruled_format(profile, at) or detect_format(at.name, raw)
    if found is None:
        raise ManifestError(
            f"{at} is not a manifest of a kind that Cardwright reads; nothing was changed", path=str(at)
        )
    return Manifest(tree.resolve(at), found, raw)


def _ruled_format(profile: Profile | None, at: VolumePath) -> Format | None:
    if profile is None:
        return None
    for pattern, known in ruled_files(profile):
        if pattern.volume == at.volume and _fits(pattern, at.path):
            return known
    return None


def ruled_files(profile: Profile) -> Iterator[tuple[FilePattern, Format]]:
    """Every file pattern that the profile calls a manifest, with its format."""
    for menu in profile.menus:
        for rule in menu.references:
            yield rule.file, rule.format
        if menu.label is not None:
            yield menu.label.file, menu.label.format
    if profile.animation is not None:
        yield from profile.animation.manifests


def list_manifests(tree: Tree, profile: Profile) -> tuple[VolumePath, ...]:
    """The manifests that the profile names and the card has, each once, sorted by place."""
    patterns = [pattern for pattern, _ in ruled_files(profile)]
    plain = {VolumePath(pattern.volume, pattern.path) for pattern in patterns if pattern.is_plain}
    found = {at for at in plain if at.volume in tree.roles() and tree.stat(at) is not None}
    for volume in {pattern.volume for pattern in patterns if not pattern.is_plain} & set(tree.roles()):
        wanted = [pattern for pattern in patterns if pattern.volume == volume and not pattern.is_plain]
        for item in tree.walk(VolumePath(volume, "")):
            if item.kind == "file" and any(_fits(pattern, item.at.path) for pattern in wanted):
                found.add(item.at)
    return tuple(sorted(found))


def _fits(pattern: FilePattern, path: str) -> bool:
    return translate(pattern.path, fold=True).match(path) is not None


def get_value(manifest: Manifest, pointer: str) -> Value:
    """The plain data at a pointer."""
    return manifest.open().get(pointer)


def plan_set(tree: Tree, profile: Profile | None, at: VolumePath, pointer: str, value: Value) -> Plan:
    """Give the place at a pointer another value."""
    return _plan(
        tree, profile, at, f"Set {pointer} in {at.name}", lambda doc: doc.set(pointer, value)
    ).wished("set", file=str(at), at=pointer, value=value)


def plan_insert(tree: Tree, profile: Profile | None, at: VolumePath, pointer: str, value: Value) -> Plan:
    """Add a member; the pointer's last token is its key, its index or `-`."""
    return _plan(
        tree, profile, at, f"Add {pointer} to {at.name}", lambda doc: doc.insert(pointer, value)
    ).wished("insert", file=str(at), at=pointer, value=value)


def plan_delete(tree: Tree, profile: Profile | None, at: VolumePath, pointer: str) -> Plan:
    """Take a member out."""
    return _plan(
        tree, profile, at, f"Delete {pointer} from {at.name}", lambda doc: doc.delete(pointer)
    ).wished("delete", file=str(at), at=pointer)


def plan_mend(tree: Tree, profile: Profile | None, at: VolumePath) -> Plan:
    """Make the proposed repair.

    Raises:
        ManifestError: it is well formed already, or nothing plain can be done (then with the error's line).
    """
    manifest = read_manifest(tree, profile, at)
    mend = manifest.mend()
    if mend is None:
        manifest.open()
        raise ManifestError(f"{at} is well formed; there is nothing to mend", path=str(at))
    after = apply_edits(manifest.raw, mend.edits)
    return _write(manifest, f"Mend {at.name}: {mend.reason}", mend.edits, after).wished("mend", file=str(at))


def plan_text(
    tree: Tree, profile: Profile | None, at: VolumePath, after: bytes, *, force: bool = False
) -> Plan:
    """Put another text in place of the whole manifest.

    Raises:
        ManifestError: it was well formed and would not be any more, and `force` is not given.
    """
    manifest = read_manifest(tree, profile, at)
    edits = (_whole_edit(manifest.raw, after),)
    if not force and _is_well_formed(manifest):
        edit_document(manifest.open(), edits, path=str(at))
    return _write(manifest, f"Edit {at.name}", edits, after)


def read_value(text: str) -> Value:
    """What a person typed as a value: JSON where it is JSON, else the text itself."""
    try:
        return json.loads(text)
    except ValueError:
        return text


def _is_well_formed(manifest: Manifest) -> bool:
    try:
        edit_document(manifest.open(), ())
    except ManifestError:
        return False
    return True


def _whole_edit(before: bytes, after: bytes) -> Edit:
    """The smallest single edit that turns one text into the other."""
    shorter = min(len(before), len(after))
    start = next((n for n in range(shorter) if before[n] != after[n]), shorter)
    tail = next((n for n in range(shorter - start) if before[-1 - n] != after[-1 - n]), shorter - start)
    return Edit(start, len(before) - tail, after[start : len(after) - tail])


def _plan(
    tree: Tree,
    profile: Profile | None,
    at: VolumePath,
    title: str,
    wish: Callable[[Document], Sequence[Edit]],
) -> Plan:
    manifest = read_manifest(tree, profile, at)
    document = manifest.open()
    edits = tuple(wish(document))
    return _write(manifest, title, edits, edit_document(document, edits))


def _write(manifest: Manifest, title: str, edits: tuple[Edit, ...], after: bytes) -> Plan:
    if after == manifest.raw:
        return Plan(title, (), notes=(f"{manifest.at} says so already; nothing to write.",))
    return Plan(title, (Write(manifest.at, after, digest(manifest.raw), edits),))


def show_mend(manifest: Manifest) -> list[str]:
    """The proposed repair as lines before and after, in words; empty where there is none."""
    mend = manifest.mend()
    if mend is None:
        return []
    before = manifest.raw.decode("utf-8", "surrogateescape").splitlines()
    after = apply_edits(manifest.raw, mend.edits).decode("utf-8", "surrogateescape").splitlines()
    lines = [f"{manifest.at}, line {mend.line}: {mend.reason}"]
    for tag, a, b, c, d in difflib.SequenceMatcher(None, before, after, autojunk=False).get_opcodes():
        if tag != "equal":
            lines += [f"  line {a + n + 1} is now:     {text}" for n, text in enumerate(before[a:b])]
            lines += [f"  line {c + n + 1} would be:   {text}" for n, text in enumerate(after[c:d])]
    return lines
