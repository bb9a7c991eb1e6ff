"""Pillow's base of all readers without the package `logging`, which it brings along for one line.

`PIL.ImageFile` comes in with the first picture that is written, and logs only where closing a file fails.
The package takes longer to be imported than a splash takes to be turned; it comes when something is logged.
"""

from __future__ import annotations

import sys
from typing import Any

_NAME = "logging"


def load_image_files() -> None:
    """Import `PIL.ImageFile`; where it or `logging` is loaded already, nothing is left to do."""
    if _NAME in sys.modules or "PIL.ImageFile" in sys.modules:
        return
    stand_in = type(sys)(_NAME)
    stand_in.getLogger = _LateLogger  # type: ignore[attr-defined]
    sys.modules[_NAME] = stand_in
    try:
        import PIL.ImageFile  # noqa: F401
    except (ImportError, AttributeError):
        return  # it wants more of it: whoever imports it gets it in the usual way
    finally:
        del sys.modules[_NAME]


class _LateLogger:
    """Passes everything on to the logger of that name."""

    def __init__(self, name: str) -> None:
        self._name = name

    def __getattr__(self, attribute: str) -> Any:
        import logging

        return getattr(logging.getLogger(self._name), attribute)
