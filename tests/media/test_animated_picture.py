"""Animated GIF, PNG and WebP need no package but Pillow."""

from __future__ import annotations

from fractions import Fraction

import pytest
from PIL import Image

from workbench.errors import MediaError
from workbench.media import animated_picture

COLOURS = [(255, 0, 0), (0, 255, 0), (0, 0, 255), (255, 255, 0)]


def animate(path, durations, size=(64, 48), **wishes):
    """One full picture of one colour for each duration."""
    pictures = [Image.new("RGB", size, COLOURS[index % 4]) for index in range(len(durations))]
    pictures[0].save(path, save_all=True, append_images=pictures[1:], duration=durations, loop=0, **wishes)
    return path


def colours_of(report, folder, at=(5, 5)):
    return [Image.open(folder / file.name).convert("RGB").getpixel(at) for file in report.frames]


@pytest.mark.parametrize("suffix", ["gif", "png", "webp"])
def test_pictures_stand_as_long_as_they_say(suffix, render, tmp_path):
    """40, 120 and 80 ms at 40 ms a frame: one, three and two frames."""
    wishes = {"lossless": True} if suffix == "webp" else {}
    report, folder = render(animate(tmp_path / f"clip.{suffix}", [40, 120, 80], **wishes))
    red, green, blue = COLOURS[:3]
    assert colours_of(report, folder) == [red, green, green, green, blue, blue]
    assert (report.facts.kind, report.facts.duration, report.facts.variable) == (
        "animated",
        Fraction(6, 25),
        True,
    )


def test_a_picture_that_goes_back_to_what_was_before(render, tmp_path):
    """GIF's disposal 2 clears a picture's own part, so its mark is gone under the next one."""
    pictures = []
    for mark in (None, (0, 0), (32, 24), None):
        picture = Image.new("RGBA", (64, 48), (0, 0, 0, 0))
        if mark:
            picture.paste((255, 255, 255, 255), (*mark, mark[0] + 16, mark[1] + 16))
        pictures.append(picture)
    path = tmp_path / "marks.gif"
    pictures[0].save(path, save_all=True, append_images=pictures[1:], duration=40, disposal=2)
    report, folder = render(path, background=(0, 0, 90))
    assert [colour[0] for colour in colours_of(report, folder, (8, 8))] == [0, 255, 0, 0]
    assert [colour[0] for colour in colours_of(report, folder, (40, 30))] == [0, 0, 255, 0]
    assert colours_of(report, folder, (60, 2))[0] == (0, 0, 90)


def test_durations_that_were_not_meant(render, tmp_path):
    """0 ms stands for 100 ms, as browsers show it, and a note says so."""
    report, _ = render(animate(tmp_path / "fast.gif", [0, 0, 0]))
    assert report.length == Fraction(8, 25)
    assert "100 ms" in report.notes[0]


def test_a_torn_file_shows_what_is_whole(render, tmp_path):
    """Half a GIF shows its first pictures; a note names how many."""
    pictures = [Image.effect_noise((64, 48), 80).convert("RGB") for _ in range(6)]
    path = tmp_path / "torn.gif"
    pictures[0].save(path, save_all=True, append_images=pictures[1:], duration=40)
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    report, _ = render(path)
    assert 1 <= report.count < 6
    assert any("torn after picture" in note for note in report.notes)


def test_an_endless_file_is_refused(render, tmp_path, monkeypatch):
    """More pictures than any animation has: one sentence, before anything is drawn."""
    monkeypatch.setattr(animated_picture, "MAX_PICTURES", 3)
    with pytest.raises(MediaError, match="more than 3 pictures"):
        render(animate(tmp_path / "endless.gif", [40] * 5))


def test_a_bomb_is_refused(render, tmp_path):
    """A GIF that claims 65,535 × 65,535 pixels is not opened."""
    small = animate(tmp_path / "small.gif", [40, 40]).read_bytes()
    (tmp_path / "bomb.gif").write_bytes(small[:6] + b"\xff\xff\xff\xff" + small[10:])
    with pytest.raises(MediaError, match=r"bomb\.gif is not used: .*(pixels|bomb)"):
        render(tmp_path / "bomb.gif")


@pytest.mark.parametrize("content", [b"", b"GIF89a", b"no picture at all", b"\x89PNG\r\n\x1a\nxx"])
def test_what_is_no_clip_is_refused_in_one_sentence(content, render, tmp_path):
    """Each names the file and says that nothing was made."""
    pytest.importorskip("av")
    (tmp_path / "clip.gif").write_bytes(content)
    with pytest.raises(MediaError, match=r"clip\.gif is not used: .* Nothing was made") as refusal:
        render(tmp_path / "clip.gif")
    assert "\n" not in refusal.value.message


def test_a_video_without_the_extra_says_what_to_install(render, tmp_path, monkeypatch):
    """Animated pictures and folders go on working; the sentence names the extra."""
    monkeypatch.setitem(__import__("sys").modules, "av", None)
    (tmp_path / "clip.mp4").write_bytes(b"\0\0\0\x18ftypmp42" + bytes(64))
    with pytest.raises(MediaError, match=r"pip install .cardwright\[clip\]"):
        render(tmp_path / "clip.mp4")


def test_nothing_but_pillow_is_needed(tmp_path):
    """A GIF becomes frames where numpy, av and isal cannot be imported, with the same pixels."""
    import subprocess
    import sys

    animate(tmp_path / "clip.gif", [40, 40])
    (tmp_path / "made").mkdir()
    script = (
        "import sys\n"
        "for name in ('numpy', 'av', 'isal'): sys.modules[name] = None\n"
        "from pathlib import Path; from fractions import Fraction\n"
        "from workbench.media.render_order import RenderOrder, FrameFormat\n"
        "from workbench.media.rendering import render\n"
        f"folder = Path({str(tmp_path)!r})\n"
        "order = RenderOrder(folder / 'clip.gif', (32, 32), Fraction(1, 25))\n"
        "report = render(order, folder / 'made', lambda done, total: None)\n"
        "assert report.count == 2 and report.sound is None, report\n"
    )
    subprocess.run([sys.executable, "-c", script], check=True, timeout=60)
    assert Image.open(tmp_path / "made" / "1.png").convert("RGB").getpixel((16, 16)) == (0, 255, 0)
