"""A clip is rendered and looked at in the worker process; whatever it does there, the caller lives on."""

from __future__ import annotations

import os
import struct
import zlib
from fractions import Fraction

import pytest
from PIL import Image

from workbench.errors import MediaError
from workbench.host.folders import cache_folder
from workbench.jobs import rendering
from workbench.jobs.animate.run import CancelledError
from workbench.jobs.rendering import probe, render
from workbench.media.render_order import FrameFormat, RenderOrder
from workbench.values import replace


@pytest.fixture
def gif(tmp_path):
    """Three pictures, 40 ms each."""
    pictures = [Image.new("RGB", (64, 48), (0, 0, 60 * step)) for step in range(3)]
    pictures[0].save(tmp_path / "clip.gif", save_all=True, append_images=pictures[1:], duration=40)
    return tmp_path / "clip.gif"


@pytest.fixture
def order(gif):
    return RenderOrder(gif, (64, 48), Fraction(1, 25))


def test_files_wait_in_a_folder_of_the_cache(order):
    """By the names and with the content that the report tells."""
    told = []
    report, folder = render(order, progress=lambda done, total: told.append((done, total)))
    assert folder.parent == cache_folder() / "animations"
    assert [(folder / file.name).stat().st_size for file in report.frames] == [f.size for f in report.frames]
    assert told[-1] == (3, 3)


def test_the_same_order_is_not_rendered_again(order, monkeypatch):
    """Nor is a worker started; another order, or a source that changed, is."""
    first = render(order)
    monkeypatch.setattr(rendering, "_run", None)
    assert render(order) == first
    os.utime(order.source, (1, 1))
    with pytest.raises(TypeError):
        render(order)


def test_a_kept_render_that_lost_a_file_is_made_again(order):
    """A cache cleaner may take what it likes."""
    report, folder = render(order)
    (folder / report.frames[1].name).unlink()
    again, folder = render(order)
    assert again == report and (folder / report.frames[1].name).exists()


def test_stopping_leaves_nothing(order):
    """No file, no folder, no process."""
    with pytest.raises(CancelledError):
        render(replace(order, length=None), cancelled=lambda: True)
    assert list((cache_folder() / "animations").iterdir()) == []


def test_equal_orders_give_equal_bytes(order, tmp_path, monkeypatch):
    """So that rendering again changes nothing on a card."""
    first, _ = render(order)
    monkeypatch.setenv("CARDWRIGHT_CACHE", str(tmp_path / "other"))
    assert render(order)[0].frames == first.frames


def test_looking_at_a_clip(gif):
    """What it is, without rendering it."""
    facts = probe(gif)
    assert (facts.kind, facts.frames, facts.duration) == ("animated", 3, Fraction(3, 25))


def test_a_decoder_that_dies_is_a_sentence(order, tmp_path, monkeypatch):
    """The worker is killed by its own fault; the sentence names the clip, and nothing is left."""
    (tmp_path / "deadly_decoder.py").write_text("import os, signal; os.kill(os.getpid(), signal.SIGSEGV)")
    monkeypatch.syspath_prepend(str(tmp_path))
    monkeypatch.setattr(rendering, "_WORKER", "deadly_decoder")
    with pytest.raises(
        MediaError, match=r"clip\.gif is not used: it needed more than .* choose another clip"
    ):
        render(order)
    assert list((cache_folder() / "animations").iterdir()) == []


def png_of(width, height):
    """A PNG that claims that size and holds nothing."""
    header = struct.pack(">2I5B", width, height, 8, 2, 0, 0, 0)
    chunks = [(b"IHDR", header), (b"IDAT", zlib.compress(b"\0")), (b"IEND", b"")]
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(content)) + name + content + struct.pack(">I", zlib.crc32(name + content))
        for name, content in chunks
    )


HOSTILE = {
    "huge.png": png_of(100_000, 100_000),
    "huge.y4m": b"YUV4MPEG2 W100000 H100000 F25:1 Ip C420jpeg\nFRAME\n" + bytes(1000),
    "none.y4m": b"YUV4MPEG2 W64 H48 F25:1 Ip C420jpeg\n",
    "torn.mp4": b"\0\0\0\x18ftypisom\0\0\0\0isommp42\0\0\x10\0mdat" + bytes(2000),
    "text.mp4": b"there is nothing to see here\n" * 40,
    "list.m3u8": b"#EXTM3U\n#EXT-X-TARGETDURATION:1\n#EXTINF:1,\n/etc/hostname\n#EXT-X-ENDLIST\n",
    "list.ffconcat": b"ffconcat version 1.0\nfile /etc/hostname\n",
    "empty.mkv": b"",
}


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_clips_are_one_sentence_each(name, tmp_path):
    """What claims too much, holds nothing, is torn, or leads elsewhere."""
    pytest.importorskip("av", reason="av is not installed (extra `clip`)")
    path = tmp_path / name
    path.write_bytes(HOSTILE[name])
    with pytest.raises(MediaError) as refusal:
        render(RenderOrder(path, (64, 48), Fraction(1, 25)))
    message = refusal.value.message
    assert message.startswith(f"{path} is not used: ") and "Nothing was made" in message
    assert "\n" not in message and "Traceback" not in message


def test_what_is_not_there_is_a_sentence(tmp_path):
    """So is a folder without pictures, and a format that cannot be."""
    with pytest.raises(MediaError, match="could not be read"):
        probe(tmp_path / "nothing.mp4")
    with pytest.raises(MediaError, match="no numbered pictures"):
        probe(tmp_path)
    Image.new("RGB", (4, 4)).save(tmp_path / "0.png")
    with pytest.raises(MediaError, match="2 to 256"):
        render(RenderOrder(tmp_path, (64, 48), Fraction(1, 25), FrameFormat(colours=999)))
