"""Icons are fitted to their neighbours, whatever is put in; hostile files are refused."""

from __future__ import annotations

import os
import struct
import zlib
from io import BytesIO

import pytest
from odd_card import picture
from odd_road import OddRoad
from PIL import Image
from practice_cards import tree_bytes

from workbench.errors import EntryError, MediaError
from workbench.jobs.icon import list_pictures, plan_icon, view_picture

LAMP = "finds/North:Lamp.find"


@pytest.fixture
def road(tmp_path):
    return OddRoad(tmp_path)


def save(folder, image, name="in.png"):
    image.save(folder / name)
    return folder / name


def test_what_is_there_and_what_is_missing(road):
    """Kind, place, size and format of each; a missing one is named with what it would be."""
    (there,) = list_pictures(*road.find(LAMP))
    assert (there.kind, there.at.path, there.size, there.format) == (
        "cover",
        "pix/North/Lamp-Big.BMP",
        (40, 30),
        "bmp",
    )
    (missing,) = list_pictures(*road.find("finds/North:Lamp Post.find"))
    assert missing.is_missing and missing.at.path == "pix/North/Lamp Post-Big.BMP"
    assert "40×30 BMP" in missing.wanted
    assert view_picture(there).size == (40, 30)
    with pytest.raises(MediaError):
        view_picture(missing)


def test_a_missing_one_is_made_like_its_neighbours(road, tmp_path):
    """Size, container, depth and the upper-case suffix are the neighbours'; Pillow reads it so."""
    start = tree_bytes(road.folder)
    source = save(tmp_path, Image.new("RGBA", (500, 100), (0, 255, 0, 255)))
    plan = road.apply(plan_icon(*road.find("finds/North:Lamp Post.find"), None, source))
    with Image.open(road.folder / "pix/North/Lamp Post-Big.BMP") as made:
        assert (made.format, made.size, made.mode) == ("BMP", (40, 30), "RGB")
        assert made.getpixel((20, 15)) == (0, 255, 0) and made.getpixel((20, 0)) == (0, 0, 0)
    assert plan.steps[0].before is None
    road.undo_all()
    assert tree_bytes(road.folder) == start


def test_the_commonest_size_counts(road, tmp_path):
    """One neighbour of another size does not decide; a picture of the wrong size is told so."""
    (road.folder / "pix/North/7 Keys-Big.BMP").write_bytes(picture((7, 7), "BMP"))
    source = save(tmp_path, Image.new("RGB", (90, 90), (1, 2, 3)))
    (wrong,) = list_pictures(*road.find("finds/North:7 Keys.lost"))
    assert "its neighbours have 40×30" in wrong.sentence
    road.apply(plan_icon(*road.find("finds/North:7 Keys.lost"), "cover", source))
    assert list_pictures(*road.find("finds/North:7 Keys.lost"))[0].size == (40, 30)


@pytest.mark.parametrize(("fit", "corner"), [("contain", 0), ("cover", 255), ("stretch", 255), ("centre", 0)])
def test_fit_and_alpha(road, tmp_path, fit, corner):
    """Among PNGs that can be seen through, bars stay clear; with a background there is no clear pixel."""
    for name in ("Lamp", "Café", "7 Keys"):
        place = road.folder / f"pix/North/{name}-Big.BMP"
        place.unlink(missing_ok=True)
        buffer = BytesIO()
        Image.new("RGBA", (20, 20), (1, 1, 1, 90)).save(buffer, "PNG")
        place.write_bytes(buffer.getvalue())
    source = save(tmp_path, Image.new("RGB", (18, 6), (250, 0, 0)))
    road.apply(plan_icon(*road.find(LAMP), None, source, fit=fit))
    with Image.open(road.folder / "pix/North/Lamp-Big.BMP") as made:
        assert (made.format, made.mode, made.size) == ("PNG", "RGBA", (20, 20))
        assert made.getpixel((0, 0))[3] == corner
    plan = plan_icon(*road.find(LAMP), None, source, fit=fit, background="#0000ff")
    if plan.steps:  # without bars, the background makes no difference
        road.apply(plan)
    with Image.open(road.folder / "pix/North/Lamp-Big.BMP") as made:
        assert made.getchannel("A").getextrema() == (255, 255)


def test_the_same_picture_again_writes_nothing(road, tmp_path):
    """A picture that is there already is no change."""
    source = save(tmp_path, Image.new("RGB", (40, 30), (9, 9, 200)))
    road.apply(plan_icon(*road.find(LAMP), None, source))
    assert plan_icon(*road.find(LAMP), None, source).steps == ()


def _bomb() -> bytes:
    """A PNG that claims more pixels than anyone has memory for."""
    head = struct.pack(">2I5B", 60000, 60000, 8, 6, 0, 0, 0)
    chunks = [(b"IHDR", head), (b"IDAT", zlib.compress(bytes(1000))), (b"IEND", b"")]
    body = b"".join(
        struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))
        for name, data in chunks
    )
    return b"\x89PNG\r\n\x1a\n" + body


@pytest.mark.parametrize(
    "content", [b"", b"no picture", _bomb(), b"\x89PNG\r\n\x1a\n" + b"x" * 50, b"BM", b"%!PS-Adobe"]
)
def test_hostile_pictures_are_refused(road, tmp_path, content):
    """What is no picture, torn or a bomb is refused in words, and the card is as it was."""
    (tmp_path / "bad.png").write_bytes(content)
    with pytest.raises(MediaError, match="Nothing was changed"):
        plan_icon(*road.find(LAMP), None, tmp_path / "bad.png")


def test_no_file_and_no_plain_file(road, tmp_path):
    """A missing file, a folder and a pipe are refused without waiting."""
    os.mkfifo(tmp_path / "pipe")
    for path in (tmp_path / "none.png", tmp_path, tmp_path / "pipe"):
        with pytest.raises(MediaError):
            plan_icon(*road.find(LAMP), None, path)


def test_a_hostile_picture_on_the_card(road, tmp_path):
    """An old picture that cannot be read is named as such, and can be replaced."""
    (road.folder / "pix/North/Lamp-Big.BMP").write_bytes(_bomb())
    (listed,) = list_pictures(*road.find(LAMP))
    assert listed.format == "" and "cannot be read" in listed.sentence
    source = save(tmp_path, Image.new("RGB", (40, 30)))
    road.apply(plan_icon(*road.find(LAMP), None, source))
    assert list_pictures(*road.find(LAMP))[0].format == "bmp"


def test_kinds_that_there_are_not(road, tmp_path):
    """An unknown kind is refused with those that there are."""
    source = save(tmp_path, Image.new("RGB", (4, 4)))
    with pytest.raises(EntryError, match="they have: cover"):
        plan_icon(*road.find(LAMP), "icon", source)


def test_a_picture_in_the_entry_itself(road, tmp_path):
    """Where pictures lie in the entries, a missing one is put into the entry, as GIF like the others."""
    (road.folder / "apps/Clock/icon.gif").unlink()
    source = save(tmp_path, Image.new("RGB", (48, 48), (0, 0, 255)))
    road.apply(plan_icon(*road.find("apps:Clock"), "icon", source))
    with Image.open(road.folder / "apps/Clock/icon.gif") as made:
        assert (made.format, made.size) == ("GIF", (24, 24))
        assert made.convert("RGB").getpixel((3, 3)) == (0, 0, 255)


def test_several_skins_each_get_one(tmp_path):
    """Where a pattern finds a folder for each skin, the picture goes into every one."""
    road = OddRoad(tmp_path, '[[menus.pictures]]\nkind = "skin"\npath = "chest:skins/*/{entry}.png"\n')
    for skin, size in (("dark", 8), ("light", 12)):
        for name in ("Notes 2", "Radio & TV"):
            place = road.folder / f"skins/{skin}/{name}.PNG"
            place.parent.mkdir(parents=True, exist_ok=True)
            place.write_bytes(picture((size, size), "PNG"))
    source = save(tmp_path, Image.new("RGB", (48, 48), (0, 0, 255)))
    road.apply(plan_icon(*road.find("apps:Clock"), "skin", source))
    for skin, size in (("dark", 8), ("light", 12)):
        with Image.open(road.folder / f"skins/{skin}/Clock.PNG") as made:
            assert made.size == (size, size)
