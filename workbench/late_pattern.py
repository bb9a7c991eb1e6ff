"""Regular expressions that are compiled when they are first asked, not when a module is imported.

Compiling one takes a fraction of a millisecond; a short command imports dozens and asks few of them.
"""

from __future__ import annotations

import re

from workbench.typed import Any, AnyStr, cast


def late_pattern(source: AnyStr, flags: int = 0) -> re.Pattern[AnyStr]:
    """As `re.compile`; a source that is malformed is found out when the pattern is first used."""
    return cast("re.Pattern[AnyStr]", _LatePattern(source, flags))


class _LatePattern:
    """Passes everything on to the pattern that it makes."""

    def __init__(self, source: str | bytes, flags: int) -> None:
        self._source = source
        self._flags = flags

    def __getattr__(self, name: str) -> Any:
        found = getattr(re.compile(self._source, self._flags), name)
        # From now on the pattern's own method answers, without a detour.
        setattr(self, name, found)
        return found
