"""`[animation]` of a profile: what it may say, and what is said when it is wrong."""

from __future__ import annotations

from pathlib import Path

import practice_cards
import pytest

from workbench.card.profile import FilePattern, Profile
from workbench.card.profile_reader import parse_profile, read_profile
from workbench.errors import ProfileError

TEXT = """\
schema = 1
name = "Any"
[panel]
width = 320
height = 240
[volumes.main]
identify = ["here/"]
[[menus]]
id = "shows"
root = "main:shows"
[animation]
folder = "main:motion/{name}"
frames = { pattern = "pics/{n}.jpg", first = 1, pad = 4, width = 300, height = 200, rotate = 90 }
settings = { file = "main:motion/all.ini", format = "ini", last = "/{name}/last", rate = "/{name}/fps", loops = "/{name}/again" }
sound = { file = "main:motion/{name}/s.ogg", rate = 22050, channels = 1 }
chosen = { file = "main:conf", format = "keyvalue", at = "/plays", is = "motion/{name}", none = "" }
script = { file = "main:motion/{name}/go" }
label = { file = "main:names.json", format = "json", at = "/{name}" }
art = { file = "main:motion/{name}/art.png", size = [64, 48] }
entry = { menu = "shows", name = "{name}.show" }
draw_ms = 1.5
"""  # noqa: E501


def parse(text: str) -> Profile:
    return parse_profile(text.encode(), Path("any.toml"))


def test_a_whole_table_is_read() -> None:
    """Every key lands in its place, with the defaults that the schema gives."""
    rule = parse(TEXT).animation
    assert rule is not None and rule.settings and rule.sound and rule.chosen and rule.entry and rule.art
    assert (rule.frames.format, rule.frames.pad, rule.frames.size, rule.frames.rotate) == (
        "jpeg",
        4,
        (300, 200),
        90,
    )
    assert (rule.settings.unit, rule.settings.count) == ("fps", None)
    assert rule.settings.last is not None and rule.settings.last.fill({"name": "x"}) == "/x/last"
    assert (rule.sound.format, rule.sound.rate, rule.sound.channels) == ("ogg", 22050, 1)
    assert (rule.chosen.is_, rule.chosen.none) == ("motion/{name}", "")
    assert (rule.entry.menu, rule.entry.name, rule.art.size) == ("shows", "{name}.show", (64, 48))
    assert (rule.draw_ms, rule.delay_ms) == (1.5, None)
    assert [str(file) for file, _ in rule.manifests] == [
        "main:motion/all.ini",
        "main:conf",
        "main:names.json",
        "main:motion/{name}/go",
    ]


def test_folder_and_frames_are_enough() -> None:
    """A device without settings, sound or choice is described too; how long a frame stands is told apart."""
    short = TEXT[: TEXT.index("frames =")] + 'frames = { pattern = "{n}.png" }\ndelay_ms = 40\n'
    rule = parse(short).animation
    assert rule is not None and rule.folder == FilePattern("main", "motion/{name}")
    assert (rule.settings, rule.sound, rule.chosen, rule.script, rule.entry) == (None,) * 5
    assert (rule.frames.first, rule.frames.pad, rule.frames.format, rule.delay_ms) == (0, 0, "png", 40)


@pytest.mark.parametrize(
    ("old", "new", "key", "said"),
    [
        ("pics/{n}.jpg", "pics/x.jpg", "animation.frames.pattern", "{n} once"),
        ("pics/{n}.jpg", "{n}/x.jpg", "animation.frames.pattern", "{n} once"),
        ("pics/{n}.jpg", "../{n}.jpg", "animation.frames.pattern", "'..' is refused"),
        ("pics/{n}.jpg", "{n}.webm", "animation.frames.format", "is missing"),
        ("pics/{n}.jpg", "{n}{m}.jpg", "animation.frames.pattern", "holds {m}"),
        (", height = 200", "", "animation.frames", "both are needed"),
        ("rotate = 90", "rotate = 45", "animation.frames.rotate", "0, 90, 180 and 270"),
        ("rate =", "speed =", "animation.settings.speed", "is not a key"),
        (
            'rate = "/{name}/fps"',
            'rate = "/a", delay = "/b"',
            "animation.settings.rate",
            "stands beside delay",
        ),
        ('rate = "/{name}/fps"', 'rate = "fps"', "animation.settings.rate", "start with '/'"),
        ('format = "ini"', 'format = "ink"', "animation.settings.format", "Did you mean 'ini'?"),
        ("s.ogg", "s.flac", "animation.sound.format", "is missing"),
        ("rate = 22050", "rate = 5", "animation.sound.rate", "from 1000 to 384000"),
        ('is = "motion/{name}"', 'is = "motion"', "animation.chosen.is", "{name} once"),
        ('none = ""', "none = 1", "animation.chosen.none", "a text in quotes"),
        ('menu = "shows"', 'menu = "show"', "animation.entry.menu", "Did you mean 'shows'?"),
        ('"{name}.show"', '"x/{name}"', "animation.entry.name", "name of one entry"),
        ("[64, 48]", "[64]", "animation.art.size", "[width, height]"),
        ("draw_ms", "drawms", "animation.drawms", "Did you mean 'draw_ms'?"),
        ("main:names.json", "side:names.json", "animation.label.file", "names the volume 'side'"),
    ],
)
def test_what_is_wrong_is_said_with_its_key(old: str, new: str, key: str, said: str) -> None:
    """One mistake, one sentence: which key, what was found, what is allowed."""
    assert old in TEXT
    table = TEXT.index("[animation]")
    broken = TEXT[:table] + TEXT[table:].replace(old, new, 1)
    with pytest.raises(ProfileError) as refused:
        parse(broken)
    assert f"{key} " in refused.value.message and said in refused.value.message
    assert refused.value.line is not None


@pytest.mark.parametrize("device", practice_cards.DEVICES)
def test_every_practice_device_says_how_it_is_animated(device: str) -> None:
    """The profiles that come along describe all three."""
    assert read_profile(practice_cards.profile_path(device)).animation is not None
