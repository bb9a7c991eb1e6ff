"""The start of a device in lines: a line for each scene, and what is to be said of one."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.tui.lines import BLANK, Line, wrap

if TYPE_CHECKING:
    from workbench.jobs.rehearsal import Rehearsal, Scene


def scene_line(scene: Scene) -> Line:
    """When it begins and what is seen."""
    end = "stays" if scene.length is None else f"{float(scene.length):.2f} s"
    return Line.of(
        (f"{float(scene.start):8.2f} s  ", "muted"), (scene.title, "strong"), right=[(end, "muted")]
    )


def scene_lines(rehearsal: Rehearsal, scene: Scene, width: int) -> list[Line]:
    """What belongs to one scene, and what is not known of the whole."""
    lines = [Line.of(line) for line in scene.lines]
    if scene.sound:
        lines.append(Line.of(("with the sound ", "muted"), (scene.sound, "place")))
    if scene.delay is not None:
        lines.append(Line.of(f"{float(scene.delay * 1000):g} ms", (" a frame", "muted")))
    if rehearsal.notes:
        lines += [BLANK] if lines else []
        lines += [Line.of((part, "muted")) for note in rehearsal.notes for part in wrap(note, width)]
    return lines
