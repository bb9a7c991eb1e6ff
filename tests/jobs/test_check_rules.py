"""Every rule has a card that breaks it, and a card that nearly does."""

from __future__ import annotations

import gzip
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import practice_cards
import pytest
from checked_cards import (
    Change,
    append,
    blinking,
    bmp,
    both,
    check,
    crlf,
    link,
    make,
    nothing,
    of_rule,
    padded,
    png,
    prefix,
    profile_of,
    put,
    remove,
    replace,
    without_first_line,
)

from workbench.jobs.check.registry import FAMILIES, RULES

LATELY = "data/house/lately.txt"
REGISTER = "data/house/register.json"
BEGIN = "data/shelf/Boats/begin"
RIVER = "data/house/motion/river"
PLAY = f"{RIVER}/play.conf"
FIRST = "main/hello/first.bmp.gz"
HELLO = "system/greet/hello.bmp"
ROOMS = "main/settings/rooms.ini"
DOUBLE = b"\x00\x05\x16\x07\x00\x02\x00\x00"


@dataclass(frozen=True)
class Case:
    rule: str
    breaks: Change
    nearly: Change
    device: str = "larkspur"
    level: str | None = None
    """None: the rule's own."""
    names: str | None = None
    is_thorough: bool = False
    count: int = 1


CASES = (
    Case("dangling-reference", append(LATELY, "\nGone Away\n"), append(LATELY, "\n_quiet\n")),
    # an entry that is hidden is there; its row waits for it
    Case("dangling-reference", replace(REGISTER, '"pinned": [', '"pinned": ["Nobody",'),
         both(make("data/shelf/.Nobody"), replace(REGISTER, '"pinned": [', '"pinned": ["Nobody",'))),
    Case("dangling-reference", append("main/memory/favourites.list", "parlour/Puzzles/Gone.game\n"),
         append("main/memory/favourites.list", "parlour/Puzzles/Boats.game\n"), "fernway"),
    # settings beside the rows are no row of an entry
    Case("dangling-reference", append(ROOMS, "\n[Gone]\ntitle = Gone\n"),
         append(ROOMS, "\n[general]\nintro = river\nowner = me\n"), "fernway"),
    Case("missing-target", replace(REGISTER, "shelf/#9 Bus/begin", "shelf/#9 Bus/begun"),
         replace(REGISTER, "shelf/#9 Bus/begin", "shelf/#9 Bus/tale.txt")),
    Case("wrong-case", replace(REGISTER, '"pinned": [', '"pinned": ["BOATS",'),
         replace(REGISTER, '"pinned": [', '"pinned": ["Moss",'), names="exact"),
    Case("wrong-case", replace(REGISTER, '"pinned": [', '"pinned": ["BOATS",'),
         replace(REGISTER, '"pinned": [', '"pinned": ["Moss",'), level="note"),
    Case("malformed-manifest", replace(REGISTER, '"edition": 3,', '"edition": 3'),
         replace(REGISTER, '"edition": 3,', '"edition": 3, /* and so on */')),
    Case("duplicate-key", replace(ROOMS, "title = Tunes", "title = Tunes\ntitle = Songs"),
         replace(ROOMS, "title = Tunes", "title = Tunes\nsubtitle = Songs"), "fernway"),
    Case("duplicate-key", replace(REGISTER, '"edition": 3,', '"edition": 3, "edition": 4,'),
         replace(REGISTER, '"edition": 3,', '"edition": 3, "version": {"edition": 4},')),
    Case("script-line-ends", crlf(BEGIN), replace(BEGIN, "exec leaf", "exec  leaf")),
    Case("script-byte-order-mark", prefix(BEGIN, b"\xef\xbb\xbf"), replace(BEGIN, "exec", "#\xe9\nexec")),
    Case("no-interpreter-line", without_first_line(BEGIN), replace(BEGIN, "#!/bin/sh", "#!/bin/sh -e")),
    Case("unregistered-entry", make("data/shelf/Newcomer"), make("data/shelf/.newcomer")),
    Case("frame-gap", both(remove(f"{RIVER}/3.png"), replace(PLAY, "pictures=8", "pictures=7")),
         both(remove(f"{RIVER}/7.png"), replace(PLAY, "pictures=8", "pictures=7"))),
    Case("frame-size", put(f"{RIVER}/2.png", png(30, 30)), append(f"{RIVER}/2.png", "")),
    Case("frame-count", replace(PLAY, "pictures=8", "pictures=9"),
         replace(PLAY, "pictures=8", "pictures= 8")),
    Case("frame-pace", replace(PLAY, "hold_ms = 40", "hold_ms = 0"),
         replace(PLAY, "hold_ms = 40", "hold_ms = 1")),
    Case("missing-animation", replace(REGISTER, '"river"', '"sea"'), replace(REGISTER, '"river"', '"RIVER"')),
    Case("unknown-splash", put(HELLO, b"no picture"), put(HELLO, bmp(512, 384))),
    Case("missing-splash", remove("system/greet/fill.bmp"), nothing),
    Case("splash-size", put(HELLO, bmp(516, 384)), put(HELLO, bmp(512, 384))),
    Case("splash-size", put(HELLO, bmp(508, 384)), put(HELLO, bmp(512, 384)), level="warning"),
    Case("heavy-splash", put(HELLO, padded(bmp(512, 384), 1048577)),
         put(HELLO, padded(bmp(512, 384), 1048576))),
    # Fernway's loader unpacks a mebibyte, however few bytes the card takes
    Case(
        "heavy-splash",
        put(FIRST, gzip.compress(padded(bmp(480, 640), 1048577), mtime=0)),
        put(FIRST, gzip.compress(padded(bmp(480, 640), 1048576), mtime=0)),
        "fernway",
    ),
    Case("splash-kind", put(HELLO, bmp(512, 384, 32)), put(HELLO, bmp(512, 384, 24))),
    Case("splash-loader", put(HELLO, bmp(511, 384)), put(HELLO, bmp(510, 384))),
    Case("picture-size", put("data/house/small/Boats_s.png", png(63, 64)),
         put("data/house/small/Boats_s.png", png(64, 64))),
    Case("damaged-picture", put("data/house/small/Boats_s.png", b""),
         put("data/house/small/Boats_s.png", png(64, 64))),
    Case("orphaned-file", put("data/house/small/Nobody_s.png", png(64, 64)),
         both(make("data/shelf/.Nobody"), put("data/house/small/Nobody_s.png", png(64, 64)))),
    Case("illegal-name", make("data/notes/aux"), make("data/notes/auxiliary")),
    Case("illegal-name", put("data/notes/nul.txt", b""), put("data/notes/null.txt", b"")),
    Case("illegal-name", make("data/notes/ends."), make("data/notes/en.ds")),
    Case("illegal-name", put("data/notes/what?", b""), put("data/notes/what", b"")),
    Case("colliding-names", both(put("data/notes/List", b""), put("data/notes/list", b"")),
         both(put("data/notes/List", b""), put("data/notes/list.", b""))),
    Case("colliding-names", both(put("data/notes/\xe9", b""), put("data/notes/e\u0301", b"")),
         both(put("data/notes/\xe9", b""), put("data/notes/e", b""))),
    Case("long-name", make(f"data/shelf/{'n' * 65}"), make(f"data/shelf/{'n' * 64}")),
    Case("stacked-prefix", make("data/shelf/aa bb Harbour"), make("data/shelf/aa bbHarbour"), level="note"),
    Case("surprising-order", make("data/shelf/[old] Mill"), make("data/shelf/Mill [old]"), count=2),
    Case("bad-link", link("data/notes", "/etc"), link("data/notes", "house/lately.txt")),
    Case("bad-link", link("data/notes", "nowhere"), link("data/notes", "house")),
    Case("host-litter", put("data/notes/._list", DOUBLE), put("data/notes/._list", b"mine")),
    Case("host-litter", both(put("data/notes/._list", b""), put("data/notes/list", b"")),
         both(put("data/notes/._list", b""), put("data/notes/other", b""))),
    Case("host-litter", put("data/shelf/Thumbs.db", b""), put("data/shelf/thumbs.dbx", b"")),
    Case("host-litter", put("data/desktop.ini", b"[.ShellClassInfo]\r\n"),
         put("data/desktop.ini", b"[desk]\na=1\n")),
    # a file of a menu that the device would list is more than untidy
    Case("host-litter", put("main/parlour/Tunes/._Jig in D.tune", DOUBLE),
         put("main/parlour/Tunes/Jig in E.tune", b""), "fernway"),
    Case("lost-pieces", put("data/FOUND.000/FILE0000.CHK", b"x"), put("data/FOUND.00/FILE0000.CHK", b"x")),
    Case("flashing-animation", blinking(60, 2), blinking(60, 20), is_thorough=True),
)  # fmt: skip


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.rule)
def test_a_card_that_breaks_the_rule_and_one_that_nearly_does(case: Case, tmp_path: Path) -> None:
    """The one has findings of that rule at its level, the other has none more than the card as it was."""
    usual = of_rule(as_it_is(case.device, case.names, case.is_thorough, tmp_path.parent), case.rule)
    broken = of_rule(look(case, case.breaks, tmp_path / "broken"), case.rule)
    near = of_rule(look(case, case.nearly, tmp_path / "near"), case.rule)
    news = [one for one in broken if one not in usual]
    assert len(news) >= 1, broken
    assert all(one.level == (case.level or RULES[case.rule].level) for one in news), news
    assert not [one for one in near if one not in usual]


@cache
def as_it_is(device: str, names: str | None, is_thorough: bool, room: Path):  # type: ignore[no-untyped-def]
    """What the check finds on a card that nothing was done to; looked at once for all cases."""
    case = Case("", nothing, nothing, device, names=names, is_thorough=is_thorough)
    return look(case, nothing, room / f"{device}-{names}-{is_thorough}")


def look(case: Case, change: Change, room: Path):  # type: ignore[no-untyped-def]
    folder = practice_cards.lay_out(case.device, room / "card")
    change(folder)
    profile = profile_of(case.device, names=case.names, folder=room / "card")
    return check(folder, case.device, profile=profile, is_thorough=case.is_thorough)


BY_HEALTH = {
    "unfinished-change", "damaged-kept-copy", "lost-edit", "rewritten-file", "file-system-errors",
    "not-closed", "larger-than-device", "read-only", "unreadable-file", "low-space", "full-root-folder",
    "loud-sound",
}  # fmt: skip
"""Rules that `test_check_health` breaks: they speak of volumes, of the ledger, or of sounds."""


def test_every_rule_has_its_cards() -> None:
    """A new rule without a card that breaks it fails here; every name is used once."""
    assert {case.rule for case in CASES} | BY_HEALTH == set(RULES)
    assert len(RULES) == sum(len(family.rules) for family in FAMILIES)


@pytest.mark.parametrize("device", practice_cards.DEVICES)
def test_practice_cards_are_clean(device: str, practice_card: Callable[[str], Path]) -> None:
    """Neither an error nor a warning, with everything read and played."""
    found = check(practice_card(device), device, is_thorough=True)
    assert [one for one in found if one.level != "note"] == []


def test_a_dead_reference_is_found_once_for_all_menus(practice_card: Callable[[str], Path]) -> None:
    """A path through a room to an entry that is not there is one finding, not one for each menu's rules."""
    folder = practice_card("fernway")
    append("main/memory/favourites.list", "parlour/Puzzles/Gone.game\n")(folder)
    (one,) = of_rule(check(folder, "fernway"), "dangling-reference")
    assert one.line is not None and "Gone.game" in one.message and one.is_mendable


def test_a_malformed_manifest_is_looked_into_as_it_would_be_mended(
    practice_card: Callable[[str], Path],
) -> None:
    """What is wrong inside it is known before it is mended: mending brings nothing new to light."""
    folder = practice_card("larkspur")
    replace(REGISTER, '"pinned": [', '"pinned": ["Nobody",')(folder)
    replace(REGISTER, '"edition": 3,', '"edition": 3')(folder)
    found = check(folder, "larkspur")
    assert of_rule(found, "malformed-manifest")[0].is_mendable
    assert "Nobody" in of_rule(found, "dangling-reference")[0].message


def test_a_script_that_the_shell_refuses_is_malformed(practice_card: Callable[[str], Path]) -> None:
    """The shell decides, whatever line ends hide the fault."""
    folder = practice_card("larkspur")
    append(BEGIN, "\nif true; then\n")(folder)
    crlf(BEGIN)(folder)
    found = check(folder, "larkspur")
    assert {"script-line-ends", "malformed-manifest"} <= {one.rule for one in found}


def test_found_folders_are_never_removed(practice_card: Callable[[str], Path]) -> None:
    """They are reported; there is no mend for them."""
    folder = practice_card("larkspur")
    put("data/FOUND.000/FILE0000.CHK", b"x")(folder)
    assert not any(one.is_mendable for one in of_rule(check(folder, "larkspur"), "lost-pieces"))


def test_many_dead_lines_are_cut_off_and_said(practice_card: Callable[[str], Path]) -> None:
    """A long list gives a bounded number of findings, and one that says there are more."""
    folder = practice_card("larkspur")
    append(LATELY, "\n" + "".join(f"Gone {number}\n" for number in range(500)))(folder)
    found = check(folder, "larkspur")
    assert len(found) < 40
    assert any("the others are mended with them" in one.message for one in found)


def test_a_list_that_speaks_of_other_things_gives_notes_only(practice_card: Callable[[str], Path]) -> None:
    """Where hardly any text names an entry, the rule is doubted and not the card."""
    folder = practice_card("larkspur")
    put(LATELY, "".join(f"thought {number}\n" for number in range(9)).encode())(folder)
    assert {one.level for one in of_rule(check(folder, "larkspur"), "dangling-reference")} == {"note"}
