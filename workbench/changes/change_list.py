"""The volumes of a card as grounds, and which changes lie on them; reads no change's record."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator, Mapping, Sequence

from workbench.card.paths import LEDGER_FOLDER
from workbench.changes.ground import Ground, explain
from workbench.changes.marks import read_state
from workbench.errors import CardError
from workbench.late_pattern import late_pattern
from workbench.shown import shown
from workbench.typed import TYPE_CHECKING

if TYPE_CHECKING:
    from workbench.card.volumes import Card, Volume

CHANGES = f"{LEDGER_FOLDER}/changes"
RECENT = 3
"""An unfinished change blocks every later one, so it is among the last few."""
_CHANGE_NAME = late_pattern(r"(\d{4,})-[0-9a-f]{6}")


@contextlib.contextmanager
def open_grounds(volumes: Sequence[Volume]) -> Iterator[dict[str, Ground]]:
    """The files of these volumes, by role.

    Raises:
        CardError: one is not there.
    """
    with contextlib.ExitStack() as held:
        grounds: dict[str, Ground] = {}
        for volume in volumes:
            try:
                ground = Ground(
                    volume.role,
                    volume.root,
                    fat=volume.host_names == "fat",
                    filesystem=volume.filesystem,
                )
            except OSError as error:
                raise CardError(
                    f"the volume {shown(volume.role)} at {shown(str(volume.root))} cannot be opened: "
                    f"{explain(error)}. Nothing was changed.",
                    path=f"{volume.role}:",
                ) from error
            grounds[volume.role] = held.enter_context(ground)
        yield grounds


def list_changes(ground: Ground) -> list[str]:
    """Ids of the changes on one volume, by number."""
    try:
        names = ground.names(CHANGES)
    except OSError:
        return []
    return sorted((name for name in names if _CHANGE_NAME.fullmatch(name)), key=lambda n: (number_of(n), n))


def number_of(change: str) -> int:
    """The number in a change's id."""
    return int(change.partition("-")[0])


def are_all_at_end(card: Card) -> bool:
    """Whether the marks alone say that no change is unfinished: the last few are at an end on each volume.

    A shortcut: where it says no, `recover.find_unfinished` reads the records and knows.
    """
    with open_grounds(card.present) as grounds:
        return _are_at_end(grounds)


def _are_at_end(grounds: Mapping[str, Ground]) -> bool:
    return all(
        read_state(ground, f"{CHANGES}/{change}/marks", change) in ("done", "back")
        for ground in grounds.values()
        for change in list_changes(ground)[-RECENT:]
    )
