"""The card and its volumes: what they are, how much room they have, and which are absent."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from textual import work

from workbench.errors import CardwrightError
from workbench.tui.costs import size_words
from workbench.tui.line_view import LineView
from workbench.tui.lines import BLANK, Line, Piece, wrap

if TYPE_CHECKING:
    from workbench.card.volumes import Card, Volume


def card_lines(card: Card, profile_name: str | None, width: int) -> Iterator[Line]:
    """The card in a column."""
    yield Line.of((card.name, "strong"))
    yield (
        Line.of(("device profile ", "muted"), profile_name)
        if profile_name
        else Line.of(("! no device profile", "problem"))
    )
    if card.source == "device":
        yield Line.of(("this device's own card", "muted"))
    for volume in card.volumes.values():
        yield BLANK
        yield from volume_lines(volume)
    for note in card.notes:
        yield BLANK
        for part in wrap(f"! {note}", width, indent="  "):
            yield Line.of((part, "muted"))


def volume_lines(volume: Volume) -> Iterator[Line]:
    """One volume in a few lines."""
    if not volume.present:
        yield Line.of((volume.role, "strong"), ("  ! absent", "problem"))
        yield Line.of(("not here now; not empty", "muted"))
        return
    yield Line.of((volume.role, "strong"), (f"  {volume.label}", "place"))
    yield Line.of(f"{volume.filesystem or 'folder'}, {size_words(volume.free_bytes)} free")
    if volume.size_bytes:
        yield Line.of((f"of {size_words(volume.size_bytes)}", "muted"))
    yield Line.of((f"allocation unit {size_words(volume.cluster_bytes)}", "muted"))
    case = "case is ignored" if volume.host_names == "fat" else "case matters"
    yield Line.of((f"{case}{'' if volume.case_probed else ' (assumed)'}", "muted"))
    if volume.read_only:
        yield Line.of(("! read-only", "problem"))


def compact_lines(card: Card) -> Iterator[Line]:
    """Each volume in one line, for narrow terminals; the card's name stands in front of the first."""
    for number, volume in enumerate(card.volumes.values()):
        name: Piece = (f" {card.name}: " if number == 0 else "   ", "strong")
        if not volume.present:
            yield Line.of(name, (volume.role, "strong"), ("  ! absent: not here now; not empty", "problem"))
            continue
        yield Line.of(
            name,
            (volume.role, "strong"),
            (f"  {volume.label}" if volume.label else "", "place"),
            f"  {volume.filesystem or 'folder'}, {size_words(volume.free_bytes)} free",
            (f", allocation unit {size_words(volume.cluster_bytes)}", "muted"),
            ("  ! read-only", "problem") if volume.read_only else "",
        )


class CardPane(LineView):
    """Shows one card, in a column or, where there is no room for one, in a line for each volume."""

    card: Card | None = None
    profile_name: str | None = None
    alarms: Sequence[str] = ()
    """What is not as it should be, as far as it is seen at a glance."""

    def show_card(self, card: Card | None, profile_name: str | None) -> None:
        """Show this card; a new one is looked at for its health, and what is wrong is added."""
        is_new = card is not self.card
        self.card, self.profile_name = card, profile_name
        if is_new:
            self.alarms = ()
        self._redraw()
        if is_new and card is not None:
            self._look_at_health(card)

    @work(exclusive=True, group="card-health", exit_on_error=False)
    async def _look_at_health(self, card: Card) -> None:
        alarms = await asyncio.to_thread(_read_alarms, card)
        if alarms and card is self.card:
            self.alarms = alarms
            self._redraw()

    def on_resize(self) -> None:
        self._redraw()

    def _redraw(self) -> None:
        if self.card is None:
            self.show([])
        elif self.screen.has_class("-narrow"):
            self.show([*compact_lines(self.card), *alarm_lines(self.alarms[:1], self.size.width)])
        else:
            lines = list(card_lines(self.card, self.profile_name, self.size.width))
            self.show([*lines, *([BLANK] if self.alarms else []), *alarm_lines(self.alarms, self.size.width)])


def alarm_lines(alarms: Sequence[str], width: int) -> Iterator[Line]:
    """Each in as many lines as it takes."""
    for alarm in alarms:
        yield from (Line.of((part, "problem")) for part in wrap(f"! {alarm}", width or 80, indent="  "))


def _read_alarms(card: Card) -> Sequence[str]:
    """File system errors, a volume that is larger than its device, lost pieces … in sentences."""
    from workbench.card.health import read_health

    try:
        volumes = read_health(card).volumes
    except (CardwrightError, OSError):
        return ()
    return [f"{volume.role}: {alarm}" for volume in volumes for alarm in volume.alarms]
