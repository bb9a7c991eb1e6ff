"""The manifests that one plan edits or makes, each opened once and written once.

A new file starts from a given text; whatever is put in is judged by its format before anyone gets it.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import Any

from workbench.card.animations import is_file
from workbench.card.paths import VolumePath
from workbench.card.profile import Profile
from workbench.card.tree import Tree
from workbench.changes.plan import Step, Write
from workbench.errors import ManifestError
from workbench.jobs.placing import delete, has_place, put_text
from workbench.jobs.reworking import Reworked
from workbench.manifests.document import Document, Edit, Format
from workbench.manifests.opening import open_document

_NOTHING: dict[Format, bytes] = {"json": b"{}\n", "shell": b"#!/bin/sh\n"}
"""What a new file of that format starts from; nothing at all where it is not named. XML has to be given."""


class Sheet:
    """One manifest on its way."""

    def __init__(
        self, tree: Tree, profile: Profile, at: VolumePath, format: Format, start: bytes | None
    ) -> None:
        self.is_new = not is_file(tree, at)
        self.at = at if self.is_new else tree.resolve(at)
        raw = (_start(at, format) if start is None else start) if self.is_new else tree.read(at)
        self._reworked = Reworked(
            open_document(raw, format, str(at), profile.variables), self.at, profile.variables
        )

    @property
    def document(self) -> Document:
        """As it is by now."""
        return self._reworked.document

    def put(self, pointer: str, value: Any) -> None:
        """Make the place hold the value, in the sort of value that stands there already.

        Raises:
            ManifestError: the format cannot hold it, or nothing can be made there.
        """
        if has_place(self.document, pointer):
            old = self.document.get(pointer)
            if _is_same(old, value):
                return
            wanted = str(value) if isinstance(old, str) else value
        else:
            wanted = value
        self._reworked.do(lambda document: _put(document, pointer, wanted))

    def drop(self, pointer: str) -> None:
        """Take the place out, where it is there."""
        if has_place(self.document, pointer):
            self._reworked.do(lambda document: delete(document, pointer))

    def write(self) -> Write | None:
        """The step for it; None where nothing has changed."""
        if self.is_new:
            return Write(self.at, self.document.raw, None)
        return self._reworked.write()


class Sheets:
    """All manifests of one plan."""

    def __init__(self, tree: Tree, profile: Profile) -> None:
        self._tree = tree
        self._profile = profile
        self._open: dict[VolumePath, Sheet] = {}

    def open(self, at: VolumePath, format: Format, start: bytes | None = None) -> Sheet:
        """The manifest at that place; `start` is the whole of a new one.

        Raises:
            ManifestError: it is malformed, or a new one of that format cannot be made from nothing.
        """
        if at not in self._open:
            self._open[at] = Sheet(self._tree, self._profile, at, format, start)
        return self._open[at]

    def steps(self) -> list[Step]:
        """A write for each that has changed."""
        return [write for sheet in self._open.values() if (write := sheet.write()) is not None]


def as_value(number: Fraction, format: Format) -> int | float | str:
    """A number as the format holds it: a number where it knows numbers, else as text, written shortest."""
    from workbench.card.animation_pace import write_number

    if format not in ("json", "toml"):
        return write_number(number)
    return int(number) if number.denominator == 1 else float(write_number(number))


def _start(at: VolumePath, format: Format) -> bytes:
    if format == "xml":
        raise ManifestError(
            f"{at} is not there, and the profile has no template for it; nothing was changed. "
            "Give one in the profile, or put the file on the card first.",
            path=str(at),
        )
    return _NOTHING.get(format, b"")


def _put(document: Document, pointer: str, value: Any) -> Sequence[Edit]:
    return put_text(document, pointer, value)


def _is_same(old: Any, value: Any) -> bool:
    """Whether a file may stay as it is: `12.50` says what `12.5` says."""
    from workbench.card.animation_pace import read_number

    if old == value and type(old) is type(value):
        return True
    if isinstance(value, bool) or isinstance(old, bool):
        return False
    one, other = read_number(old), read_number(value)
    return one is not None and one == other
