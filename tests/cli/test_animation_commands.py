"""`animate`, `animation` and `rehearse` on the command line."""

from __future__ import annotations

from pathlib import Path

import fake_render
import practice_cards
import pytest

from workbench.jobs import rendering


@pytest.fixture
def card(practice_card) -> Path:
    return practice_card("larkspur")


@pytest.fixture(autouse=True)
def clip(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A clip of one second, and a stand-in for what renders it."""
    monkeypatch.setattr(rendering, "render", fake_render.FakeRender(tmp_path / "renders"))
    monkeypatch.setattr(rendering, "probe", fake_render.probe)
    return fake_render.write_clip(tmp_path, duration=0.5)


def flashing(tmp_path: Path) -> Path:
    return fake_render.write_clip(tmp_path, "flash.fake", duration=0.5, flash=9)


def test_a_dry_run_says_everything_and_writes_nothing(cardwright, card, clip) -> None:
    """Report and plan; as JSON with its shape."""
    start = practice_cards.tree_bytes(card)
    answer = cardwright("animate", card, clip, "--name", "dawn", "--choose", "--dry-run")
    assert answer.code == 0 and "13 frames, 0.52 s" in answer.out and "Nothing was written." in answer.out
    assert "… 12.png" in answer.out.replace("sound.wav", "12.png") or "files)" in answer.out
    shape = cardwright("animate", card, clip, "--name", "dawn", "--dry-run", "--json").json
    assert shape["change"] is None and shape["report"]["frames"] == 13
    assert {"plan", "unruled", "conflicts", "change", "report"} <= shape.keys()
    assert practice_cards.tree_bytes(card) == start


def test_made_shown_played_undone(cardwright, card, clip, tmp_path) -> None:
    """The whole road by commands alone."""
    start = practice_cards.tree_bytes(card)
    made = cardwright(
        "animate", card, clip, "--name", "dawn", "--choose", "--author", "me", "--yes", "--json"
    )
    assert made.code == 0 and made.json["change"] == 1
    shown = cardwright("animation", card, "show", "--json").json["animations"]
    assert [(one["name"], one["chosen"], one["frames"]) for one in shown] == [
        ("dawn", True, 13),
        ("river", False, 8),
    ]
    assert shown[0]["author"] == "me" and shown[0]["problems"] == []
    assert "plays at start" in cardwright("animation", card, "show", "dawn").out
    timeline = cardwright("rehearse", card, "--json").json["scenes"]
    assert [one["kind"] for one in timeline] == ["splash", "animation", "menu"]
    assert timeline[1]["delay_ms"] == 40.0 and len(timeline[1]["frames"]) == 13
    assert cardwright("animation", card, "retime", "dawn", "--delay", "80", "--resample", "--yes").code == 0
    assert cardwright("animation", card, "show", "dawn", "--json").json["animations"][0]["delay_ms"] == 80.0
    assert cardwright("animation", card, "choose", "--none", "--yes").code == 0
    assert [one["kind"] for one in cardwright("rehearse", card, "--json").json["scenes"]] == [
        "splash",
        "menu",
    ]
    out = tmp_path / "out.gif"
    assert cardwright("animation", card, "export", "dawn", out, "--json").json["frames"] == 6
    assert out.read_bytes()[:6] == b"GIF89a"
    for _ in range(3):
        assert cardwright("undo", card, "--yes").code == 0
    assert practice_cards.tree_bytes(card) == start


def test_a_clip_that_flashes_is_not_written_by_the_way(cardwright, card, tmp_path) -> None:
    """Refused with its second and its remedies; taken with a remedy, or with plain words."""
    source = flashing(tmp_path)
    refused = cardwright("animate", card, source, "--name", "fl", "--yes")
    assert refused.code == 1 and "0.50 s" in refused.err and "--remedy dimmed" in refused.err
    assert cardwright("animate", card, source, "--name", "fl", "--dry-run").code == 0
    assert not (card / "data/house/motion/fl").exists()
    assert cardwright("animate", card, source, "--name", "fl", "--remedy", "dimmed", "--yes").code == 0
    assert cardwright("animate", card, source, "--name", "fx", "--accept-flashes", "--yes").code == 0


def test_all_options_reach_the_order(cardwright, card, clip) -> None:
    """What is typed is what is rendered."""
    words = "--start 0:00.1 --length .3 --speed 2 --crop 1,2,30,40 --fit cover --background #102030 --rate 20"
    words += " --hold .1,.2 --fade .1,.2 --colours 16 --dither ordered --loudness=-20 --dim 0.5"
    answer = cardwright("animate", card, clip, "--name", "x", *words.split(), "--dry-run", "--json")
    assert answer.code == 0
    order = rendering.render.orders[0]
    assert (float(order.start), float(order.length), order.speed, order.crop) == (0.1, 0.3, 2, (1, 2, 30, 40))
    assert (order.fit, order.background, float(order.delay)) == ("cover", (16, 32, 48), 0.05)
    assert [float(one) for one in (order.hold_start, order.hold_end, order.fade_in, order.fade_out)] == [
        0.1,
        0.2,
    ] * 2
    assert (order.frames.colours, order.frames.dither, float(order.dim)) == (16, "ordered", 0.5)
    assert order.audio is not None and order.audio.loudness == -20 and not order.silent
    cardwright("animate", card, clip, "--sound", "none", "--dry-run")
    assert rendering.render.orders[-1].silent


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--delay", "35", "--rate", "30"], "say the same"),
        (["--delay", "0"], "above 0"),
        (["--budget", "lots"], "such as 8MB or 6s"),
        (["--dim", "2"], "at most 1"),
        (["--loudness", "3"], "from -70 to 0"),
        (["--crop", "1,2"], "X,Y,WIDTH,HEIGHT"),
        (["--colours", "1"], "from 2 to 256"),
        ([], "give --yes"),
    ],
)
def test_what_is_typed_wrong_is_said(cardwright, card, clip, words: list[str], said: str) -> None:
    """Exit 2, one sentence, nothing rendered."""
    answer = cardwright("animate", card, clip, *words)
    assert answer.code == 2 and said in answer.err
    assert rendering.render.orders == []


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (["retime", "river", "--yes"], 2),
        (["choose", "--yes"], 2),
        (["choose", "river", "--none", "--yes"], 2),
        (["export", "river"], 2),
        (["mend", "river", "more", "--yes"], 2),
        (["resize", "river", "--size", "big", "--yes"], 2),
        (["show", "lake"], 1),
        (["choose", "lake", "--yes"], 1),
        (["renumber", "river"], 2),
    ],
)
def test_animation_says_what_it_needs(cardwright, card, words: list[str], code: int) -> None:
    """As JSON too."""
    answer = cardwright("animation", card, *words)
    assert (answer.code, answer.out) == (code, "") and answer.err.startswith("cardwright: ")
    assert cardwright("animation", card, *words, "--json").json["error"]["message"]


def test_the_other_acts(cardwright, card) -> None:
    """mend, renumber and resize."""
    frame = card / "data/house/motion/river/3.png"
    frame.unlink()
    shown = cardwright("animation", card, "show", "river")
    assert "problem: data:house/motion/river/3.png" in shown.out and "animation CARD mend river" in shown.out
    assert cardwright("animation", card, "mend", "river", "--yes").code == 0 and frame.exists()
    assert "Nothing needs to change." in cardwright("animation", card, "renumber", "river", "--yes").out
    assert cardwright("animation", card, "resize", "river", "--size", "64x48", "--yes").code == 0


def test_a_rehearsal_is_printed_where_there_is_no_terminal(cardwright, card) -> None:
    """Times, what is seen, and the menu in order."""
    answer = cardwright("rehearse", card)
    assert answer.code == 0 and "\x1b" not in answer.out
    assert "2.00 s to 2.32 s  river: 8 frames, 0.32 s" in answer.out and "First Light" in answer.out


def test_what_a_terminal_would_obey_is_neither_printed_nor_written(cardwright, card, clip) -> None:
    """An escape in what was typed."""
    made = cardwright("animate", card, clip, "--author", "\x1b[31mred\nend", "--yes")
    assert made.code == 0 and "\x1b" not in made.out + made.err
    settings = (card / "data/house/motion/clip/play.conf").read_text()
    assert settings.endswith("author=[31mred end\n")
