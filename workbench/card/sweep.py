"""Looks through the many files that no rule covers, for a few byte strings."""

from __future__ import annotations

import codecs
from collections.abc import Iterable, Iterator, Sequence

from workbench.card.contents import Contents, TooLarge
from workbench.card.media_names import is_media
from workbench.card.tree import Listing

Folder = tuple[str, str, Sequence[str]]
"""Volume, folder, and the names in it."""

Hit = tuple[str, str]
"""Volume and path."""


def make_needles(name: str) -> tuple[bytes, bytes]:
    """The name as text files hold it, and in UTF-16, as some programs keep text in binary files."""
    # Asked for by its function, the codec needs no module of its own to be imported.
    return name.encode("utf-8", "surrogateescape"), codecs.utf_16_le_encode(name, "surrogatepass")[0]


def sweep(contents: Contents, folders: Iterable[Folder], needles: Sequence[bytes]) -> Iterator[Hit]:
    """The files that hold one of the needles or are too large to tell, in the order given."""
    for volume, folder, names in folders:
        prefix = f"{folder}/" if folder else ""
        for name, raw in contents.read_folder(volume, folder, names):
            if isinstance(raw, TooLarge):
                yield volume, prefix + name
                continue
            for needle in needles:
                if needle in raw:
                    yield volume, prefix + name
                    break


def list_texts(listing: Listing) -> list[str]:
    """The files of a folder that may hold text."""
    return [name for name, is_folder in listing if not (is_folder or is_media(name))]
