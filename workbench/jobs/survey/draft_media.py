"""Drafts the findings about what plays at start: splashes and the boot animation."""

from __future__ import annotations

from collections.abc import Iterator

from workbench.jobs.survey.animations import AnimationGuess, as_table
from workbench.jobs.survey.evidence import Witness
from workbench.jobs.survey.findings import Evidence, Finding
from workbench.jobs.survey.profile_text import make_line
from workbench.jobs.survey.splashes import SplashGuess
from workbench.manifests.selector import join_pointer


def draft_splash(splash: SplashGuess) -> Finding:
    kind = splash.kind
    value: dict[str, str | int | bool] = {"container": kind.container, "bits": kind.bits}
    if kind.masks in ("565", "555", "8888"):
        value["masks"] = kind.masks
    if kind.container == "bmp":
        value["rows"] = kind.rows
    if kind.gzip:
        value["gzip"] = True
    why = "its name says so" if splash.is_said else "only a guess: the name does not say"
    lines = (
        make_line("moment", splash.moment, why),
        make_line("file", str(splash.at), "a picture of the whole panel that goes with no entry"),
        make_line("kind", value, kind.describe()),
    )
    return Finding(
        f"splash.{splash.moment}",
        ("splash",),
        lines,
        f"{splash.at} is {kind.describe()}.",
        0.85 if splash.is_said else 0.3,
        (Evidence(splash.at, None, kind.describe()),),
    )


def draft_animation(guess: AnimationGuess | None, witness: Witness) -> Iterator[Finding]:
    if guess is None:
        return
    parts = guess.folder.split("/")
    folder = "/".join((*parts[:-1], "{name}")) if guess.chosen else guess.folder
    frames = guess.frames
    pattern = {"pattern": frames.pattern, "first": frames.first, "pad": frames.pad}
    lines = [
        make_line(
            "folder", f"{guess.volume}:{folder}", f"{frames.count} numbered pictures lie in {guess.folder}"
        ),
        make_line("frames", pattern, f"from {frames.name(frames.first)} on without a gap"),
    ]
    evidence: list[Evidence] = []
    if guess.settings is not None and guess.count is not None:
        settings = as_table(file=f"{guess.volume}:{folder}/{guess.settings.path.rpartition('/')[2]}")
        settings |= {"format": guess.settings.format, guess.count_key: guess.count}
        why = f"{guess.count[1:]} agrees with the {frames.count} frames"
        if guess.pace is not None:
            settings |= {"delay": guess.pace[1], "unit": guess.pace[2]}
            why += f", {guess.pace[1][1:]} is {guess.pace[3]:g}"
        lines.append(make_line("settings", settings, why))
        evidence.append(witness.of_pointer(guess.settings, guess.count, str(frames.count)))
    if guess.sound is not None:
        sound = as_table(file=f"{guess.volume}:{folder}/{guess.sound}")
        if guess.sound_shape is not None:
            sound |= {"rate": guess.sound_shape[0], "channels": guess.sound_shape[1]}
        lines.append(make_line("sound", sound, "the sound beside the frames"))
    if guess.chosen is not None:
        site, chain = guess.chosen
        chosen = {
            "file": f"{site.shape.volume}:{site.shape.pattern}",
            "format": site.shape.format,
            "at": join_pointer(list(site.tokens)),
            "is": "{name}",
        }
        lines.append(make_line("chosen", chosen, f"it says {parts[-1]}"))
        evidence.append(witness.of_chain(site, chain, parts[-1]))
    sure = 0.5 + 0.25 * (guess.chosen is not None) + 0.2 * (guess.count is not None)
    because = f"{guess.volume}:{guess.folder} holds {frames.count} numbered pictures that settings speak of."
    yield Finding("animation", ("animation",), tuple(lines), because, sure, tuple(evidence))
