"""A folder of numbered pictures is a clip."""

from __future__ import annotations

from fractions import Fraction

import pytest
from PIL import Image

from workbench.errors import MediaError
from workbench.media.clip_folder import find_gaps, find_numbered


def lay_out(folder, names, size=(64, 48)):
    """Pictures whose red says which place in `names` they have."""
    folder.mkdir()
    for index, name in enumerate(names):
        Image.new("RGB", size, (index * 10, 0, 0)).save(folder / name)
    return folder


def reds(report, folder):
    return [
        Image.open(folder / file.name).convert("RGB").getpixel((30, 20))[0] // 10 for file in report.frames
    ]


def test_pictures_come_in_the_order_of_their_numbers(render, tmp_path):
    """2 before 10, whatever the padding; the first number need not be 0."""
    source = lay_out(tmp_path / "row", ["f3.png", "f004.png", "f5.png", "f10.png", "f11.png"])
    report, folder = render(source)
    assert reds(report, folder) == [0, 1, 2, 3, 4]
    assert "6 to 9 are missing" in report.notes[0]


def test_each_stands_as_long_as_was_asked(render, tmp_path):
    """At 10 a second and 25 frames a second: by the times, not by counting."""
    report, folder = render(lay_out(tmp_path / "row", ["0.png", "1.png"]), source_delay=Fraction(1, 10))
    assert reds(report, folder) == [0, 0, 0, 1, 1]


def test_the_longest_row_counts(tmp_path):
    """Other pictures, other suffixes and other names beside it are left out, and counted."""
    names = ["a1.png", "b1.png", "b2.png", "b3.png", "cover.png", "b2.jpg", "b02.png"]
    numbered, left_out = find_numbered(lay_out(tmp_path / "mixed", names))
    assert [(number, file.name) for number, file in numbered] == [(1, "b1.png"), (2, "b2.png"), (3, "b3.png")]
    assert left_out == 4


@pytest.mark.parametrize(
    ("name", "number"), [("part2_frame013b.png", 13), ("7.png", 7), ("x-00.PNG", 0), ("2024-05.png", 5)]
)
def test_the_last_number_of_a_name_counts(name, number, tmp_path):
    """Leading zeros and what stands in front or behind do not."""
    assert find_numbered(lay_out(tmp_path / "one", [name]))[0][0][0] == number


def test_gaps():
    """First and last missing number of each."""
    assert find_gaps([1, 2, 5, 7]) == [(3, 4), (6, 6)]


def test_a_folder_without_numbers_is_refused(render, tmp_path):
    """One sentence that says what is looked for."""
    with pytest.raises(MediaError, match="no numbered pictures"):
        render(lay_out(tmp_path / "none", ["cover.png"]))
