"""What a person should know of an animation before it is written."""

from __future__ import annotations

from fractions import Fraction

from workbench.card.animation_pace import Pace, write_number
from workbench.jobs.animate.rendered import Rendered
from workbench.jobs.animate.wish import Remedy
from workbench.media.drift import describe_drift
from workbench.media.flash_verdict import FlashVerdict
from workbench.typed import Any
from workbench.values import dataclass

FLASH_CAUTION = (
    "Flashing pictures can harm people with photosensitive epilepsy. The verdict is a screening by published "
    "thresholds (WCAG 2.2, success criterion 2.3.1), not a medical or legal clearance."
)
LOUD_CAUTION = (
    "A boot sound plays before anyone can turn it down: try it at a low volume first, and not in headphones."
)
RIGHTS_CAUTION = "Use clips, sounds and pictures that you have the right to use."

_LOUD = -16.0
"""LUFS above which a boot sound is called loud: R 128 asks for -23 in broadcasts (EBU); 7 LU more is common
practice for small speakers, no source."""


@dataclass(frozen=True, slots=True)
class AnimateReport:
    """Everything that is said before writing."""

    name: str
    frames: int
    length: Fraction
    """Seconds for all frames once."""
    pace: Pace
    pace_because: str
    bytes: int
    """On the card, in whole allocation units: everything that belongs to the animation."""
    unit: int
    """Allocation unit of the volume."""
    startup: Fraction
    """Seconds that the start takes longer: as often as it plays."""
    drift_naive_ms: float
    drift_ours_ms: float
    flash: FlashVerdict
    remedies: tuple[Remedy, ...]
    """What could be done where it flashes too much; checked again when it is taken."""
    loudness: float | None
    true_peak: float | None
    sound_length: Fraction | None
    written: int
    """Files of frames that are written."""
    kept: int
    """Frames that are there already."""
    removed: int
    """Old frames that are put away."""
    traded: tuple[str, ...]
    """What was given up for a budget or a remedy."""
    notes: tuple[str, ...]
    cautions: tuple[str, ...]

    def lines(self) -> tuple[str, ...]:
        """The report in sentences."""
        return tuple(_lines(self))

    def shape(self) -> dict[str, Any]:
        """The report as plain data; numbers as numbers, times in seconds."""
        return _shape(self)


def remedies_of(verdict: FlashVerdict) -> tuple[Remedy, ...]:
    """The remedies that the examination thinks would do."""
    if verdict.passes:
        return ()
    known: tuple[tuple[Remedy, object], ...] = (
        ("slower", verdict.slower),
        ("dimmed", verdict.dim),
        ("shortened", verdict.shorter),
    )
    return tuple(word for word, value in known if value is not None)


def cautions_of(rendered: Rendered) -> tuple[str, ...]:
    """What is always said, and what this one gives cause for."""
    said = [FLASH_CAUTION]
    if rendered.report.sound is not None:
        loudness = rendered.report.loudness
        loud = f" This one is at {loudness:.1f} LUFS, which is loud." if loudness and loudness > _LOUD else ""
        said.append(LOUD_CAUTION + loud)
    return (*said, RIGHTS_CAUTION)


def show_flash(verdict: FlashVerdict) -> str:
    """The verdict in a sentence."""
    flashes = max(verdict.general_flashes, verdict.red_flashes)
    turns = max(verdict.transitions, verdict.red_transitions)
    if verdict.passes:
        small = f"; {verdict.area:.0%} of the panel flashes more often, under a tenth" if verdict.area else ""
        return f"flashing: passes; at most {_count_turns(turns, flashes)} in any second{small}"
    second = float(verdict.first_failing_second or 0)
    return (
        f"flashing: FAILS in the second that begins at {second:.2f} s: {_count_turns(turns, flashes)}; "
        f"by {', '.join(verdict.failed)}"
    )


def _count_turns(turns: int, flashes: int) -> str:
    return f"{turns} change{'s' * (turns != 1)} ({flashes} flash{'es' * (flashes != 1)})"


def show_size(size: int) -> str:
    """Bytes for a person, in decimal multiples as cards are sold."""
    if size < 1000:
        return f"{size} bytes"
    for unit, power in (("kB", 1000), ("MB", 1000**2), ("GB", 1000**3)):
        if size < 1000 * power or unit == "GB":
            return f"{size / power:.1f} {unit}"
    raise AssertionError


def show_seconds(seconds: Fraction) -> str:
    """A time for a person: `12.25 s`."""
    return f"{write_number(round(seconds, 3))} s"


def _lines(report: AnimateReport) -> list[str]:
    delay = write_number(round(report.pace.delay * 1000, 3))
    lines = [
        f"{report.frames} frames, {show_seconds(report.length)}: one each {delay} ms "
        f"(the settings say {report.pace.describe()}; {report.pace_because})",
        f"{report.written} written, {report.kept} there already, {report.removed} old ones put away",
        f"{show_size(report.bytes)} on the card ({report.bytes:,} bytes in units of {report.unit:,})",
        f"the start takes {show_seconds(report.startup)} longer",
        _show_drift(report),
    ]
    if report.sound_length is not None:
        unknown = "not measured" if report.true_peak is None else "too short or too quiet to measure"
        loudness = unknown if report.loudness is None else f"{report.loudness:.1f} LUFS"
        peak = "" if report.true_peak is None else f", true peak {report.true_peak:.1f} dBTP"
        lines.append(f"sound: {show_seconds(report.sound_length)}, {loudness}{peak}")
    else:
        lines.append("no sound")
    lines.append(show_flash(report.flash))
    if report.remedies:
        lines.append(f"what would help: {', '.join(report.remedies)}")
    lines += [f"traded: {one}" for one in report.traded]
    return lines + list(report.notes) + [f"Caution: {one}" for one in report.cautions]


def _show_drift(report: AnimateReport) -> str:
    naive = "with every source frame shown for one delay"
    if report.sound_length is None:
        return (
            f"the last frame ends {_show_apart(report.drift_ours_ms)}; {naive}: "
            f"{_show_apart(report.drift_naive_ms)}"
        )
    return (
        f"sound and picture apart at the end: {report.drift_ours_ms:+.1f} ms; {naive}: "
        f"{describe_drift(Fraction(report.drift_naive_ms) / 1000)}"
    )


def _show_apart(drift_ms: float) -> str:
    if not round(drift_ms):
        return "with the clip"
    return f"{abs(drift_ms):.0f} ms {'after' if drift_ms > 0 else 'before'} the clip"


def _shape(report: AnimateReport) -> dict[str, Any]:
    flash = report.flash
    return {
        "name": report.name,
        "frames": report.frames,
        "length": float(report.length),
        "delay_ms": float(report.pace.delay * 1000),
        "setting": {
            "value": float(report.pace.value),
            "unit": report.pace.unit,
            "because": report.pace_because,
        },
        "bytes": report.bytes,
        "unit": report.unit,
        "startup": float(report.startup),
        "drift_ms": {"naive": report.drift_naive_ms, "ours": report.drift_ours_ms},
        "flash": {
            "passes": flash.passes,
            "second": None if flash.first_failing_second is None else float(flash.first_failing_second),
            "flashes": flash.general_flashes,
            "red_flashes": flash.red_flashes,
            "transitions": flash.transitions,
            "failed": list(flash.failed),
            "remedies": list(report.remedies),
        },
        "sound": None
        if report.sound_length is None
        else {
            "length": float(report.sound_length),
            "loudness": report.loudness,
            "true_peak": report.true_peak,
        },
        "written": report.written,
        "kept": report.kept,
        "removed": report.removed,
        "traded": list(report.traded),
        "notes": list(report.notes),
        "cautions": list(report.cautions),
    }
