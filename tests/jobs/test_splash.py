"""Splashes on the practice cards: show, put, blank, restore, as plans that the device then reads."""

from __future__ import annotations

import gzip
import io
import os
from pathlib import Path

import practice_cards
import pytest
from PIL import Image

from workbench.card.disk_tree import DiskTree
from workbench.card.paths import VolumePath
from workbench.card.profile_reader import read_profile
from workbench.card.volumes import Card, Volume
from workbench.changes.plan import MakeFolder, Plan, Prepared, Write, digest
from workbench.errors import CardError, EntryError, MediaError
from workbench.jobs import splash
from workbench.media.codec import encode_picture
from workbench.media.kind_reader import kind_from_hint

LARGE = {"container": "bmp", "bits": 24, "width": 720, "height": 720}
PICTURES = practice_cards.FIXTURES / "pictures"


class Practice:
    """A practice card in a folder, read through the real tree, written by hand where a test needs it."""

    def __init__(self, name: str, folder: Path, absent: tuple[str, ...] = ()) -> None:
        self.name, self.folder = name, folder
        self.profile = read_profile(practice_cards.profile_path(name))
        volumes = {
            role: Volume.absent(role) if role in absent else Volume(role, folder / role)
            for role in practice_cards.roles(name)
        }
        self.card = Card(name, volumes, self.profile, "folder")

    @property
    def tree(self) -> DiskTree:
        return DiskTree(self.card)

    def path(self, at: VolumePath) -> Path:
        return self.folder / at.volume / at.path

    def carry_out(self, plan) -> None:
        """The steps of a splash plan, done plainly: the safe way is tested with `changes`."""
        for step in plan.steps:
            if isinstance(step, MakeFolder):
                self.path(step.at).mkdir()
                continue
            there = self.path(step.at)
            assert step.before == (digest(there.read_bytes()) if there.exists() else None)
            there.write_bytes(_content(step))


def _content(step: Write) -> bytes:
    if not isinstance(step.content, Prepared):
        return step.content
    raw = Path(step.content.file).read_bytes()
    assert (len(raw), digest(raw)) == (step.content.size, step.content.sha256)
    return raw


@pytest.fixture
def larkspur(practice_card) -> Practice:
    return Practice("larkspur", practice_card("larkspur"))


@pytest.mark.parametrize(
    ("name", "described"),
    [
        ("larkspur", "512×384 BMP, 24 bits, bottom-up, 589,878 bytes"),
        ("fernway", "480×640 BMP, 16 bits 5-6-5, bottom-up, gzip"),
        ("orrery", "480×800 raw pixels, 32 bits with alpha, 1,536,000 bytes"),
    ],
)
def test_each_devices_splash_is_told_and_seen_upright(name, described, practice_card):
    """The kind is told, and the picture comes back at the panel's own size, its turn undone."""
    device = Practice(name, practice_card(name))
    report = splash.show(device.tree, device.profile)
    assert report.standing == "there" and report.sentence.startswith(described)
    assert splash.view(report).size == (device.profile.panel.width, device.profile.panel.height)


@pytest.mark.parametrize("name", practice_cards.DEVICES)
@pytest.mark.parametrize("picture", ["harbour.png", "tower.jpg"])
def test_a_picture_is_put_in_the_kind_that_is_there(name, picture, practice_card, read_device):
    """Same kind before and after, another picture, and the device reads it without complaint."""
    device = Practice(name, practice_card(name))
    before, problems = (
        splash.show_all(device.tree, device.profile),
        read_device(name, device.folder)["problems"],
    )
    device.carry_out(splash.plan_put(device.tree, device.profile, ("all",), PICTURES / picture))
    after = splash.show_all(device.tree, device.profile)
    for old, new in zip(before, after, strict=True):
        assert new.content != old.content
        assert _kind_without_size(new) == _kind_without_size(old)
    assert read_device(name, device.folder)["problems"] == problems == []


def _kind_without_size(report: splash.SplashReport) -> object:
    kind = report.kind
    assert kind is not None
    return kind.container, kind.bits, kind.masks, kind.rows, kind.gzip, kind.header_size, kind.unpacked


def test_what_was_put_is_what_is_seen(larkspur, tmp_path):
    """24 bits lose nothing: a picture of the panel's size comes back pixel for pixel."""
    picture = Image.linear_gradient("L").resize((512, 384)).convert("RGB")
    picture.save(tmp_path / "x.png")
    larkspur.carry_out(splash.plan_put(larkspur.tree, larkspur.profile, ("start",), tmp_path / "x.png"))
    assert splash.view(splash.show(larkspur.tree, larkspur.profile)).tobytes() == picture.tobytes()


def test_a_turned_panel_stores_a_turned_picture(practice_card, tmp_path):
    """Fernway stores by 270° clockwise: the seen top left corner lies at the stored bottom left."""
    device = Practice("fernway", practice_card("fernway"))
    picture = Image.new("RGB", (640, 480), "black")
    picture.paste((255, 0, 0), (0, 0, 40, 40))
    picture.save(tmp_path / "x.png")
    plan = splash.plan_put(device.tree, device.profile, ("start",), tmp_path / "x.png", dither="none")
    stored = Image.open(io.BytesIO(gzip.decompress(_content(plan.steps[0]))))
    assert stored.size == (480, 640)
    assert stored.getpixel((20, 620)) == (255, 0, 0) and stored.getpixel((20, 20)) == (0, 0, 0)
    device.carry_out(plan)
    assert splash.view(splash.show(device.tree, device.profile)).tobytes() == picture.tobytes()


@pytest.mark.parametrize("name", practice_cards.DEVICES)
def test_a_blank_is_one_colour_and_can_be_taken_back(name, practice_card, tree_bytes):
    """Blank, then restore: every byte of the card as before."""
    device = Practice(name, practice_card(name))
    start = tree_bytes(device.folder)
    old = splash.show(device.tree, device.profile)
    device.carry_out(splash.plan_blank(device.tree, device.profile, ("start",), "#208040"))
    seen = splash.view(splash.show(device.tree, device.profile)).convert("RGB").getcolors()
    assert seen is not None and len(seen) == 1
    assert all(abs(a - b) <= 8 for a, b in zip(seen[0][1], (32, 128, 64), strict=True))
    device.carry_out(splash.plan_restore(device.tree, device.profile, "start", old.content))
    assert tree_bytes(device.folder) == start


def test_the_same_again_is_no_step(larkspur):
    """A plan for what is there already has nothing to do and says so."""
    larkspur.carry_out(splash.plan_blank(larkspur.tree, larkspur.profile, ("start",)))
    plan = splash.plan_blank(larkspur.tree, larkspur.profile, ("start",))
    assert plan.steps == () and "system:greet/hello.bmp holds exactly this already" in plan.notes


def test_plans_depend_on_what_was_there(larkspur):
    """Each write names the hash of the file that it was planned on."""
    plan = splash.plan_blank(larkspur.tree, larkspur.profile, ("all",), "navy")
    hashes = {digest(larkspur.path(step.at).read_bytes()) for step in plan.steps}
    assert {step.before for step in plan.steps} == hashes and len(hashes) == 2
    assert plan.title == "Blank the splash of start, charging"


def test_a_system_volume_is_cautioned(larkspur, practice_card):
    """Design: before touching a system volume. Fernway has one volume for all, which is no system volume."""
    assert splash.CAUTION in splash.plan_blank(larkspur.tree, larkspur.profile, ("start",)).notes
    fernway = Practice("fernway", practice_card("fernway"))
    assert splash.CAUTION not in splash.plan_blank(fernway.tree, fernway.profile, ("start",)).notes


def test_large_content_waits_in_the_cache(practice_card):
    """Over 1 MiB a plan holds a prepared file with size and hash."""
    device = Practice("orrery", practice_card("orrery"))
    step = splash.plan_blank(device.tree, device.profile, ("start",), "navy").steps[0]
    assert isinstance(step.content, Prepared) and len(_content(step)) == 1_536_000
    splash.drop_renders(Plan("", (step,)))
    assert not Path(step.content.file).exists()


def test_a_missing_splash_is_made_in_the_profiles_kind(larkspur):
    """No file, no folder: both are planned, and the size is the panel's."""
    for file in larkspur.path(VolumePath("system", "greet")).iterdir():
        file.unlink()
    larkspur.path(VolumePath("system", "greet")).rmdir()
    assert splash.show(larkspur.tree, larkspur.profile).standing == "absent"
    plan = splash.plan_blank(larkspur.tree, larkspur.profile, ("all",))
    assert [type(step).__name__ for step in plan.steps] == ["MakeFolder", "Write", "Write"]
    larkspur.carry_out(plan)
    assert (
        splash.show(larkspur.tree, larkspur.profile).sentence
        == "512×384 BMP, 24 bits, bottom-up, 589,878 bytes"
    )


def test_an_unknown_file_is_answered_in_the_profiles_kind(larkspur):
    """Garbage is reported as unknown, and a put says that it goes by the profile."""
    at = VolumePath("system", "greet/hello.bmp")
    larkspur.path(at).write_bytes(b"scrambled")
    report = splash.show(larkspur.tree, larkspur.profile)
    assert report.standing == "unknown" and "begin as no BMP" in report.sentence
    with pytest.raises(MediaError, match="no kind known"):
        splash.view(report)
    plan = splash.plan_blank(larkspur.tree, larkspur.profile, ("start",))
    assert any("the kind that the profile names is used" in note for note in plan.notes)
    assert plan.steps[0].before == digest(b"scrambled")


def test_any_bytes_are_restored_as_they_were(larkspur):
    """What was kept goes back byte for byte, even of no known kind."""
    plan = splash.plan_restore(larkspur.tree, larkspur.profile, "start", b"scrambled")
    assert plan.steps[0].content == b"scrambled" and "9 bytes as they were" in plan.notes[0]


def test_an_absent_volume_is_said(practice_card):
    """Absent is not empty: shown as absent, refused by name, left out of `all` only if others remain."""
    device = Practice("larkspur", practice_card("larkspur"), absent=("system",))
    report = splash.show(device.tree, device.profile)
    assert report.standing == "volume-absent" and "the volume system is not there" in report.sentence
    for moments in (("start",), ("all",)):
        with pytest.raises(CardError, match="insert or name that volume"):
            splash.plan_blank(device.tree, device.profile, moments)


def test_unknown_moments_are_refused_with_those_there_are(larkspur):
    """The closest is offered."""
    with pytest.raises(EntryError, match="it has start, charging; did you mean start"):
        splash.show(larkspur.tree, larkspur.profile, "strat")


def test_a_linked_splash_is_written_where_it_lies(larkspur):
    """A link within the volume stays a link; its target is planned."""
    real = larkspur.path(VolumePath("system", "greet/hello.bmp"))
    real.rename(real.with_name("real.bmp"))
    os.symlink("real.bmp", real)
    plan = splash.plan_blank(larkspur.tree, larkspur.profile, ("start",))
    assert str(plan.steps[0].at) == "system:greet/real.bmp"


@pytest.mark.parametrize(
    ("wish", "words"),
    [
        ({"bits": 32}, "1,048,576"),
        ({"width": 640, "height": 480}, "larger than the 512×384"),
        ({"width": 510, "height": 384, "bits": 16}, "no multiple of 4"),
        ({"width": 509}, "no multiple of 4"),
        ({"bits": 17}, "allowed"),
        ({"container": "raw"}, None),
        ({"gzip": True}, None),
        ({"bits": 8}, None),
        ({"bits": 16, "masks": "565"}, None),
        ({"container": "png"}, None),
        ({"rows": "top-down"}, None),
    ],
)
def test_wishes_for_another_kind(larkspur, wish, words):
    """Honoured, or refused where the device could not show it, with the reason."""
    larkspur.profile = _with_limit(larkspur.profile, 700_000) if words == "1,048,576" else larkspur.profile
    if words is None:
        plan = splash.plan_blank(larkspur.tree, larkspur.profile, ("start",), kind=wish)
        assert len(plan.steps) == 1
        return
    with pytest.raises(MediaError, match=r"Nothing was changed|allowed") as caught:
        splash.plan_blank(larkspur.tree, larkspur.profile, ("start",), kind=wish)
    assert words in caught.value.message or "700,000" in caught.value.message


def _with_limit(profile, most: int):
    from dataclasses import replace

    return replace(profile, splashes=tuple(replace(rule, max_bytes=most) for rule in profile.splashes))


def test_the_loaders_unpacked_limit_is_kept(practice_card):
    """Fernway's loader unpacks 1,048,576 bytes; 640×480 in 32 bits are 1,228,854 and are refused."""
    device = Practice("fernway", practice_card("fernway"))
    with pytest.raises(MediaError, match="1,228,854 bytes unpacked are more than the 1,048,576"):
        splash.plan_blank(device.tree, device.profile, ("start",), kind={"bits": 32})


def test_a_doubt_is_a_note_where_only_common_loaders_say_so(larkspur):
    """Gzip over 0x100000 bytes unpacked where the profile sets no limit: planned, and the doubt is said."""
    larkspur.profile = _with_limit(larkspur.profile, 4_000_000)
    at = VolumePath("system", "greet/hello.bmp")
    larkspur.path(at).write_bytes(encode_picture(Image.new("RGB", (720, 720)), kind_from_hint(LARGE)))
    plan = splash.plan_blank(larkspur.tree, larkspur.profile, ("start",), kind={"gzip": True})
    assert any("1,555,254 bytes unpacked" in note for note in plan.notes)
    larkspur.carry_out(plan)
    plan = splash.plan_blank(larkspur.tree, larkspur.profile, ("start",), "navy")
    assert plan.steps and not any("unpacked are more" in note for note in plan.notes)


def test_a_sheared_width_that_works_is_kept(larkspur):
    """A file of an odd width that is there is evidence that this device shows it."""
    at = VolumePath("system", "greet/hello.bmp")
    held = io.BytesIO()
    Image.new("RGB", (511, 384), "teal").save(held, "BMP")
    larkspur.path(at).write_bytes(held.getvalue())
    plan = splash.plan_blank(larkspur.tree, larkspur.profile, ("start",))
    assert plan.steps and not any("multiple of 4" in note for note in plan.notes)


@pytest.mark.parametrize("name", ["missing.png", "text.png", "rare.pcx"])
def test_a_picture_that_is_none_changes_nothing(larkspur, tmp_path, name):
    """Missing, no picture, or a rare format that is torn (decoded in a child): one sentence with the path."""
    (tmp_path / "text.png").write_text("hello")
    held = io.BytesIO()
    Image.linear_gradient("L").save(held, "PCX")
    (tmp_path / "rare.pcx").write_bytes(held.getvalue()[:60])
    with pytest.raises(MediaError) as caught:
        splash.plan_put(larkspur.tree, larkspur.profile, ("start",), tmp_path / name)
    assert name in caught.value.message


def test_a_rare_format_is_decoded_in_a_child(larkspur, tmp_path):
    """TIFF goes through the worker and gives the same pixels as PNG."""
    picture = Image.linear_gradient("L").resize((512, 384)).convert("RGB")
    picture.save(tmp_path / "x.tif")
    picture.save(tmp_path / "x.png")
    plans = [
        splash.plan_put(larkspur.tree, larkspur.profile, ("start",), tmp_path / name)
        for name in ("x.tif", "x.png")
    ]
    assert plans[0].steps == plans[1].steps


def test_planning_writes_nothing_to_the_card(larkspur, tree_bytes):
    """A plan is only a plan."""
    start = tree_bytes(larkspur.folder)
    splash.plan_put(larkspur.tree, larkspur.profile, ("all",), PICTURES / "moon.png", fit="cover")
    assert tree_bytes(larkspur.folder) == start


def test_showing_needs_no_picture_library():
    """`splash show` starts without Pillow: kinds are told from headers alone."""
    import subprocess
    import sys

    code = "import sys, workbench.jobs.splash; sys.exit('PIL' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], cwd=practice_cards.FIXTURES.parent).returncode == 0
