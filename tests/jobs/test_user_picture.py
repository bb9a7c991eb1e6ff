"""What is decoded ahead is what would be decoded anyway, or nothing."""

from __future__ import annotations

import pytest
from PIL import Image

from workbench.errors import MediaError
from workbench.jobs.user_picture import read_plain, read_safely

MODES = ["L", "RGB", "P", "LA", "RGBA", "1", "I;16"]


@pytest.mark.parametrize("suffix", ["png", "bmp", "jpg"])
@pytest.mark.parametrize("mode", MODES)
def test_both_ways_give_one_picture(tmp_path, mode, suffix):
    """Of every mode; another format than PNG is left to the usual way."""
    path = tmp_path / f"picture.{suffix}"
    grey = Image.linear_gradient("L").resize((30, 20))
    picture = grey.convert("I").convert("I;16") if mode == "I;16" else grey.convert("RGB").convert(mode)
    try:
        picture.save(path)
    except OSError:
        pytest.skip(f"{suffix} holds no {mode}")
    ahead, usual = read_plain(path), read_safely(path, (30, 20))
    if ahead is not None:
        assert suffix == "png" and (ahead.mode, ahead.tobytes()) == (usual.mode, usual.tobytes())
    assert (ahead is not None) == (suffix == "png" and mode in MODES[:5])


@pytest.mark.parametrize("content", [None, b"", b"no picture", b"\x89PNG\r\n\x1a\n" + bytes(40)])
def test_what_is_wrong_is_said_by_the_usual_way(tmp_path, content):
    """No file, nothing in it, no picture, a torn one."""
    path = tmp_path / "picture.png"
    if content is not None:
        path.write_bytes(content)
    assert read_plain(path) is None
    with pytest.raises(MediaError):
        read_safely(path, (8, 8))
