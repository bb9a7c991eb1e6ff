"""Says on which line of a file something stands, for a person to look it up."""

from __future__ import annotations

from workbench.errors import CardError, ManifestError
from workbench.jobs.survey.findings import Evidence
from workbench.jobs.survey.plain import LINES, WORDS
from workbench.jobs.survey.reading import Manifest, Reading
from workbench.jobs.survey.sites import Chain, Site
from workbench.manifests.document import Document
from workbench.manifests.selector import split_pointer

_EXACT = 128 * 1024
"""Larger files are not opened once more to name a line: the text is looked for in their bytes."""
_MOST_OPEN = 32


class Witness:
    """Looks up lines; remembers the files that it opened."""

    def __init__(self, reading: Reading) -> None:
        self._reading = reading
        self._open: dict[Manifest, tuple[bytes, Document | None]] = {}

    def of_chain(self, site: Site, chain: Chain, words: str) -> Evidence:
        """The place of one sample of a site."""
        manifest = site.shape.manifests[site.file_of(chain)]
        return self.of_pointer(manifest, site.pointer_of(chain), words)

    def of_pointer(self, manifest: Manifest, pointer: str, words: str) -> Evidence:
        """The place of a value in a manifest."""
        return Evidence(manifest.at, self._line(manifest, pointer, words), words)

    def _line(self, manifest: Manifest, pointer: str, words: str) -> int | None:
        if manifest not in self._open:
            if len(self._open) >= _MOST_OPEN:
                self._open.clear()
            self._open[manifest] = self._read(manifest)
        raw, document = self._open[manifest]
        if document is not None:
            try:
                return document.line_of(_own_pointer(pointer))
            except (ManifestError, IndexError, ValueError):
                pass
        place = raw.find(words.encode("utf-8", "surrogateescape"))
        return raw.count(b"\n", 0, place) + 1 if place >= 0 else None

    def _read(self, manifest: Manifest) -> tuple[bytes, Document | None]:
        from workbench.manifests.opening import open_document

        try:
            raw = self._reading.tree.read(manifest.at)
            if len(raw) > _EXACT or manifest.format == "lines":
                return raw, None
            return raw, open_document(raw, manifest.format, str(manifest.at))
        except (CardError, ManifestError):
            return b"", None


def _own_pointer(pointer: str) -> str:
    """The pointer as the document has it: lines are counted without their token."""
    tokens = split_pointer(pointer)
    if tokens[:1] == (LINES,):
        return f"/{tokens[-1]}"
    return f"/{WORDS}/{tokens[-1]}" if tokens[:1] == (WORDS,) else pointer
