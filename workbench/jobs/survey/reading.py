"""Reads a card once for a survey: all names, and of the files only those that may be manifests.

Of many files of one sort a share is read: what a device writes a thousand times it writes alike. Media are
never opened here. Whatever cannot be read is a note.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence

from workbench.card.contents import Contents, TooLarge
from workbench.card.media_names import MEDIA
from workbench.card.name_index import index_names
from workbench.card.paths import VolumePath
from workbench.card.tree import Listing, Tree
from workbench.errors import CardError, ManifestError
from workbench.jobs.survey.places import Folder, Places
from workbench.jobs.survey.plain import Plain, read_plain
from workbench.late_pattern import late_pattern
from workbench.manifests.detection import detect_format
from workbench.manifests.document import MAX_BYTES, Format
from workbench.values import dataclass, field

_TOML_VALUE = late_pattern(rb"^[ \t]*[^\s=#;\[][^\r\n=]*=[ \t]*(?:\[|\{|[\"'])", re.MULTILINE)
"""A key with a list, a table or a quoted text."""
_SECTION = late_pattern(rb"^[ \t]*\[", re.MULTILINE)
Tell = Callable[[str, int, int], None]
"""Told what is being done, how much of it is done, and of how much (0: not known yet). May raise to stop."""

MOST_ALIKE = 400
"""Files of one sort that are read."""
_MOST_MUTE = 12
"""Files of one sort without text after which the rest are passed by."""
_MOST_BYTES = 24 * 1024 * 1024
"""Of one sort: a few large registers, or many small files."""


@dataclass(frozen=True, slots=True, eq=False)
class Manifest:
    """One file that holds texts, as data."""

    volume: str
    path: str
    format: Format
    data: Plain = field(repr=False)

    @property
    def at(self) -> VolumePath:
        return VolumePath(self.volume, self.path)


@dataclass(frozen=True, slots=True)
class Skipped:
    """A file or folder that was left aside, and why."""

    at: VolumePath
    because: str


@dataclass(frozen=True, slots=True, eq=False)
class Reading:
    """What one look at a card gave."""

    tree: Tree = field(repr=False)
    places: Places = field(repr=False)
    manifests: tuple[Manifest, ...] = field(repr=False)
    skipped: tuple[Skipped, ...]


@dataclass(slots=True, eq=False)
class _Sort:
    """How many files of one sort were read so far."""

    texts: int = 0
    mute: int = 0
    bytes: int = 0

    @property
    def is_enough(self) -> bool:
        has_many_mute = self.mute >= _MOST_MUTE and self.mute > 4 * self.texts
        return self.texts >= MOST_ALIKE or self.bytes >= _MOST_BYTES or has_many_mute


def read_card(tree: Tree, *, sample: int | None = None, tell: Tell | None = None) -> Reading:
    """Look at a card.

    Args:
        sample: of files alike in neighbouring folders, read no more than this: for a first look.
        tell: told of each folder whose files are read.

    Raises:
        CardError: it is no longer there.
    """
    index = index_names(tree)
    places = Places(index, tree.roles())
    reader = _Reader(tree, sample)
    manifests = tuple(one for folder in _watched(places.folders, tell) for one in reader.read(folder))
    closed = (one for role in tree.roles() for one in _find_closed(tree, role, index.folders(role)))
    return Reading(tree, places, manifests, (*closed, *reader.skipped))


def _watched(folders: Sequence[Folder], tell: Tell | None) -> Iterator[Folder]:
    for number, folder in enumerate(folders):
        if tell is not None:
            tell("folders read", number, len(folders))
        yield folder


def _find_closed(tree: Tree, volume: str, folders: Mapping[str, Listing]) -> Iterator[Skipped]:
    """Folders that could not be looked into: the walk has them as empty, so those are asked again."""
    for path, listing in folders.items():
        if not listing:
            try:
                tree.list(VolumePath(volume, path))
            except CardError as error:
                yield Skipped(VolumePath(volume, path), error.message)


class _Reader:
    """Chooses which files to open."""

    def __init__(self, tree: Tree, sample: int | None) -> None:
        self._sample = sample
        self._contents = Contents(tree)
        self._near: dict[tuple[str, str], dict[str, _Sort]] = {}
        """By volume and the folder above: sorts of files in folders side by side, by name and by suffix."""
        self.skipped: list[Skipped] = []

    def read(self, folder: Folder) -> Iterator[Manifest]:
        """The manifests in one folder."""
        above = folder.path.rpartition("/")[0] if folder.path else "\0"
        near = self._near.setdefault((folder.volume, above), {})
        own: dict[str, _Sort] = {}
        full: set[str] = set()
        for name, is_folder in folder.listing:
            stem, dot, suffix = name.rpartition(".")
            suffix = suffix.lower() if dot and stem else ""
            if is_folder or suffix in MEDIA or suffix in full or _is_odd(name):
                continue
            here = own.get(suffix) or own.setdefault(suffix, _Sort())
            cousins = near.get(f"/{suffix}") or near.setdefault(f"/{suffix}", _Sort())
            if here.is_enough or (cousins.mute >= 4 * _MOST_MUTE and not cousins.texts):
                full.add(suffix)
                continue
            beside = near.get(name) or near.setdefault(name, _Sort())
            if beside.is_enough:
                continue
            if self._sample is not None and max(here.texts, cousins.texts) >= self._sample:
                full.add(suffix)
                continue
            manifest = self._read_file(folder, name, (here, beside, cousins))
            if manifest is not None:
                yield manifest

    def _read_file(self, folder: Folder, name: str, sorts: tuple[_Sort, ...]) -> Manifest | None:
        path = folder.child(name)
        at = VolumePath(folder.volume, path)
        try:
            raw = self._contents.read(folder.volume, path)
        except TooLarge as large:
            if large.is_text:
                size = f"over {MAX_BYTES // 1024 // 1024} MiB"
                self.skipped.append(Skipped(at, f"text of {size} is not taken as a manifest"))
            return None
        format = _tell_format(name, raw) if raw else None
        for sort in sorts:
            sort.texts += format is not None
            sort.mute += format is None
            sort.bytes += len(raw or b"")
        if raw is None or format is None:
            return None
        try:
            return Manifest(folder.volume, path, format, read_plain(raw, format, str(at)))
        except ManifestError as error:
            self.skipped.append(Skipped(at, error.message))
        except (RecursionError, ValueError) as error:
            self.skipped.append(Skipped(at, f"it cannot be read as {format}: {error}"))
        return None


def _tell_format(name: str, raw: bytes) -> Format | None:
    """The format by content; the suffix of an INI file does not hide that its values are those of TOML."""
    format = detect_format(name, raw)
    if format == "json" and _is_record_a_line(raw):
        return "lines"
    if format in ("ini", "keyvalue") and _TOML_VALUE.search(raw):
        import tomllib

        from workbench.manifests.toml_reader import read_toml

        try:
            read_toml(raw.decode())
        except (UnicodeDecodeError, tomllib.TOMLDecodeError, RecursionError):
            return format
        return "toml"
    return "keyvalue" if format == "ini" and not _SECTION.search(raw) else format


def _is_record_a_line(raw: bytes) -> bool:
    """Whether each line is an object of its own: no JSON text as a whole (RFC 8259), but lines of records."""
    first, _, rest = raw.lstrip().partition(b"\n")
    if not first.rstrip().endswith(b"}") or rest.lstrip()[:1] != b"{":
        return False
    from workbench.jobs.survey.columns import is_record_lines

    return is_record_lines(raw.decode("utf-8-sig", "replace"))


def _is_odd(name: str) -> bool:
    """Leftovers of other hosts (`._name`), and names that are no text."""
    return name.startswith("._") or not name.isprintable()
