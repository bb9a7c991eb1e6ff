"""Lets `pathlib` be imported without `urllib.parse`, which brings a reader of network addresses along.

Before Python 3.13 pathlib imports it for `Path.as_uri` alone, and that costs a short command as much as
pathlib itself. Here it is imported when that method is first called. On other versions, or where either is
loaded already, nothing is done.
"""

from __future__ import annotations

import sys

_NAME = "urllib.parse"


def load_pathlib() -> None:
    """Import pathlib; what it takes from `urllib.parse` comes later."""
    if "pathlib" in sys.modules or _NAME in sys.modules or sys.version_info >= (3, 13):
        return
    stand_in = type(sys)(_NAME)
    stand_in.quote_from_bytes = _quote_from_bytes  # type: ignore[attr-defined]
    sys.modules[_NAME] = stand_in
    try:
        import pathlib  # noqa: F401
    except ImportError:
        return  # it wants more of it: whoever imports pathlib gets it in the usual way
    finally:
        del sys.modules[_NAME]


def _quote_from_bytes(content: bytes, safe: str | bytes = "/") -> str:
    from urllib.parse import quote_from_bytes

    return quote_from_bytes(content, safe)
