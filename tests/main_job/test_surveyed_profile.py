"""The main job with a profile that a survey proposed, and nothing else known of the device."""

from __future__ import annotations

import pytest
from device_view import comparable, differences, expected_view

from workbench.cli.main import main


@pytest.mark.parametrize(
    ("device", "menu_id", "old", "new"),
    [
        ("larkspur", "shelf", "Boats", "Sails"),
        ("fernway", "parlour/Puzzles", "Knots 9.game", "Ropes & 9.game"),
        ("orrery", "sky", "Moon", "Luna's Own"),
    ],
)
def test_survey_then_rename_then_all_else_at_once(
    device, menu_id, old, new, tmp_path, practice_card, read_device, capsys
):
    """The device shows all that it showed, under the new name; arrange, splash and undo work as well."""
    card, profile = practice_card(device), tmp_path / "surveyed.toml"
    before = read_device(device, card)
    use = [str(card), "--profile", str(profile)]
    assert main(["survey", str(card), "-o", str(profile)]) == 0
    assert main(["rename", use[0], old, new, *use[1:], "--yes"]) == 0
    wanted = expected_view(before, device, menu_id, old, new)
    assert differences(wanted, comparable(read_device(device, card))) == []
    assert main(["menu", *use]) == 0
    assert new in capsys.readouterr().out
    assert main(["arrange", use[0], "--first", new, *use[1:], "--dry-run"]) == 0
    assert main(["splash", use[0], "show", *use[1:]]) == 0
    assert main(["splash", use[0], "blank", *use[1:], "--yes"]) == 0
    assert main(["undo", *use, "--yes"]) == 0
    assert differences(wanted, comparable(read_device(device, card))) == []
