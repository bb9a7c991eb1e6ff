"""The invented cards themselves: the truth about each must hold before anything is measured by it."""

from __future__ import annotations

from pathlib import Path

import pytest
from layouts import FIXED_SEEDS, TRAITS, make_layout
from scoring import score_profile


@pytest.mark.parametrize("seed", FIXED_SEEDS)
def test_true_profile_finds_all_and_no_more(seed: int, tmp_path: Path) -> None:
    """The hand-written profile of each card finds every reference, invents none, and shows what is shown."""
    plan = make_layout(seed)
    score = score_profile(plan, plan.write(tmp_path / "card"), plan.profile)
    assert (score.recall, score.precision) == (1.0, 1.0), score.details()
    assert score.menus and score.labels and score.splashes, score.details()
    assert score.expected > 20


def test_seed_makes_the_same_card() -> None:
    """A seed stands for one card: files, truth and profile."""
    one, other = make_layout(58), make_layout(58)
    assert one.files == other.files
    assert one.profile == other.profile
    assert sum(map(len, one.places.values())) == sum(map(len, other.places.values()))


def test_fixed_seeds_have_every_trait() -> None:
    """Each convention that can be dealt out is on some card of the fixed set, and missing from another."""
    plans = [make_layout(seed) for seed in FIXED_SEEDS]
    for trait in TRAITS:
        assert 0 < sum(trait in plan.traits for plan in plans) < len(plans), trait
    formats = {rule["format"] for plan in plans for menu in plan.menus for rule in menu.references}
    assert formats == {"json", "toml", "ini", "keyvalue", "shell", "xml", "lines"}
    assert {menu.entries for plan in plans for menu in plan.menus} == {"folders", "files"}
    assert {len(plan.volumes) for plan in plans} == {1, 2}
    assert {splash["kind"]["container"] for plan in plans for splash in plan.splashes} >= {"bmp", "raw"}
    assert any(plan.animation for plan in plans)
    assert any(menu.outer for plan in plans for menu in plan.menus)


@pytest.mark.sweep
@pytest.mark.parametrize("start", range(1000, 1200, 25))
def test_true_profile_holds_over_many_seeds(start: int, tmp_path: Path) -> None:
    """The same over seeds that nobody picked."""
    for seed in range(start, start + 25):
        plan = make_layout(seed)
        score = score_profile(plan, plan.write(tmp_path / str(seed)), plan.profile)
        assert (score.recall, score.precision) == (1.0, 1.0), score.details()
        assert score.menus and score.labels and score.splashes, score.details()
