"""An animation put away with all that is its own, and brought back; and examined for flashes."""

from __future__ import annotations

import hashlib
from fractions import Fraction
from pathlib import Path

import practice_cards
import pytest
from motion_cards import Motion, lay_out, practice_motion

from workbench.card.animations import read_animations
from workbench.errors import EntryError, MediaError
from workbench.jobs.animate import CancelledError
from workbench.jobs.animation_examine import examine_animation
from workbench.jobs.animation_remove import plan_remove_animation


def content(root: Path) -> dict[str, str]:
    """Every file with its hash, our own records aside."""
    files = (one for one in root.rglob("*") if one.is_file() and ".cardwright" not in one.parts)
    return {str(one.relative_to(root)): hashlib.sha256(one.read_bytes()).hexdigest() for one in files}


@pytest.mark.parametrize("device", practice_cards.DEVICES)
def test_the_devices_reader_sees_none_and_undo_brings_all_back(device: str, tmp_path: Path) -> None:
    """The one that plays is put away: nothing plays, no trace is left, and all of it can be had again."""
    motion = practice_motion(device, tmp_path)
    motion.animate(motion.clip(duration=0.2), choose=True, author="me")
    before = content(motion.root)
    number = motion.apply(plan_remove_animation(motion.tree, motion.profile, "dawn"))
    assert "dawn" not in [one.name for one in read_animations(motion.tree, motion.profile)]
    assert not any("dawn" in path for path in content(motion.root))
    seen = practice_cards.read_device(device, motion.root)
    assert not seen["animation"] and seen["problems"] == []
    motion.undo(number)
    assert content(motion.root) == before


def test_one_that_shares_its_manifests_leaves_the_others_words(tmp_path: Path) -> None:
    """Settings of all in one file, an entry of a menu with its row: only its own go."""
    motion = lay_out("listed", tmp_path)
    motion.animate(motion.clip(duration=0.1), "dusk")
    before = content(motion.root)
    motion.animate(motion.clip(duration=0.1), "dawn", choose=True)
    plan = plan_remove_animation(motion.tree, motion.profile, "dawn")
    assert any("does not say how nothing does" in note for note in plan.notes)
    motion.apply(plan)
    after = content(motion.root)
    assert {path: after.get(path) for path in before if path != "main/start.xml"} == {
        path: known for path, known in before.items() if path != "main/start.xml"
    }
    assert set(after) == set(before)


def test_there_has_to_be_one(tmp_path: Path) -> None:
    motion = practice_motion("larkspur", tmp_path)
    with pytest.raises(EntryError, match="no boot animation"):
        plan_remove_animation(motion.tree, motion.profile, "nobody")


# Examined


def blink(motion: Motion, period: int, count: int = 50) -> None:
    """Frames that are black and white in turn, each so many frames long; 40 ms a frame."""
    from PIL import Image

    home = motion.root / "data/house/motion/river"
    for number in range(count):
        light = 255 * (number // period % 2)
        Image.new("RGB", (512, 384), (light,) * 3).save(home / f"{number}.png")
    text = (home / "play.conf").read_text()
    (home / "play.conf").write_text(
        text.replace("pictures=8", f"pictures={count}").replace("= 8", f"= {count}")
    )


@pytest.mark.parametrize(("period", "passes"), [(1, False), (13, True)])
def test_what_flashes_is_found_on_the_card(tmp_path: Path, period: int, passes: bool) -> None:
    """WCAG 2.2 SC 2.3.1: not more than three flashes in any second. 12.5 of them fail, one passes."""
    motion = practice_motion("larkspur", tmp_path)
    blink(motion, period)
    verdict = examine_animation(motion.tree, motion.profile, "river")
    assert verdict.passes is passes
    assert (verdict.first_failing_second is None) is passes


def test_it_is_stopped_and_says_what_it_cannot_examine(tmp_path: Path) -> None:
    from PIL import Image

    motion = practice_motion("larkspur", tmp_path)
    with pytest.raises(CancelledError):
        examine_animation(motion.tree, motion.profile, "river", cancelled=lambda: True)
    Image.new("RGB", (8, 8)).save(motion.root / "data/house/motion/river/3.png")
    with pytest.raises(MediaError, match=r"3\.png has another size"):
        examine_animation(motion.tree, motion.profile, "river")
    assert Fraction(1, 25) == read_animations(motion.tree, motion.profile)[0].pace.delay
