"""Files that hold no text, told by their suffix: they are never read in search of a name."""

from __future__ import annotations

MEDIA = frozenset(
    [
        "png",
        "jpg",
        "jpeg",
        "gif",
        "bmp",
        "webp",
        "tga",
        "tif",
        "tiff",
        "ico",
        "qoi",
        "wav",
        "mp3",
        "ogg",
        "oga",
        "opus",
        "flac",
        "m4a",
        "aac",
        "wma",
        "mid",
        "mod",
        "xm",
        "mp4",
        "m4v",
        "mkv",
        "avi",
        "mov",
        "webm",
        "mpg",
        "mpeg",
        "zip",
        "gz",
        "tgz",
        "xz",
        "zst",
        "bz2",
        "7z",
        "rar",
        "tar",
        "lz4",
        "iso",
        "img",
        "chd",
        "cue",
        "pdf",
        "ttf",
        "otf",
        "woff",
        "woff2",
        "so",
        "o",
        "a",
        "elf",
        "exe",
        "rgb",
        "bgra",
        "raw565",
    ]
)
"""Suffixes of pictures, sound, video, archives and machine code: never read in search of a name."""


def is_media(name: str) -> bool:
    """Whether the suffix says that the file holds no text."""
    dot = name.rfind(".")
    return dot >= 0 and name[dot + 1 :].lower() in MEDIA
