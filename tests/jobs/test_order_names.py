"""Choosing names for an order without a card: styles, separators, limits, names in the way, refusals."""

from __future__ import annotations

from pathlib import Path

import pytest

from workbench.card.entry import Entry, Menu
from workbench.card.paths import VolumePath
from workbench.card.profile_reader import parse_profile
from workbench.errors import EntryError, OrderRefusedError
from workbench.jobs.order_names import choose_order_names
from workbench.jobs.order_notes import say_prefixes
from workbench.order.collation import sort_names
from workbench.order.prefixes import split_prefix

PROFILE = """
schema = 1
name = "Plain"
[panel]
width = 1
height = 1
[volumes.one]
identify = ["shelf/"]
[[menus]]
id = "shelf"
root = "one:shelf"
entries = "{entries}"
match = {match}
hide = {hide}
order = "{order}"
prefix = {{ style = "{style}", separator = "{separator}", shown = {shown}, limit = {limit} }}
"""


def make_menu(names, order="bytes", **other):
    said = {
        "entries": "folders", "match": '["*"]', "hide": '[".*"]', "style": "shortest", "separator": " ",
        "shown": "true", "limit": 255, "order": order,
    } | other  # fmt: skip
    profile = parse_profile(PROFILE.format(**said).encode(), Path("plain.toml"), "built-in")
    rule, root = profile.menus[0], VolumePath("one", "shelf")
    listed = list(names) if order == "directory" else sort_names(names, order)
    entries = tuple(
        Entry(root.child(n), n, n, n, split_prefix(n, siblings=[o for o in listed if o != n])[0], at)
        for at, n in enumerate(listed, 1)
    )
    return Menu("shelf", rule, root, order, entries)


def choose(
    names, wanted, order="bytes", taken=(), weights=None, carried=(), style=None, separator=None, **other
):
    menu = make_menu(names, order, **other)
    renames = choose_order_names(
        menu, wanted, names="fat", taken=taken, weights=weights or {}, style=style, separator=separator,
        carried=carried,
    )  # fmt: skip
    after = sort_names([renames.get(name, name) for name in names], order)
    assert after == [renames.get(name, name) for name in wanted]
    return renames


ABC = ["Apple", "Boats", "Cherry", "Delta"]


@pytest.mark.parametrize("order", ["bytes", "letters", "letters-up", "natural"])
@pytest.mark.parametrize("style", ["shortest", "numbers", "letters"])
@pytest.mark.parametrize("separator", [" ", "-", "_", "."])
def test_every_style_with_every_separator(order, style, separator):
    """A reversed menu comes out reversed, each prefix of the style and known again."""
    names = ["apple", "boats", "cherry", "delta"]
    renames = choose(names, names[::-1], order, style=style, separator=separator)
    assert 1 <= len(renames) <= 4
    forms = {"numbers": str.isdecimal, "letters": str.isalpha, "shortest": str.isalnum}
    for old, new in renames.items():
        prefix, rest = split_prefix(new, [separator], [one for one in renames.values() if one != new])
        assert rest == old and prefix.endswith(separator) and forms[style](prefix[:-1])


def test_the_heavy_entry_keeps_its_name():
    """Of two that changed places the one with fewer references is renamed."""
    wanted = ["Boats", "Apple", "Cherry", "Delta"]
    assert list(choose(ABC, wanted, weights={"Apple": 9, "Boats": 1})) == ["Boats"]
    assert list(choose(ABC, wanted, weights={"Apple": 1, "Boats": 9})) == ["Apple"]


def test_where_the_work_is_equal_the_carried_one_is_renamed():
    """Moving one entry down does not rename the neighbour that it passed."""
    wanted = ["Boats", "Apple", "Cherry", "Delta"]
    assert list(choose(ABC, wanted, carried=["Apple"])) == ["Apple"]
    assert list(choose(ABC, wanted, carried=["Boats"])) == ["Boats"]


def test_a_prefix_is_replaced_and_a_needless_one_goes():
    """`05 Delta` sent last is `Delta` again; `05 Boats` sent behind it gets another prefix, not a second."""
    names = ["05 Delta", "Apple", "Boats", "Cherry"]
    assert choose(names, ["Apple", "Boats", "Cherry", "05 Delta"]) == {"05 Delta": "Delta"}
    (new,) = choose(["05 Boats", "Apple", "Zoo"], ["Apple", "Zoo", "05 Boats"]).values()
    assert new.endswith(" Boats") and len(new) == len("aa Boats")


def test_an_existing_prefix_that_serves_stays():
    """Only what has to change is changed."""
    names = ["05 Zoo", "07 Moss", "Apple"]
    assert "07 Moss" not in choose(names, ["07 Moss", "05 Zoo", "Apple"]) or "05 Zoo" not in choose(
        names, ["07 Moss", "05 Zoo", "Apple"]
    )


def test_a_word_with_a_number_keeps_it():
    """`7 Wonders` is a name, and what goes in front of it goes in front."""
    renames = choose(["7 Wonders", "Apple"], ["Apple", "7 Wonders"], carried=["7 Wonders"])
    assert renames["7 Wonders"].endswith(" 7 Wonders")


def test_room_is_left_on_both_sides():
    """A hundred entries can be sent first, one after the other."""
    names = [f"Entry {n:03d}" for n in range(100)]
    for number in range(40):
        moved = names[50]
        wanted = [moved, *(name for name in names if name != moved)]
        renames = choose(names, wanted, carried=[moved])
        names = [renames.get(name, name) for name in wanted]
        assert len(renames) <= 1 + number


def test_names_in_the_way_are_gone_round():
    """A hidden file or a sibling that is no entry keeps its name to itself, in any case."""
    first = choose(ABC, ["Delta", "Apple", "Boats", "Cherry"], carried=["Delta"])["Delta"]
    second = choose(ABC, ["Delta", "Apple", "Boats", "Cherry"], taken=[first.upper()], carried=["Delta"])[
        "Delta"
    ]
    assert second.upper() != first.upper()


def test_names_that_the_device_would_hide_are_not_made():
    """Neither prefixes that the menu hides, nor names that its globs do not take, are chosen."""
    renames = choose(ABC, ABC[::-1], hide='[".*", "0*", "?? *"]')
    assert all(not new.startswith("0") and new[2] != " " for new in renames.values())
    with pytest.raises(OrderRefusedError):
        choose(["Tale 1", "Tale 2"], ["Tale 2", "Tale 1"], entries="files", match='["Tale*"]')


def test_files_keep_their_suffix():
    """A prefix goes in front of the whole name."""
    names = ["a.game", "b.game"]
    (pair,) = choose(names, names[::-1], entries="files", match='["*.game"]').items()
    assert pair[1].endswith(pair[0])


@pytest.mark.parametrize("order", ["bytes", "letters", "letters-up", "natural"])
def test_awkward_names_in_every_order(order):
    """Case, digits by value, composed and decomposed letters, the longest names."""
    names = ["_a", "B", "a1", "a01", "a10", "\u00e9t\u00e9", "e\u0301ta", "x" * 200, "[q]", "😀" * 100]
    for turn in range(len(names)):
        wanted = names[turn:] + names[:turn][::-1]
        assert all(len(new) <= 255 for new in choose(names, wanted, order).values())


def test_no_room_is_refused_with_the_nearest_order():
    """Two names at the limit cannot change places; all others still stand as wanted."""
    names = ["A" * 20, "B" * 20, "c", "d"]
    with pytest.raises(OrderRefusedError, match="at most 20 characters") as caught:
        choose(names, ["d", "B" * 20, "c", "A" * 20], limit=20)
    near = caught.value.nearest
    assert sorted(near) == sorted(names) and near.index("d") < near.index("c")
    assert "The nearest order that can be had" in caught.value.message


def test_a_style_too_narrow_is_refused_with_the_reason():
    """Sixty entries of one name with letters alone: there are fifty-two prefixes of letters."""
    names = [f"{chr(0x4E00 + n)}" for n in range(60)]
    with pytest.raises(OrderRefusedError, match="letters"):
        choose(names, names[::-1], style="letters")
    assert len(choose(names, names[::-1])) >= 59


def test_numbers_have_one_width():
    """As many digits as the menu's own numbers have; bare numbers only among their like."""
    names = ["10 A", "20 B", "30 C", "D"]
    assert choose(names, ["10 A", "D", "20 B", "30 C"], style="numbers", carried=["D"]) == {"D": "15 D"}
    many = [f"n{n:03d}" for n in range(150)]
    widths = {len(new.split(" ")[0]) for new in choose(many, many[::-1], style="numbers").values()}
    assert widths == {3}


@pytest.mark.parametrize("wanted", [["Apple"], [*ABC, "Zoo"], [*ABC, "Boats"]])
def test_an_order_names_every_entry_once(wanted):
    """Missing, unknown and repeated names are refused by name."""
    with pytest.raises(EntryError, match=r"missing: Boats, Cherry, Delta|unknown: Zoo|named twice: Boats"):
        choose(ABC, wanted)


@pytest.mark.parametrize("separator", ["", "a", "5", "/", "*"])
def test_a_separator_that_tells_nothing_is_refused(separator):
    """The prefix could not be split off again, or the name could not be kept."""
    with pytest.raises(EntryError, match="--separator"):
        choose(ABC, ABC[::-1], separator=separator)


def test_in_directory_order_no_name_changes():
    """There the names are moved."""
    menu = make_menu(ABC, "directory")
    assert choose_order_names(menu, ABC[::-1], names="fat") == {}


def test_notes_say_what_the_screen_will_show():
    """With the prefix, or without where the device strips it; and what a separator does elsewhere."""
    menu = make_menu(ABC)
    assert say_prefixes(menu, {"Delta": "05 Delta"}) == (
        "The device shows the name with its prefix: 05 Delta.",
    )
    stripped = make_menu(ABC, shown="false")
    assert say_prefixes(stripped, {"Delta": "05 Delta"})[0].endswith("its screen will show Delta.")
    assert any("'_' sorts" in note for note in say_prefixes(menu, {"Delta": "05_Delta"}))
    assert any("suffix" in note for note in say_prefixes(menu, {"Delta": "05.Delta"}))
    assert say_prefixes(menu, {}) == ()
