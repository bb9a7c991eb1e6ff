"""One manifest under several wishes, one after the other, that become one set of edits of its first bytes.

Every wish is judged before the next one is made; an undo takes back exactly the edits given out here.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from workbench.card.paths import VolumePath
from workbench.changes.plan import Write, digest
from workbench.manifests.document import Document, Edit
from workbench.manifests.opening import edit_and_open

_Piece = tuple[int, int] | bytes
"""A span of the first bytes that is still there, or bytes that are new."""


class Reworked:
    """A document, and what has become of it."""

    def __init__(self, document: Document, at: VolumePath, variables: Mapping[str, str]) -> None:
        self.document = document
        """As it is after the wishes so far."""
        self.at = at
        self._before = document.raw
        self._variables = variables
        self._pieces: list[_Piece] = [(0, len(document.raw))]

    def do(self, wish: Callable[[Document], Sequence[Edit]]) -> None:
        """Make the edits that a wish answers.

        Raises:
            ManifestError: the wish is refused, or its edits would spoil the document; nothing is kept of it.
        """
        edits = tuple(wish(self.document))
        if not edits:
            return
        document = edit_and_open(self.document, edits, path=str(self.at), variables=self._variables)
        for edit in sorted(edits, reverse=True):
            self._splice(edit)
        self.document = document

    @property
    def edits(self) -> tuple[Edit, ...]:
        """All that was done, as edits of the bytes at the start."""
        edits: list[Edit] = []
        at, new = 0, b""
        for piece in (*self._pieces, (len(self._before), len(self._before))):
            if isinstance(piece, bytes):
                new += piece
                continue
            if piece[0] > at or new:
                edits.append(Edit(at, piece[0], new))
            at, new = piece[1], b""
        return tuple(edits)

    def write(self) -> Write | None:
        """The step that writes what has become of it; None where nothing has changed."""
        if self.document.raw == self._before:
            return None
        return Write(self.at, self.document.raw, digest(self._before), self.edits)

    def _splice(self, edit: Edit) -> None:
        head, rest = _cut(self._pieces, edit.start)
        _, tail = _cut(rest, edit.end - edit.start)
        self._pieces = [*head, *([edit.new] if edit.new else []), *tail]


def _cut(pieces: Sequence[_Piece], at: int) -> tuple[list[_Piece], list[_Piece]]:
    """The pieces before and after so many bytes; one that is cut through is in both, in part."""
    head: list[_Piece] = []
    for number, piece in enumerate(pieces):
        size = len(piece) if isinstance(piece, bytes) else piece[1] - piece[0]
        if size > at:
            if isinstance(piece, bytes):
                first: _Piece = piece[:at]
                second: _Piece = piece[at:]
            else:
                first, second = (piece[0], piece[0] + at), (piece[0] + at, piece[1])
            return [*head, *([first] if at else [])], [second, *pieces[number + 1 :]]
        head.append(piece)
        at -= size
    return head, []
