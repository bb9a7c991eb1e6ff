"""Files that a host leaves behind by itself and that belong on nobody's card. Most names are from memory.

RFC 1740 describes AppleDouble: `._name` beside `name`, for volumes that cannot hold what a Mac file has
besides its bytes. Such a name alone proves nothing: it is litter if it starts with the magic, or if the
file that it belongs to is there.
"""

from __future__ import annotations

from collections.abc import Callable

APPLE_DOUBLE = bytes((0, 5, 0x16, 7))

_FILES = {
    ".ds_store": "a Mac's view settings",
    "thumbs.db": "Windows' small pictures",
    "desktop.ini": "Windows' folder settings",
    ".localized": "a Mac's folder settings",
    ".apdisk": "a Mac's note on the disk",
    ".volumeicon.icns": "a Mac's picture of the disk",
}
_FOLDERS = {
    "__macosx": "what a Mac adds to a zip",
    ".spotlight-v100": "a Mac's search index",
    ".trashes": "a Mac's bin",
    ".fseventsd": "a Mac's log",
    ".temporaryitems": "a Mac's scratch folder",
    "$recycle.bin": "Windows' bin",
    "system volume information": "Windows' own folder",
    "lost.dir": "Android's own folder",
    "found.000": "pieces that a repair of the disk put aside",
}


def find_litter(path: str, is_file: bool, head: bytes, has_file: Callable[[str], bool]) -> str:
    """What it is, in words, if a host left it there; else empty.

    Args:
        path: with `/`, as it stands on a card or in an archive.
        head: the file's first bytes.
        has_file: whether another path is there beside it.
    """
    *folders, name = path.split("/")
    for folder in folders if is_file else (*folders, name):
        if folder.casefold() in _FOLDERS:
            return _FOLDERS[folder.casefold()]
    if not is_file:
        return ""
    if name.startswith("._") and len(name) > 2:
        beside = "/".join((*folders, name[2:]))
        if head.startswith(APPLE_DOUBLE) or has_file(beside):
            return "a Mac's second half of a file"
    return _FILES.get(name.casefold(), "")
