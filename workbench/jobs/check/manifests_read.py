"""Every manifest that a profile names, read and judged once for all rules of a check.

One that is malformed and has a plain mend is read as it would be after the mend: what is wrong inside it is
found before it is mended, not only afterwards.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from workbench.card.contents import Contents, TooLarge
from workbench.card.name_index import NameIndex
from workbench.card.paths import VolumePath
from workbench.card.profile import FilePattern, MenuRule, Profile, ReferenceRule
from workbench.card.ruled_files import find_files, follow_link
from workbench.card.tree import Tree
from workbench.errors import CardError, ManifestError
from workbench.manifests.document import Document, Format, Mend, apply_edits
from workbench.manifests.mending import propose_mend
from workbench.manifests.opening import open_document
from workbench.values import dataclass, field

Ruled = tuple[MenuRule, ReferenceRule, Mapping[str, str]]
"""A rule of a menu, and what its file pattern bound."""


@dataclass(slots=True)
class ReadManifest:
    """One manifest in one format."""

    at: VolumePath
    """Where the profile's pattern finds it."""
    real: VolumePath
    """Where it lies, a link followed."""
    format: Format
    raw: bytes
    rules: list[Ruled] = field(default_factory=list)
    is_label_file: bool = False
    document: Document | None = None
    """As it is, or as it would be once mended; None where it cannot be read."""
    error: ManifestError | None = None
    mend: Mend | None = None


def read_manifests(tree: Tree, profile: Profile, index: NameIndex) -> tuple[ReadManifest, ...]:
    """All of them, by place."""
    found: dict[tuple[VolumePath, Format], ReadManifest] = {}
    contents = Contents(tree)
    for at, format, ruled in _list_wanted(profile, index):
        key = at, format
        if key not in found:
            found[key] = _read(tree, profile, contents, at, format)
        if ruled is None:
            found[key].is_label_file = True
        else:
            found[key].rules.append(ruled)
    return tuple(found[key] for key in sorted(found, key=lambda one: (one[0], one[1])))


def _list_wanted(profile: Profile, index: NameIndex) -> Iterator[tuple[VolumePath, Format, Ruled | None]]:
    for menu in profile.menus:
        for rule in menu.references:
            for at, bindings in _find(profile, index, rule.file):
                yield at, rule.format, (menu, rule, bindings)
        if menu.label is not None:
            for at, _ in _find(profile, index, menu.label.file):
                yield at, menu.label.format, None
    if profile.animation is not None:
        for pattern, format in profile.animation.manifests:
            for at, _ in _find(profile, index, pattern):
                yield at, format, None


def _find(
    profile: Profile, index: NameIndex, pattern: FilePattern
) -> Iterator[tuple[VolumePath, Mapping[str, str]]]:
    if pattern.volume in profile.volumes:
        yield from find_files(index, pattern, profile.volumes[pattern.volume].names)


def _read(tree: Tree, profile: Profile, contents: Contents, at: VolumePath, format: Format) -> ReadManifest:
    real = at
    try:
        raw = contents.read(at.volume, at.path)
        if raw is None:
            real = follow_link(tree, at)
            raw = tree.read(real)
    except TooLarge:
        error = ManifestError("it is too large to be a manifest, and was not read", path=str(at))
        return ReadManifest(at, real, format, b"", error=error)
    except CardError as unreadable:
        error = ManifestError(unreadable.message, path=str(at))
        return ReadManifest(at, real, format, b"", error=error)
    read = ReadManifest(at, real, format, raw)
    text = clean_script(raw) if format == "shell" else raw
    try:
        read.document = open_document(text, format, str(at), profile.variables)
        _judge_script(read.document)
    except ManifestError as malformed:
        read.error = malformed
        read.mend = propose_mend(raw, format)
        if read.mend is not None:
            mended = apply_edits(raw, read.mend.edits)
            read.document = open_document(mended, format, str(at), profile.variables)
    return read


def clean_script(raw: bytes) -> bytes:
    """A script without a byte order mark, its lines ended by LF: a rule of its own finds these."""
    return raw.removeprefix(b"\xef\xbb\xbf").replace(b"\r\n", b"\n").removesuffix(b"\r")


def _judge_script(document: Document) -> None:
    """Opening a script judges nothing: where the grammar sees an error, the shell decides."""
    if document.format == "shell" and document.has_doubts:  # type: ignore[attr-defined]
        document.check_editable()  # type: ignore[attr-defined]
