"""Searches ruled files and works on what was found in each; where there are many, with another process.

What comes of a file is told in plain values. A file that asks for more than work (it cannot be read, or could
mean several entries) is searched here as well, together with everything else.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from workbench.card.entry import Entry
from workbench.card.gathering import Gathering
from workbench.card.many_names import ManyNames
from workbench.card.mention import Mention
from workbench.card.menu_reading import MenuReading, Read
from workbench.card.paths import VolumePath
from workbench.card.reference import Found, ManifestReferences
from workbench.card.ruled_files import RuledFile
from workbench.card.sharing import share
from workbench.card.sweep import Hit
from workbench.typed import Any

Work = Callable[[ManifestReferences], Any]
"""What is to be known of a manifest that names an entry, as a value that `marshal` knows."""

Done = list[tuple[VolumePath, Any]]
"""Manifests, in the order of their files, and what came of each."""

_Part = tuple[list[tuple[str, str, Any]], list[tuple[Any, ...]]]
"""Manifests with what came of each, and mentions: of one file."""


class PartSearch:
    """A search for entries of which each file's part stands for itself."""

    def __init__(
        self, reading: MenuReading, names: ManyNames, wanted: Sequence[Entry], work: Work, *, mentions: bool
    ) -> None:
        self._reading, self._names, self._wanted = reading, names, wanted
        self._work = work
        self._mentions = mentions

    def run(
        self, files: Sequence[RuledFile], find_hits: Callable[[], tuple[list[Hit], list[Hit]] | None]
    ) -> tuple[Found, Done]:
        """What was found, with no manifests in it, and what came of these.

        Args:
            find_hits: gives the `hits` of `Gathering.run`; asked once the files are done.
        """
        parts = share(files, self._do)
        read = Read()
        turns: dict[int, int] = {}
        """By document, of the files that are left to this process, the turn of its file."""
        for turn, (ruled, part) in enumerate(zip(files, parts, strict=True)):
            if part is None:
                count = len(read.files)
                self._reading.read_file(read, ruled)
                turns |= {id(one): turn for file in read.files[count:] for one, _ in file.hits}
        gathering = Gathering(self._reading, read, self._names, self._wanted)
        gathering.add_mentions(_mentions(parts))
        found = gathering.run(mentions=self._mentions, hits=find_hits())
        late: dict[int, Done] = {}
        for one in found.manifests:
            late.setdefault(turns[id(one.document)], []).append((one.at, self._work(one)))
        done = [pair for turn, part in enumerate(parts) for pair in _manifests(part) or late.get(turn, [])]
        return found.without_manifests(), done

    def _do(self, ruled: RuledFile) -> _Part | None:
        """What comes of one file; None where that is for `Gathering` to tell."""
        read = Read()
        self._reading.read_file(read, ruled)
        if read.malformed or read.unsearched:
            return None
        took = Gathering(self._reading, read, self._names, self._wanted).take_ruled(mentions=self._mentions)
        if took is None:
            return None
        manifests, mentions = took
        return (
            [(one.at.volume, one.at.path, self._work(one)) for one in manifests],
            [(one.at.volume, one.at.path, one.line, one.text, one.offset) for one in mentions],
        )


def _manifests(part: _Part | None) -> Done:
    return [(VolumePath(volume, path), came) for volume, path, came in part[0]] if part is not None else []


def _mentions(parts: Iterable[_Part | None]) -> list[Mention]:
    every = (mention for part in parts if part is not None for mention in part[1])
    return [Mention(VolumePath(volume, path), *rest) for volume, path, *rest in every]
