"""The traps of a rename: what names an entry, and what only looks like it."""

from __future__ import annotations

import sqlite3

import pytest
from small_card import FILES, MENU, SmallCard, places, rule

ENTRIES = {f"data:shelf/{name}/": "" for name in ("Boats", "Boats 2", "Boats2", "SpeedBoats", "Kites")}
PATHS = rule("data:house/**/*.txt", "lines", "{path}")


def _lines(
    tmp_path, text: str, is_: str = "{path}", at: str = "data:house/list.txt", extra: str = ""
) -> SmallCard:
    rules = MENU + rule("data:house/*.txt", "lines", is_) + rule("data:shelf/**/*.txt", "lines", is_) + extra
    return SmallCard(tmp_path, {**ENTRIES, at: text}, rules)


# Design of the selector language; paths after POSIX XBD 4.13, addresses after RFC 8089 and RFC 3986.
PATH_TABLE = [
    ("/mnt/store/shelf/Boats", "/mnt/store/shelf/[Boats]"),
    ("/mnt/store/shelf/Boats/go.sh", "/mnt/store/shelf/[Boats]/go.sh"),
    ("/mnt/store//shelf/./Boats//go", "/mnt/store//shelf/./[Boats]//go"),
    ("/mnt/store/shelf/Kites/../Boats/x", "/mnt/store/shelf/Kites/../[Boats]/x"),
    ("/mnt/store/shelf/Boats2/go.sh", None),
    ("/mnt/store/shelf/SpeedBoats", None),
    ("/mnt/store/shelf/Boats 2", None),
    ("/mnt/store/shelf/Boats 3", None),
    ("/mnt/store/keep/Boats", None),
    ("/mnt/store/shelf/Kites/Boats", None),
    ("/elsewhere/shelf/Boats", None),
    ("/sys-store/shelf/Boats", None),
    ("shelf/Boats/x", "shelf/[Boats]/x"),
    ("./shelf/Boats", "./shelf/[Boats]"),
    ("../shelf/Boats", "../shelf/[Boats]"),
    ("../../shelf/Boats", None),
    ("Boats", "[Boats]"),
    ("Boats/cover.png", "[Boats]/cover.png"),
    ("boats/cover.png", "[boats]/cover.png"),
    ("SHELF/BOATS", "SHELF/[BOATS]"),
    ("$STORE/shelf/Boats/x", "$STORE/shelf/[Boats]/x"),
    ("${STORE}/shelf/Boats", "${STORE}/shelf/[Boats]"),
    ("$OTHER/shelf/Boats", None),
    ("file:///mnt/store/shelf/Boats/a%20b", "file:///mnt/store/shelf/[Boats]/a%20b"),
    ("file://localhost/mnt/store/shelf/%42oats#t", "file://localhost/mnt/store/shelf/[%42oats]#t"),
    ("file:/mnt/store/shelf/Boats?x=1", "file:/mnt/store/shelf/[Boats]?x=1"),
    ("file://elsewhere/mnt/store/shelf/Boats", None),
    ("shelf/%42oats/x", "shelf/[%42oats]/x"),
    ("shelf\\Boats\\x", None),
    ("play /mnt/store/shelf/Boats/x --loud", "play /mnt/store/shelf/[Boats]/x --loud"),
    ("play '/mnt/store/shelf/Boats' 1", "play '/mnt/store/shelf/[Boats]' 1"),
    ("play /mnt/store/shelf/Boats 3", None),
    ("a sail in Boats of old", None),
]


@pytest.mark.parametrize(("line", "wanted"), PATH_TABLE)
def test_paths(tmp_path, line, wanted):
    """A path is a reference only where it really leads to the entry or below it."""
    found = _lines(tmp_path, f"first\n{line}\nlast\n").find("Boats")
    assert places(found) == ([("data:house/list.txt", 2, wanted)] if wanted else [])


def test_relative_path_that_is_there_elsewhere(tmp_path):
    """The manifest's own folder comes first: a path that is there does not lead to the entry."""
    card = _lines(tmp_path, "Boats/x\n")
    card.write("data:house/Boats/x", "")
    assert places(card.find("Boats")) == []
    card.path("data:house/Boats/x").unlink()
    card.path("data:house/Boats").rmdir()
    assert places(card.find("Boats")) == [("data:house/list.txt", 1, "[Boats]/x")]


def test_path_in_the_entry_itself(tmp_path):
    """A file in the entry names it too; a path relative to the file's own folder does not."""
    card = _lines(tmp_path, "/mnt/store/shelf/Boats/a\n./a\n../Boats/a\n", at="data:shelf/Boats/own.txt")
    found = places(card.find("Boats"))
    assert [(line, text) for _, line, text in found] == [
        (1, "/mnt/store/shelf/[Boats]/a"),
        (3, "../[Boats]/a"),
    ]


WHOLE = [
    ("Boats", "Boats", True),
    ("Boats", "boats", True),
    ("Boats", "BOATS", True),
    ("Boats", "Boats2", False),
    ("Boats", "SpeedBoats", False),
    ("Boats", "Boats 2", False),
    ("Boats", " Boats2", False),
    ("Boats 2", "boats 2", True),
]


@pytest.mark.parametrize(("entry", "line", "wanted"), WHOLE)
def test_whole_values_only(tmp_path, entry, line, wanted):
    """A value names the entry as a whole or not at all; FAT takes another case for the same."""
    found = _lines(tmp_path, f"{line}\n", "{entry}").find(entry)
    assert bool(places(found)) is wanted


def test_exact_device_minds_case(tmp_path):
    """Where the device tells case apart, another case is another name."""
    card = SmallCard(
        tmp_path, {**ENTRIES, "data:l.txt": "Boats\nboats\n"}, MENU + rule("data:l.txt", "lines"), "exact"
    )
    assert [line for _, line, _ in places(card.find("Boats"))] == [1]


def test_exact_spelling_wins_over_case(tmp_path):
    """Two entries that differ by case: each spelling names its own, a third spelling names neither."""
    files = {"data:shelf/Boats/": "", "data:shelf/boats/": "", "data:l.txt": "Boats\nboats\nBOATS\n"}
    card = SmallCard(tmp_path, files, MENU + rule("data:l.txt", "lines"))
    found = card.find("Boats")
    assert [line for _, line, _ in places(found)] == [1]
    assert [(one.line, len(one.entries)) for one in found.ambiguous] == [(3, 2)]


def test_composed_and_decomposed(tmp_path):
    """Failing spelling and case, equal after NFC names it (Unicode UAX 15); what is written is as asked."""
    files = {"data:shelf/Cafe\u0301/": "", "data:l.txt": "Caf\u00e9\nCAFE\u0301\n"}
    card = SmallCard(tmp_path, files, MENU + rule("data:l.txt", "lines"))
    assert [line for _, line, _ in places(card.find("Cafe\u0301"))] == [1, 2]
    card.rename("Cafe\u0301", "Th\u00e9")
    assert card.path("data:l.txt").read_text() == "Th\u00e9\nTh\u00e9\n"


def test_a_place_in_another_case_gets_the_new_name_itself(tmp_path):
    """A prefix in front of it too: what is written is byte for byte the name that the card now has."""
    files = {"data:shelf/Boats/": "", "data:l.txt": "boats\nBOATS\n"}
    card = SmallCard(tmp_path, files, MENU + rule("data:l.txt", "lines"))
    card.rename("Boats", "05 Boats")
    assert card.path("data:l.txt").read_text() == "05 Boats\n05 Boats\n"


def test_two_forms_of_one_name_are_ambiguous(tmp_path):
    """Where both forms are entries and the reference has a third spelling, nothing is guessed."""
    files = {"data:shelf/Cafe\u0301/": "", "data:shelf/Caf\u00e9/": "", "data:l.txt": "CAF\u00c9\n"}
    card = SmallCard(tmp_path, files, MENU + rule("data:l.txt", "lines"))
    found = card.find("Caf\u00e9")
    assert [line for _, line, _ in places(found)] == [1]  # equal by case to the composed one alone
    assert places(card.find("Cafe\u0301")) == []


KEYED = rule("data:r.json", "json", "", "/things/{entry}") + rule(
    "data:r.json", "json", "{path}", "/things/{k}/{f}"
)
LABELLED = MENU + 'label = { file = "data:r.json", format = "json", at = "/things/{entry}/says" }\n' + KEYED


def test_json_keys_escapes_and_labels(tmp_path):
    """Keys and escaped paths are found decoded; the shown name is never a reference nor a mention."""
    text = (
        '{"things": {\n"Boats": {"says": "Boats",\n"run": "\\/mnt\\/store\\/shelf\\/\\u0042oats\\/go"},\n'
        '"Boats2": {"says": "Boats"}}}'
    )
    card = SmallCard(tmp_path, {**ENTRIES, "data:r.json": text}, LABELLED)
    found = card.rename("Boats", 'A "new" \\ name')
    assert [line for _, line, _ in places(found)] == [2, 3]
    assert found.mentions == ()
    wanted = text.replace('"Boats":', '"A \\"new\\" \\\\ name":').replace(
        "\\u0042oats", 'A \\"new\\" \\\\ name'
    )
    assert card.path("data:r.json").read_text() == wanted


def test_key_whose_own_value_names_the_entry_too(tmp_path):
    """Both are renamed: the value is not held against what it was under the old key."""
    rules = rule("data:r.json", "json", "", "/{entry}") + rule("data:r.json", "json", "{path}", "/{key}")
    files = {"data:shelf/Boats/": "", "data:r.json": '{"Boats": "./shelf/Boats/x"}'}
    card = SmallCard(tmp_path, files, MENU + rules)
    card.rename("Boats", "Kites")
    assert card.path("data:r.json").read_text() == '{"Kites": "./shelf/Kites/x"}'


def test_key_that_is_there_already(tmp_path):
    """A rename that would give one key twice is refused, and the manifest stays as it is."""
    from workbench.errors import ManifestError

    card = SmallCard(tmp_path, {**ENTRIES, "data:r.json": '{"things": {"Boats": {}, "New": {}}}'}, LABELLED)
    with pytest.raises(ManifestError):
        card.rename("Boats", "New")
    assert card.path("data:r.json").read_text() == '{"things": {"Boats": {}, "New": {}}}'


def test_bindings_agree(tmp_path):
    """A place below one entry's key that names another is not taken for it."""
    rules = MENU + rule("data:r.json", "json", "art/{entry}.png", "/{entry}/art")
    text = '{"Boats": {"art": "art/Boats.png"}, "Kites": {"art": "art/Boats.png"}}'
    card = SmallCard(tmp_path, {**ENTRIES, "data:r.json": text}, rules)
    assert len(places(card.find("Boats"))) == 1


def test_file_pattern_that_names_the_entry(tmp_path):
    """`shelf/{entry}/begin` speaks of its own entry alone."""
    rules = MENU + rule("data:shelf/{entry}/own.txt", "lines")
    files = {**ENTRIES, "data:shelf/Boats/own.txt": "Boats\n", "data:shelf/Kites/own.txt": "Boats\n"}
    card = SmallCard(tmp_path, files, rules)
    found = card.find("Boats")
    assert places(found) == [("data:shelf/Boats/own.txt", 1, "[Boats]")]
    assert [(str(one.at), one.line) for one in found.mentions] == [("data:shelf/Kites/own.txt", 1)]


XML = rule("data:m.xml", "xml", "{path}", "/menu/0/item/{row}/@run") + rule(
    "data:m.xml", "xml", "{entry}", "/menu/0/item/{row}/id/0/#text"
)


def test_xml_entities(tmp_path):
    """Entities are undone before comparing and made again in writing (XML 1.0, section 4.6)."""
    text = '<menu><item run="/mnt/store/shelf/A &amp; B/x"><id>A &#38; B</id></item></menu>'
    card = SmallCard(tmp_path, {"data:shelf/A & B/": "", "data:m.xml": text}, MENU + XML)
    assert len(places(card.find("A & B"))) == 2
    card.rename("A & B", "C < D & 'E'")
    from xml.etree import ElementTree

    item = ElementTree.parse(card.path("data:m.xml")).getroot()[0]
    assert (item.get("run"), item[0].text) == ("/mnt/store/shelf/C < D & 'E'/x", "C < D & 'E'")


INI = rule("data:s.ini", "ini", "", "/{entry}") + rule("data:s.ini", "ini", "{entry}", "/{row}/next")


def test_ini_sections(tmp_path):
    """A section's name is a reference; comments and odd spacing stay."""
    text = "; Boats\n[Boats]\r\nnext =  Kites ; x\n[Kites]\nnext:Boats\n"
    card = SmallCard(tmp_path, {**ENTRIES, "data:s.ini": text}, MENU + INI)
    found = card.rename("Boats", "New one")
    assert card.path("data:s.ini").read_bytes().decode() == text.replace("[Boats]", "[New one]").replace(
        "next:Boats", "next:New one"
    )
    assert [(one.line, one.text) for one in found.mentions] == [(1, "; Boats")]


def test_malformed_manifest_blocks(tmp_path):
    """A manifest that cannot be read stands in the way if it could name the entry, else not."""
    files = {**ENTRIES, "data:r.json": '{"things": {"Boats": {}'}
    card = SmallCard(tmp_path, files, MENU + KEYED)
    assert [str(one.at) for one in card.find("Boats").blocked] == ["data:r.json"]
    assert card.find("Kites").blocked == ()
    card.write("data:r.json", '{"things": {"SpeedBoats": {}')
    assert card.find("Boats").blocked == ()


def test_key_twice_blocks(tmp_path):
    """A document that takes no edits stands in the way."""
    card = SmallCard(
        tmp_path, {**ENTRIES, "data:r.json": '{"things": {"Boats": {}, "Boats": {}}}'}, MENU + KEYED
    )
    assert [str(one.at) for one in card.find("Boats").blocked] == ["data:r.json"]


def test_pictures_and_companions(tmp_path):
    """File names are references: affixes, the suffix's case, the longest stem that fits."""
    rules = FILES.replace('"*.tale"]', '"*.tale"]\ncompanions = ["data:keep/{stem}.*"]')
    rules += '[[menus.pictures]]\nkind = "icon"\npath = "data:art/{stem}_s.png"\n'
    rules += '[[menus.pictures]]\nkind = "art"\npath = "data:art/{entry}/cover.png"\n'
    names = (
        "keep/Boats.sav",
        "keep/Boats.1.sav",
        "keep/Boats.2.sav",
        "keep/Boats2.sav",
        "keep/Boats",
        "art/Boats_s.PNG",
    )
    files = {
        f"data:{name}": ""
        for name in (*names, "art/Boats2_s.png", "art/Boats.tale/cover.png", "keep/boats.cfg")
    }
    files |= {f"data:tales/{name}.tale": "" for name in ("Boats", "Boats.2", "Boats2")}
    card = SmallCard(tmp_path, files, rules)
    found = card.rename("Boats.tale", "New.tale")
    assert sorted((str(file.at), file.kind) for file in found.files) == [
        ("data:art/Boats.tale", "art"),
        ("data:art/Boats_s.PNG", "icon"),
        ("data:keep/Boats.1.sav", "companion"),
        ("data:keep/Boats.sav", "companion"),
        ("data:keep/boats.cfg", "companion"),
    ]
    for place in (
        "art/New.tale/cover.png",
        "art/New_s.PNG",
        "keep/New.1.sav",
        "keep/New.cfg",
        "keep/Boats.2.sav",
    ):
        assert card.path(f"data:{place}").exists(), place


def test_path_of_a_picture_follows_it(tmp_path):
    """A path that leads to a file which moves with the entry is a reference too."""
    rules = MENU + PATHS + '[[menus.pictures]]\nkind = "icon"\npath = "data:art/{entry}_s.png"\n'
    files = {
        **ENTRIES,
        "data:art/Boats_s.PNG": "",
        "data:house/l.txt": "/mnt/store/art/Boats_s.PNG\nart/Boats_x.png\n",
    }
    card = SmallCard(tmp_path, files, rules)
    card.rename("Boats", "New")
    assert card.path("data:house/l.txt").read_text() == "/mnt/store/art/New_s.PNG\nart/Boats_x.png\n"


def test_stem_shared_by_two_entries_is_ambiguous(tmp_path):
    """A save that two entries could claim belongs to neither."""
    rules = FILES.replace('"*.tale"]', '"*.tale", "*.song"]\ncompanions = ["data:keep/{stem}.*"]')
    files = {"data:tales/Boats.tale": "", "data:tales/Boats.song": "", "data:keep/Boats.sav": ""}
    found = SmallCard(tmp_path, files, rules).find("Boats.tale")
    assert found.files == ()
    assert [str(one.at) for one in found.ambiguous] == ["data:keep/Boats.sav"]


PARENTS = FILES.replace("data:tales", "data:rooms/{parent}")


def test_same_name_in_two_rooms(tmp_path):
    """A path says which room; a bare name that two rooms have is ambiguous."""
    text = "rooms/Sea/Boats.tale\n/mnt/store/rooms/Air/Boats.tale\nBoats.tale\n"
    files = {"data:rooms/Sea/Boats.tale": "", "data:rooms/Air/Boats.tale": "", "data:house/l.txt": text}
    card = SmallCard(tmp_path, files, PARENTS + PATHS)
    found = card.find("tales/Sea:Boats.tale")
    assert [line for _, line, _ in places(found)] == [1]
    assert [one.line for one in found.ambiguous] == [3]


def test_parent_in_the_file_says_which_room(tmp_path):
    """`{parent}` in a rule's file binds the menu."""
    rules = PARENTS + rule("data:rooms/{parent}/order.txt", "lines")
    files = {f"data:rooms/{room}/{name}": "" for room in ("Sea", "Air") for name in ("Boats.tale",)}
    files |= {f"data:rooms/{room}/order.txt": "Boats.tale\n" for room in ("Sea", "Air")}
    found = SmallCard(tmp_path, files, rules).find("tales/Air:Boats.tale")
    assert places(found) == [("data:rooms/Air/order.txt", 1, "[Boats.tale]")]
    assert found.ambiguous == ()


def test_parent_in_the_text_says_which_room(tmp_path):
    """`{parent}` in `is` binds the menu."""
    rules = PARENTS + rule("data:l.txt", "lines", "{parent}|{stem}")
    files = {
        "data:rooms/Sea/Boats.tale": "",
        "data:rooms/Air/Boats.tale": "",
        "data:l.txt": "Air|Boats\nSea|Boats\n",
    }
    card = SmallCard(tmp_path, files, rules)
    card.rename("tales/Sea:Boats.tale", "New.tale")
    assert card.path("data:l.txt").read_text() == "Air|Boats\nSea|New\n"


def test_unruled_mentions(tmp_path):
    """Text gives file and line, a binary the offset; longer words and longer names are not meant."""
    readme = "Boats is here.\nBoats2, SpeedBoats and Boats 2 are not.\r\nthe boats; (Boats)\n"
    files = {**ENTRIES, "data:readme": readme, "data:art/x.png": "Boats", "data:raw": b"\0\1Boats\0\0BoatsX"}
    found = SmallCard(tmp_path, files, MENU).find("Boats")
    assert [(str(one.at), one.line, one.text, one.offset) for one in found.mentions] == [
        ("data:raw", None, "Boats", 2),
        ("data:readme", 1, "Boats is here.", None),
        ("data:readme", 3, "the boats; (Boats)", None),
    ]


def test_database_and_wide_text(tmp_path):
    """A database that mentions the name is listed with an offset; so is UTF-16."""
    card = SmallCard(tmp_path, ENTRIES, MENU)
    base = sqlite3.connect(tmp_path / "data/plays.db")
    base.execute("create table t (name text)")
    base.execute("insert into t values ('Boats')")
    base.commit()
    base.close()
    card.write("data:wide", b"\xff\xfe" + "Boats".encode("utf-16-le"))
    found = {str(one.at): one for one in card.find("Boats").mentions}
    raw = (tmp_path / "data/plays.db").read_bytes()
    offset = found["data:plays.db"].offset
    assert offset is not None and raw[offset : offset + 5] == b"Boats"
    assert found["data:wide"].offset == 2


def test_file_name_under_no_rule(tmp_path):
    """A file elsewhere that bears the name is a mention; what lies in the entry moves along and is none."""
    files = {
        **ENTRIES,
        "data:else/Boats.txt": "",
        "data:else/Boats 2.txt": "",
        "data:shelf/Boats/Boats.rom": "",
    }
    found = SmallCard(tmp_path, files, MENU).find("Boats")
    assert [(str(one.at), one.line, one.text) for one in found.mentions] == [
        ("data:else/Boats.txt", None, "Boats.txt")
    ]


def test_large_text_is_said_not_to_be_searched(tmp_path):
    """Over 8 MiB nothing is searched; text is noted, other data is not."""
    big = 8 * 1024 * 1024 + 1
    files = {**ENTRIES, "data:log": b"Boats\n" * (big // 6 + 1), "data:rom": b"\0Boats" * (big // 6 + 1)}
    found = SmallCard(tmp_path, files, MENU).find("Boats")
    assert (found.mentions, [str(at) for at in found.unsearched]) == ((), ["data:log"])


def test_link_out_of_the_volume_is_not_read(tmp_path):
    """A ruled link out is never followed and stands in the way; an unruled one is passed by."""
    (tmp_path / "secret.txt").write_text("Boats\n")
    card = SmallCard(tmp_path, ENTRIES, MENU + rule("data:l.txt", "lines"))
    (tmp_path / "data/l.txt").symlink_to("../secret.txt")
    (tmp_path / "data/other.txt").symlink_to("../secret.txt")
    found = card.find("Boats")
    assert [str(one.at) for one in found.blocked] == ["data:l.txt"]
    assert found.mentions == ()


def test_link_within_the_volume_is_one_manifest(tmp_path):
    """The file behind the link is edited once."""
    card = SmallCard(tmp_path, {**ENTRIES, "data:real": "Boats\n"}, MENU + rule("data:*.txt", "lines"))
    for name in ("a.txt", "b.txt"):
        (tmp_path / "data" / name).symlink_to("real")
    assert {str(manifest.at) for manifest in card.find("Boats").manifests} == {"data:real"}


def test_other_menus_answer_for_their_own(tmp_path):
    """A place that names an entry of another menu is no mention of this one."""
    other = FILES.replace('"*.tale"', '"*"').replace("tales", "songs") + rule("data:songs.txt", "lines")
    files = {**ENTRIES, "data:songs/Boats": "", "data:songs.txt": "Boats\n# Boats\n"}
    found = SmallCard(tmp_path, files, MENU + other).find("shelf:Boats")
    assert [(str(one.at), one.line) for one in found.mentions] == [("data:songs.txt", 2)]


def test_all_references_agree_with_one_by_one(tmp_path):
    """Every entry at once finds what each alone finds."""
    from workbench.card.menu import read_menus
    from workbench.card.references import find_all_references, find_references

    text = "".join(f"{line}\n" for line, _ in PATH_TABLE) + "Kites\nshelf/boats2\n"
    card = _lines(tmp_path, text)
    everything = find_all_references(card.tree, card.profile)
    for menu in read_menus(card.tree, card.profile):
        for entry in menu.entries:
            alone = find_references(card.tree, card.profile, menu, entry, mentions=False).references
            assert everything.get(entry.at, ()) == alone


def test_entry_that_is_gone(tmp_path):
    """An entry that went away meanwhile is said to be gone."""
    from workbench.card.menu import read_menus
    from workbench.card.references import find_references
    from workbench.errors import CardError

    card = SmallCard(tmp_path, ENTRIES, MENU)
    menu = read_menus(card.tree, card.profile)[0]
    card.path("data:shelf/Boats").rmdir()
    with pytest.raises(CardError, match="no longer there"):
        find_references(card.tree, card.profile, menu, menu.entries[0])


def test_absent_volume_is_said(tmp_path):
    """Rules that point at a volume which is not there leave something unknown: that is said."""
    from workbench.card.disk_tree import DiskTree
    from workbench.card.menu import read_menus
    from workbench.card.references import find_references
    from workbench.card.volumes import Card, Volume

    card = SmallCard(tmp_path, ENTRIES, MENU + rule("system:start/*.sh", "shell", "{path}"))
    volumes = {"data": Volume("data", tmp_path / "data"), "system": Volume.absent("system")}
    tree = DiskTree(Card("Plain", volumes, card.profile, "folder"))
    menu = read_menus(tree, card.profile)[0]
    assert find_references(tree, card.profile, menu, menu.entries[0]).absent == ("system",)
    assert card.find("Boats").absent == ()


def test_an_entrys_own_name_is_mentioned_though_it_is_anothers_stem(tmp_path):
    """`Boats.tale` is the first entry's name and the stem of `Boats.tale.tale`."""
    files = {"data:tales/Boats.tale": "", "data:tales/Boats.tale.tale": "", "data:note.txt": "Boats.tale\n"}
    found = SmallCard(tmp_path, files, FILES).find("Boats.tale")
    assert [(str(one.at), one.line) for one in found.mentions] == [("data:note.txt", 1)]


def test_a_path_through_the_entry_to_one_of_another_menu_is_mentioned(tmp_path):
    """A rule of the inner menu answers for the inner name, not for the folder's on the way to it."""
    inner = '[[menus]]\nid = "in"\nroot = "data:shelf/{parent}"\nentries = "files"\nmatch = ["*.t"]\n'
    rules = MENU + inner + rule("data:l.txt", "lines", "{path}")
    files = {"data:shelf/Boats/a.t": "", "data:shelf/Cars/Boats.t": ""}
    lines = "/mnt/store/shelf/Boats/a.t\n/mnt/store/shelf/Cars/Boats.t\n"
    found = SmallCard(tmp_path, {**files, "data:l.txt": lines}, rules).find("shelf:Boats")
    assert [(str(one.at), one.line) for one in found.mentions] == [("data:l.txt", 1)]


def test_wide_xml_that_names_the_entry_is_in_the_way(tmp_path):
    """XML in UTF-16 is not edited; a rename that would leave a name in it behind is told so."""
    raw = '<?xml version="1.0" encoding="UTF-16"?><l><e n="Boats"/></l>'
    rules = MENU + rule("data:w.xml", "xml", "{entry}", "/l/0/e/{n}/@n")
    card = SmallCard(tmp_path, {"data:shelf/Boats/": "", "data:shelf/Cars/": ""}, rules)
    for codec in ("utf-16", "utf-16-be"):
        card.write("data:w.xml", ("\ufeff" * (codec != "utf-16") + raw).encode(codec))
        assert [str(one.at) for one in card.find("Boats").blocked] == ["data:w.xml"]
        assert card.find("Cars").blocked == ()
