"""Folders that are links, as a card with ext4 can have them: followed within the volume, never out of it."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from workbench.cli.main import main


def _put_behind_link(folder: Path, real: Path) -> None:
    """Move a folder away and leave a relative link in its place."""
    os.rename(folder, real)
    folder.symlink_to(os.path.relpath(real, folder.parent))


@pytest.mark.parametrize("name", ["house", "shelf", "keep"])
def test_a_link_within_the_volume_is_followed(name, practice_card, read_device, tree_bytes, tmp_path, capsys):
    """The device's reader sees the same as on a card without the link, before and after."""
    linked = practice_card("larkspur").rename(tmp_path / "linked")
    plain = practice_card("larkspur")
    _put_behind_link(linked / "data" / name, linked / "data" / f"{name}-2")
    start = tree_bytes(linked)
    for card in (plain, linked):
        assert main(["rename", str(card), "Boats", "Sails", "--yes"]) == 0
    assert read_device("larkspur", linked) == read_device("larkspur", plain)
    assert main(["undo", str(linked), "--yes"]) == 0
    assert tree_bytes(linked) == start
    capsys.readouterr()


@pytest.mark.parametrize("name", ["house", "keep"])
def test_a_link_out_of_the_volume_stops_a_rename(name, practice_card, tree_bytes, tmp_path, capsys):
    """What lies behind it may name the entry, and is not ours to change."""
    card = practice_card("larkspur")
    _put_behind_link(card / "data" / name, tmp_path / "elsewhere")
    start, outside = tree_bytes(card), tree_bytes(tmp_path / "elsewhere")
    assert main(["rename", str(card), "Boats", "Sails", "--yes"]) == 1
    assert f"data:{name} is reached through a link that leads out of the volume" in capsys.readouterr().err
    assert (tree_bytes(card), tree_bytes(tmp_path / "elsewhere")) == (start, outside)


def test_a_menu_behind_a_link_out_says_so(practice_card, tmp_path, capsys):
    """It is not shown as merely empty."""
    card = practice_card("larkspur")
    _put_behind_link(card / "data" / "shelf", tmp_path / "elsewhere")
    assert main(["menu", str(card)]) == 0
    assert "leads out of the volume" in capsys.readouterr().err
