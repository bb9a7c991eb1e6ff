"""Menus as the device lists them."""

from __future__ import annotations

import time

import pytest
from small_card import FILES, MENU, SmallCard

from workbench.card.disk_tree import DiskTree
from workbench.card.menu import find_entry, read_menus, stem_of
from workbench.card.volumes import Card, Volume
from workbench.errors import CardError, EntryError
from workbench.jobs.label import plan_label

LABEL = 'label = { file = "data:names.json", format = "json", at = "/things/{entry}/says" }\n'


def _names(card: SmallCard, menu: int = 0) -> list[str]:
    return [entry.name for entry in read_menus(card.tree, card.profile)[menu].entries]


def test_folders_in_order_without_hidden_ones_and_files(tmp_path):
    """A menu of folders lists folders, in the device's order, and not what it hides."""
    card = SmallCard(
        tmp_path,
        {
            "data:shelf/b/": "",
            "data:shelf/B/": "",
            "data:shelf/_a/": "",
            "data:shelf/.x/": "",
            "data:shelf/f": "",
        },
        MENU,
    )
    assert _names(card) == ["B", "_a", "b"]


def test_files_by_glob_whatever_the_case(tmp_path):
    """FAT knows no case, so `*.tale` takes `.TALE` too; stems lose their suffix."""
    card = SmallCard(
        tmp_path, {"data:tales/b.TALE": "", "data:tales/a.tale": "", "data:tales/c.txt": ""}, FILES
    )
    menu = read_menus(card.tree, card.profile)[0]
    assert [(entry.name, entry.stem, entry.position) for entry in menu.entries] == [
        ("a.tale", "a", 1),
        ("b.TALE", "b", 2),
    ]


def test_parent_menus(tmp_path):
    """`{parent}` makes a menu of each folder."""
    rules = FILES.replace("data:tales", "data:rooms/{parent}/list")
    files = {"data:rooms/Sea/list/b.tale": "", "data:rooms/Air/list/a.tale": "", "data:rooms/Empty/": ""}
    card = SmallCard(tmp_path, files, rules)
    menus = read_menus(card.tree, card.profile)
    assert [(menu.id, menu.parent, [e.name for e in menu.entries]) for menu in menus] == [
        ("tales/Air", "Air", ["a.tale"]),
        ("tales/Sea", "Sea", ["b.tale"]),
    ]
    assert [menu.id for menu in read_menus(card.tree, card.profile, "tales/Sea")] == ["tales/Sea"]
    with pytest.raises(EntryError, match="tales/Air"):
        read_menus(card.tree, card.profile, "tales/Fire")


def test_labels_and_names_first(tmp_path):
    """Labels come from the manifest; without them every label is the name."""
    register = (
        '{"things": {"Boats": {"says": "The \\u00e9 Boats"}, "KITES": {"says": "Up"}, "Gone": {"says": "x"}}}'
    )
    files = {
        "data:shelf/Boats/": "",
        "data:shelf/Kites/": "",
        "data:shelf/Moss/": "",
        "data:names.json": register,
    }
    card = SmallCard(tmp_path, files, MENU + LABEL)
    labels = [entry.label for entry in read_menus(card.tree, card.profile)[0].entries]
    assert labels == ["The é Boats", "Up", "Moss"]
    plain = read_menus(card.tree, card.profile, labels=False)[0]
    assert [entry.label for entry in plain.entries] == ["Boats", "Kites", "Moss"]


def test_label_by_key(tmp_path):
    """Where `at` cannot name the entry, `key` does, and the placeholders of both agree."""
    label = LABEL.replace('at = "/things/{entry}/says"', 'at = "/{g}/{row}/says", key = "/{g}/{row}/id"')
    rows = '{"a": [{"id": "Boats", "says": "One"}, {"id": "Kites"}], "b": [{"id": "x", "says": "y"}]}'
    card = SmallCard(
        tmp_path, {"data:shelf/Boats/": "", "data:shelf/Kites/": "", "data:names.json": rows}, MENU + label
    )
    assert [entry.label for entry in read_menus(card.tree, card.profile)[0].entries] == ["One", "Kites"]


def test_label_in_a_file_of_each_entry(tmp_path):
    """The file's own path may name the entry."""
    label = 'label = { file = "data:shelf/{entry}/about.ini", format = "ini", at = "/{entry}/says" }\n'
    files = {
        "data:shelf/Boats/about.ini": "[Boats]\nsays = Mine\n[Kites]\nsays = Not mine\n",
        "data:shelf/Kites/": "",
    }
    card = SmallCard(tmp_path, files, MENU + label)
    assert [entry.label for entry in read_menus(card.tree, card.profile)[0].entries] == ["Mine", "Kites"]


@pytest.mark.parametrize("shelf", ["data:shelf/{entry}/about.ini", "data:notes/{stem}.ini"])
def test_label_in_a_file_that_is_about_one_entry(tmp_path, shelf):
    """Each entry has a file of its own, which the path alone gives to it; setting it is found there too."""
    label = f'label = {{ file = "{shelf}", format = "ini", at = "/card/says" }}\n'
    files = {"data:shelf/Boats/": "", "data:shelf/Boats 2/": "", "data:shelf/Moss/": ""}
    for name in ("Boats", "Boats 2"):
        files[shelf.replace("{entry}", name).replace("{stem}", name)] = f"[card]\nsays = About {name}\n"
    card = SmallCard(tmp_path, files, MENU + label)
    (menu,) = read_menus(card.tree, card.profile)
    assert {entry.name: entry.label for entry in menu.entries} == {
        "Boats": "About Boats",
        "Boats 2": "About Boats 2",
        "Moss": "Moss",
    }
    plan = plan_label(card.tree, card.profile, menu, menu.entries[0], "Ships")
    (write,) = plan.steps
    assert write.content == b"[card]\nsays = Ships\n"


def test_malformed_labels_never_hide_a_menu(tmp_path):
    """The menu lists names and says what is wrong."""
    card = SmallCard(tmp_path, {"data:shelf/Boats/": "", "data:names.json": '{"things": '}, MENU + LABEL)
    menu = read_menus(card.tree, card.profile)[0]
    assert [entry.label for entry in menu.entries] == ["Boats"]
    assert menu.label_error is not None and menu.label_error.path == "data:names.json"


def test_missing_folder_is_not_empty(tmp_path):
    """A root that is not there is said to be missing."""
    card = SmallCard(tmp_path, {"system:start/": ""}, MENU)
    assert read_menus(card.tree, card.profile)[0].is_missing


def test_link_to_a_folder_counts_and_one_that_leads_out_does_not(tmp_path):
    """Links are followed within the volume only."""
    card = SmallCard(tmp_path, {"data:shelf/Boats/": "", "data:else/Kites/": ""}, MENU)
    (tmp_path / "data/shelf/Kites").symlink_to("../else/Kites")
    (tmp_path / "data/shelf/Out").symlink_to("../../..")
    assert _names(card) == ["Boats", "Kites"]


def test_two_thousand_entries_are_quick(tmp_path):
    """Labels of 2,000 entries come from one reading: far less than one opening for each."""
    names = [f"Entry {n:04d}" for n in range(2000)]
    register = '{"things": {' + ",".join(f'"{name}": {{"says": "Says {name}"}}' for name in names) + "}}"
    card = SmallCard(tmp_path, {"data:names.json": register}, MENU + LABEL)
    for name in names:
        (tmp_path / "data/shelf" / name).mkdir(parents=True)
    start = time.perf_counter()
    menu = read_menus(card.tree, card.profile)[0]
    assert menu.entries[1999].label == "Says Entry 1999"
    # Generous for a busy machine; one opening for each entry takes minutes.
    assert time.perf_counter() - start < 10


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("Boats", "Boats"),
        ("kites", "Kites"),
        ("Café", "Cafe\u0301"),
        ("shelf:Boats", "Boats"),
        ("The shown one", "Moss"),
        ("morning", "05 Morning"),
    ],
)
def test_find_entry(tmp_path, text, wanted):
    """A person may write the name in another case, composed, with its menu, or as it is shown."""
    files = {
        f"data:shelf/{name}/": ""
        for name in ("Boats", "boats 2", "Kites", "Cafe\u0301", "Moss", "05 Morning")
    }
    files["data:names.json"] = '{"things": {"Moss": {"says": "The shown one"}}}'
    card = SmallCard(tmp_path, files, MENU + LABEL)
    assert find_entry(read_menus(card.tree, card.profile), text)[1].name == wanted


def test_find_entry_refuses_to_guess(tmp_path):
    """Several that fit are listed; none that fits brings the closest."""
    card = SmallCard(tmp_path, {"data:tales/Boats.tale": "", "data:tales/boats.TALE": ""}, FILES)
    menus = read_menus(card.tree, card.profile)
    assert find_entry(menus, "Boats.tale")[1].name == "Boats.tale"
    with pytest.raises(EntryError, match=r"Boats\.tale, tales:boats\.TALE"):
        find_entry(menus, "BOATS.tale")
    with pytest.raises(EntryError, match=r"closest: Boats\.tale|closest: boats\.TALE"):
        find_entry(menus, "Boots.tale")


def test_absent_volume(tmp_path):
    """A menu on an absent volume is an error, never an empty menu."""
    card = SmallCard(tmp_path, {"data:shelf/a/": ""}, MENU)
    volumes = {"data": Volume.absent("data"), "system": Volume("system", tmp_path / "system")}
    tree = DiskTree(Card("Plain", volumes, card.profile, "folder"))
    with pytest.raises(CardError, match="absent"):
        read_menus(tree, card.profile)


@pytest.mark.parametrize(
    ("name", "match", "wanted"),
    [
        ("a.tale", '"*.tale"', "a"),
        ("a.b.tale", '"*.tale"', "a.b"),
        ("a.tar.gz", '"*.tar.gz"', "a"),
        ("a.TAR.gz", '"*.tar.gz"', "a"),
        ("noext", '"*"', "noext"),
        (".x", '"*"', ".x"),
    ],
)
def test_stem(tmp_path, name, match, wanted):
    """The stem is what stands before the suffix."""
    card = SmallCard(tmp_path, {}, FILES.replace('"*.tale"', match))
    assert stem_of(name, card.profile.menus[0]) == wanted


def test_the_suffix_of_a_file_is_not_what_a_prefix_stands_before(tmp_path):
    """`aa.tale` is a name of two letters; only `aa.b.tale` has a prefix."""
    card = SmallCard(tmp_path, {"data:tales/aa.tale": "", "data:tales/bb.b.tale": ""}, FILES)
    menu = read_menus(card.tree, card.profile)[0]
    assert [(entry.name, entry.prefix) for entry in menu.entries] == [
        ("aa.tale", ""),
        ("bb.b.tale", "bb."),
    ]
