"""The form's lines and the wish that they come to."""

from __future__ import annotations

import argparse
from fractions import Fraction
from pathlib import Path

import practice_cards
import pytest

from workbench.card.profile_reader import read_profile
from workbench.cli import animate
from workbench.errors import CardwrightError
from workbench.tui.animate_form import FIELDS, fault_of, wish_of
from workbench.tui.animating import read_pace_text

PROFILE = read_profile(practice_cards.profile_path("larkspur"))

SAME: list[tuple[dict[str, str], list[str]]] = [
    ({}, []),
    (
        {"name": "dusk", "label": "Dusk; $(rm)", "author": "me"},
        ["--name=dusk", "--label=Dusk; $(rm)", "--author=me"],
    ),
    ({"start": "1:30", "length": "2.5", "speed": "2"}, ["--start=1:30", "--length=2.5", "--speed=2"]),
    (
        {"crop": "1,2,30,40", "fit": "cover", "background": "#102030"},
        ["--crop=1,2,30,40", "--fit=cover", "--background=#102030"],
    ),
    ({"rate": "24 fps"}, ["--rate=24"]),
    ({"rate": "35ms"}, ["--delay=35"]),
    ({"rate": "35"}, ["--delay=35"]),
    ({"hold": "0.5,1", "fade": "0.25", "dim": "0.5"}, ["--hold=0.5,1", "--fade=0.25", "--dim=0.5"]),
    ({"sound": "none"}, ["--sound=none"]),
    ({"sound": "/a/b.wav", "loudness": "-23"}, ["--sound=/a/b.wav", "--loudness=-23"]),
    (
        {"budget": "8MB,6s", "colours": "64", "dither": "ordered"},
        ["--budget=8MB,6s", "--colours=64", "--dither=ordered"],
    ),
    ({"loops": "3", "art": "7", "choose": "yes"}, ["--loops=3", "--art-frame=7", "--choose"]),
]


@pytest.mark.parametrize(("lines", "options"), SAME)
def test_a_line_says_what_an_option_of_the_command_says(lines: dict[str, str], options: list[str]) -> None:
    """The same words come to the same wish on both faces; without a name, the clip's own."""
    parser = argparse.ArgumentParser()
    animate.add_arguments(parser)
    named = options if any(one.startswith("--name") for one in options) else [*options, "--name=clip"]
    wanted = animate.read_wish(parser.parse_args(["CARD", "/c/clip.mp4", *named]))
    assert wish_of({"source": "/c/clip.mp4", **lines}, PROFILE, None) == wanted


def test_the_remedy_and_the_home_folder(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HOME", "/home/me")
    wish = wish_of({"source": "~/a.gif", "name": ""}, PROFILE, "dimmed")
    assert (wish.source, wish.name, wish.remedy) == (Path("/home/me/a.gif"), "a", "dimmed")


@pytest.mark.parametrize(
    ("key", "text"),
    [
        ("start", "soon"),
        ("rate", "0"),
        ("rate", "fps"),
        ("dim", "2"),
        ("loudness", "3"),
        ("colours", "1"),
        ("crop", "1,2,3"),
        ("background", "no such colour"),
        ("budget", "much"),
        ("hold", "1,2,3"),
    ],
)
def test_a_wrong_line_is_named_in_a_sentence(key: str, text: str) -> None:
    """While it is typed, and when it is rendered all the same; an empty one is right."""
    fault = fault_of(key, text)
    assert fault and len(fault) > 15
    assert fault_of(key, " ") is None
    with pytest.raises(CardwrightError):
        wish_of({"source": "/c/clip.mp4", key: text}, PROFILE, None)


def test_no_clip_is_said_before_anything_is_done() -> None:
    with pytest.raises(CardwrightError, match="no clip is chosen yet"):
        wish_of({}, PROFILE, None)


def test_every_line_is_known_once() -> None:
    keys = [one.key for one in FIELDS]
    assert len(set(keys)) == len(keys)
    assert all(one.word and one.otherwise for one in FIELDS)


@pytest.mark.parametrize(
    ("text", "seconds"),
    [("35", "35/1000"), ("12.5 ms", "12.5/1000"), ("24 fps", "1/24"), ("30000/1001 FPS", "1001/30000")],
)
def test_a_pace_is_a_time_or_a_rate(text: str, seconds: str) -> None:
    upper, _, lower = seconds.partition("/")
    assert read_pace_text(text) == Fraction(upper) / Fraction(lower)
