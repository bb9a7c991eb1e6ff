"""Pillow's tables of Exif and TIFF tags, left unread until a picture's tags are asked for.

Pillow imports them with its first picture, and few pictures have any; that takes longer than decoding most.
The standard library can put a module off until it is first asked (`importlib.util.LazyLoader`), but two
threads that ask at once may find it empty (before Python 3.12): so this is for commands, which have one.
"""

from __future__ import annotations

import importlib.util
import sys

_TABLES = ("ExifTags", "TiffTags")


def postpone_tag_tables() -> None:
    """Put them off, before Pillow's first picture; once that is there, nothing is left to do."""
    import PIL

    for name in _TABLES:
        full = f"PIL.{name}"
        spec = importlib.util.find_spec(full) if full not in sys.modules else None
        if spec is None or spec.loader is None:
            continue
        spec.loader = importlib.util.LazyLoader(spec.loader)
        table = importlib.util.module_from_spec(spec)
        sys.modules[full] = table
        spec.loader.exec_module(table)
        setattr(PIL, name, table)  # where `from . import` finds it, without a look into it
