"""A boot animation planned whole: what is written, what stays, and what a person is told before."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import practice_cards
import pytest
from motion_cards import Motion, lay_out, practice_motion

from workbench.card.paths import VolumePath
from workbench.changes.plan import MakeFolder, Prepared, Remove, Write
from workbench.errors import (
    CardError,
    CardwrightError,
    EntryError,
    ManifestError,
    MediaError,
    NameRefusedError,
    ProfileError,
)
from workbench.jobs.animate import AnimateWish, CancelledError, Progress, default_name, plan_animate
from workbench.values import replace


@pytest.fixture
def larkspur(tmp_path: Path) -> Motion:
    return practice_motion("larkspur", tmp_path)


def test_frames_wait_as_files_and_manifests_as_edits(larkspur: Motion) -> None:
    """A plan's own file stays small, and undo takes back exactly the edit of the register."""
    plan = larkspur.plan(larkspur.clip(duration=0.2), choose=True).plan
    frames = [one for one in plan.steps if isinstance(one, Write) and one.at.name.endswith(".png")]
    assert frames and all(isinstance(one.content, Prepared) for one in frames)
    register = [one for one in plan.steps if isinstance(one, Write) and one.at.name == "register.json"]
    assert len(register) == 1 and len(register[0].edits) == 1
    assert MakeFolder(VolumePath("data", "house/motion/dawn")) in plan.steps


def test_making_it_again_writes_only_what_has_changed(larkspur: Motion) -> None:
    """A shorter clip: the frames that are the same stay, those too many are put away, the count follows."""
    larkspur.animate(larkspur.clip(duration=1.0))
    planned = larkspur.plan(larkspur.clip(duration=0.4))
    report, steps = planned.report, planned.plan.steps
    assert (report.written, report.kept, report.removed) == (0, 10, 15)
    assert [one.at.name for one in steps if isinstance(one, Remove)] == [f"{n}.png" for n in range(10, 25)]
    assert [one.at.name for one in steps if isinstance(one, Write)] == ["sound.wav", "play.conf"]
    larkspur.apply(planned.plan)
    assert larkspur.plan(larkspur.folder / "clip2.fake").plan.steps == ()


def test_a_silent_clip_puts_the_old_sound_away(larkspur: Motion) -> None:
    """Else the device would play the sound of another clip."""
    larkspur.animate(larkspur.clip(duration=0.2))
    plan = larkspur.plan(larkspur.clip(duration=0.2, sound=False)).plan
    assert plan.steps == (Remove(VolumePath("data", "house/motion/dawn/sound.wav")),)
    assert any("put away" in note for note in plan.notes)


@pytest.mark.parametrize(
    ("layout", "delay", "rate", "said", "because"),
    [
        ("larkspur", None, 30, "40", "as the other animations on the card"),
        ("fernway", None, 30, "34", "common practice for 30 frames a second"),
        ("fernway", None, 20, "23", "the clip's own rate"),
        ("larkspur", "33.3", 30, "33", "the nearest that the settings can say"),
        ("orrery", "44", 30, "25", "as asked for"),
    ],
)
def test_the_pace_is_the_wish_or_the_cards_or_the_clips(layout, delay, rate, said, because, tmp_path) -> None:
    """And what the settings say is what was sampled, draw time counted in."""
    motion = practice_motion(layout, tmp_path)
    wish = None if delay is None else Fraction(delay) / 1000
    report = motion.plan(motion.clip(duration=0.2, rate=rate), delay=wish).report
    assert (report.pace.text, report.pace_because) == (said, because)
    assert motion.render.orders[0].delay == report.pace.delay


def test_new_settings_follow_another_animations_without_its_author(larkspur: Motion) -> None:
    """Comments and keys that we know nothing of are taken over; whose work it was is not."""
    larkspur.animate(larkspur.clip(duration=0.2))
    text = (larkspur.root / "data/house/motion/dawn/play.conf").read_text()
    assert text == "# one picture after the other\npictures=5\nhold_ms = 40\n"


def test_size_counts_whole_allocation_units(larkspur: Motion) -> None:
    """Every file of the animation, each rounded up; the same before and after it is written."""
    source = larkspur.clip(duration=0.2)
    small, large = (larkspur.plan(source, unit=unit).report.bytes for unit in (512, 32768))
    assert large == 7 * 32768 and small < large
    larkspur.animate(source)
    assert larkspur.plan(source, unit=32768).report.bytes == large


def test_the_report_tells_what_has_to_be_known(larkspur: Motion) -> None:
    """Frames, length, size, start, drift, verdict, sound, cautions: as sentences and as data."""
    report = larkspur.plan(larkspur.clip(duration=0.5), delay=Fraction(35, 1000)).report
    text = "\n".join(report.lines())
    for part in (
        "15 frames, 0.525 s",
        "35 ms",
        "the start takes 0.525 s longer",
        "+25.0 ms",
        "25 ms early, which nobody notices",
        "-23.0 LUFS",
        "passes",
    ):
        assert part in text
    assert "not a medical or legal clearance" in text and "right to use" in text and "boot sound" in text
    shape = report.shape()
    assert (shape["frames"], shape["startup"], shape["delay_ms"]) == (15, 0.525, 35.0)
    assert shape["flash"]["passes"] is True and shape["sound"]["loudness"] == -23.0
    assert len(shape["cautions"]) == 3


@pytest.mark.parametrize("silent", [False, True])
def test_the_drift_of_a_silent_clip_names_no_sound(larkspur: Motion, silent: bool) -> None:
    """Where nothing is heard, what comes apart is the last frame and the clip's end."""
    clip = larkspur.clip(duration=0.5)
    text = "\n".join(larkspur.plan(clip, delay=Fraction(35, 1000), silent=silent).report.lines())
    assert ("sound and picture apart at the end" in text) != silent
    assert ("the last frame ends 25 ms after the clip" in text) == silent


def test_progress_is_told_and_cancel_leaves_nothing(larkspur: Motion) -> None:
    """What is done of how many; a stop is one error, and no plan comes of it."""
    import fake_render

    told: list[Progress] = []
    wish = AnimateWish(larkspur.clip(duration=0.4), "dawn")
    start = practice_cards.tree_bytes(larkspur.root)
    with pytest.raises(CancelledError):
        plan_animate(
            larkspur.tree,
            larkspur.profile,
            wish,
            render=larkspur.render,
            probe=fake_render.probe,
            progress=told.append,
            cancelled=lambda: len(told) > 3,
        )
    assert [(one.done, one.total) for one in told] == [(0, None), (1, 10), (2, 10), (3, 10)]
    assert practice_cards.tree_bytes(larkspur.root) == start


def test_a_name_that_is_there_in_another_case_is_that_one(larkspur: Motion) -> None:
    """FAT knows one of them only."""
    planned = larkspur.plan(larkspur.clip(duration=0.2), "RIVER")
    assert planned.report.name == "river"
    assert all("RIVER" not in str(step) for step in planned.plan.steps)


@pytest.mark.parametrize(
    ("name", "error"), [("a/b", NameRefusedError), ("", NameRefusedError), ("x.", NameRefusedError)]
)
def test_names_that_would_not_survive_are_refused(
    larkspur: Motion, name: str, error: type[Exception]
) -> None:
    """With a name that would do."""
    with pytest.raises(error):
        larkspur.plan(larkspur.clip(), name)


def test_what_the_device_cannot_do_is_refused_before_rendering(larkspur: Motion, tmp_path: Path) -> None:
    """Loops without a setting, a palette for JPEG, a second animation where there is one place."""
    with pytest.raises(EntryError, match="no setting for how often"):
        larkspur.plan(larkspur.clip(duration=0.1), loops=2)
    fernway = practice_motion("fernway", tmp_path / "f")
    with pytest.raises(MediaError, match="no palette"):
        fernway.plan(fernway.clip(), colours=16)
    (tmp_path / "b").mkdir()
    bare = lay_out("bare", tmp_path / "b")
    with pytest.raises(ProfileError, match="one boot animation, called film"):
        bare.plan(bare.clip(), "other")
    with pytest.raises(ProfileError, match="where the device's choice stands"):
        bare.plan(bare.clip(), "film", choose=True)


def test_a_malformed_manifest_stops_it_with_its_line(larkspur: Motion) -> None:
    """The register is not touched where it cannot be read."""
    (larkspur.root / "data/house/register.json").write_text('{"motion": "river"\n"things": {}}')
    with pytest.raises(ManifestError) as refused:
        larkspur.plan(larkspur.clip(duration=0.1), choose=True)
    assert refused.value.line == 2


def test_an_absent_volume_is_no_empty_one(larkspur: Motion) -> None:
    """Animations are not made anew on whatever is there instead."""
    gone = replace(larkspur.profile, volumes={"system": larkspur.profile.volumes["system"]})
    motion = larkspur.profile.animation
    assert motion is not None
    system = larkspur.root / "system"
    from workbench.card.discovery import open_card
    from workbench.card.disk_tree import DiskTree

    tree = DiskTree(open_card(str(system), (gone,), gone))
    with pytest.raises(CardError, match="volume data is absent"):
        plan_animate(tree, larkspur.profile, AnimateWish(larkspur.clip(), "dawn"), render=larkspur.render)


def test_nothing_is_rendered_for_what_is_refused_anyway(larkspur: Motion) -> None:
    """A long work is not begun in vain."""
    (larkspur.root / "data/house/register.json").write_text("{")
    for wishes in ({"choose": True}, {"loops": 3}):
        with pytest.raises(CardwrightError):
            larkspur.plan(larkspur.clip(), **wishes)
    assert larkspur.render.orders == []


def test_a_name_that_nobody_says_is_the_clips_or_the_devices_only_one(
    larkspur: Motion, tmp_path: Path
) -> None:
    """A device with one place has one name."""
    (tmp_path / "b").mkdir()
    bare = lay_out("bare", tmp_path / "b")
    assert default_name(larkspur.profile, Path("/x/sea & sky.mp4")) == "sea & sky"
    assert default_name(bare.profile, Path("/x/sea.mp4")) == "film"
