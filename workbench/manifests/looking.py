"""A cheap look at texts before they are read: which of them could hold what somebody looks for."""

from __future__ import annotations

from collections.abc import Callable

CouldMatch = Callable[[str], bool]
"""False for a text that nobody asks for. Where it holds for one of several texts, it has to hold for all of
them joined by line ends too: so it can be asked about many at once.
"""


def find_places(could_match: CouldMatch, text: str) -> list[int] | None:
    """Where in a text stands what could match, in order: each part that could holds one of these places.

    None where that cannot be told. One who can tell has a method `places` that answers so.
    """
    places = getattr(could_match, "places", None)
    found: list[int] | None = places(text) if places is not None else None
    return found
