"""Mending: one plan for many findings, nothing new afterwards, and the card as it was after an undo."""

from __future__ import annotations

import gzip
import random
from collections.abc import Callable
from io import BytesIO
from pathlib import Path
from typing import Any

import practice_cards
import pytest
from checked_cards import (
    Change,
    append,
    bmp,
    check,
    crlf,
    make,
    png,
    prefix,
    profile_of,
    put,
    remove,
    replace,
    without_first_line,
)
from PIL import Image

from workbench.card.discovery import open_card
from workbench.card.disk_tree import DiskTree
from workbench.card.paths import VolumePath
from workbench.changes.apply import apply
from workbench.changes.plan import Plan, Remove
from workbench.changes.undo import plan_undo
from workbench.jobs.check.checking import check_card
from workbench.jobs.check.finding import Finding, Remedy
from workbench.jobs.check.mending import Mending, plan_mends, trace_back
from workbench.jobs.splash import show, view

LATELY = "data/house/lately.txt"
REGISTER = "data/house/register.json"
RIVER = "data/house/motion/river"

LARKSPUR: tuple[Change, ...] = (
    append(LATELY, "\nGone Away\nGone Too\nGone Away\n"),
    replace(REGISTER, '"pinned": [', '"pinned": ["Nobody", "BOATS",'),
    replace(REGISTER, '"things": {', '"things": {"Ghost": {"says": "Boo", "begin": "shelf/Ghost/begin"},'),
    replace(REGISTER, '"edition": 3,', '"edition": 3'),
    crlf("data/shelf/Boats/begin"),
    prefix("data/shelf/Moss/begin", b"\xef\xbb\xbf"),
    without_first_line("data/shelf/SpeedBoats/begin"),
    remove(f"{RIVER}/3.png"),
    put(f"{RIVER}/9.png", png(64, 48)),
    replace(f"{RIVER}/play.conf", "pictures=8", "pictures=12"),
    put("data/.DS_Store", b"x"),
    put("data/shelf/._Boats", b"\x00\x05\x16\x07\x00\x02\x00\x00"),
    put("data/house/small/Nobody_s.png", png(64, 64)),
    make("data/shelf/aa bb Harbour"),
    make("data/shelf/aux"),
    put("data/FOUND.000/FILE0000.CHK", b"x"),
    put("data/house/small/Boats_s.png", png(63, 64)),
    crlf("system/start/10-shelf.sh"),
)
SEEN = "disk/almanac/seen.toml"
OTHERS: dict[str, tuple[Change, ...]] = {
    "fernway": (
        append("main/memory/favourites.list", "parlour/Puzzles/Gone.game\n"),
        append("main/settings/rooms.ini", "\n[Nowhere]\ntitle = Nowhere\n"),
        replace("main/settings/rooms.ini", "title = Tunes", "title = Tunes\ntitle = Songs"),
        append("main/parlour/Puzzles/room.ini", "\n[Ghost.game]\ntitle = Boo\n"),
        put("main/parlour/Tunes/._Jig in D.tune", b"\x00\x05\x16\x07\x00\x02\x00\x00"),
        put("main/faces/Puzzles/Ghost.png", png(48, 48)),
        put("main/parlour/Puzzles/01-02-Ghost.game", b"game"),
    ),
    "orrery": (
        replace("disk/almanac/catalogue.xml", 'dir="Moon"', 'dir="Sun Spot"'),
        replace(SEEN, "held = [", "held = [ 'Nobody',"),
        replace(SEEN, "[places]", "[places]\nNobody = 3"),
        put("disk/sky/Thumbs.db", b"x"),
        replace("disk/motion/comet/tempo.toml", "plates = 6", "plates = 5"),
        remove("disk/motion/comet/plate001.png"),
    ),
}


def break_some(folder: Path, changes: tuple[Change, ...], seed: int) -> None:
    """A seeded few of these, in a seeded order; one that no longer fits is passed by."""
    picks = random.Random(seed)
    for change in picks.sample(changes, picks.randint(2, len(changes))):
        try:
            change(folder)
        except (AssertionError, FileNotFoundError, FileExistsError):
            continue


def mend(folder: Path, device: str, rules: set[str] | None = None) -> tuple[Mending, tuple[Finding, ...]]:
    """Plan every mend, and look at the card as it would be."""
    profile = profile_of(device)
    tree = DiskTree(open_card(str(folder), [profile], profile))
    before = check_card(tree, profile)
    wanted = [one for one in before if rules is None or one.rule in rules]
    mending = plan_mends(tree, profile, wanted)
    after = check_card(mending.plan.on(tree), profile) if mending.plan.steps else before
    return mending, after


def identities(found: tuple[Finding, ...]) -> set[object]:
    return {one.identity for one in found}


@pytest.mark.parametrize(
    ("device", "seed"),
    [
        *(("larkspur", seed) for seed in range(5)),
        *(("fernway", seed) for seed in range(3)),
        *(("orrery", seed) for seed in range(2)),
    ],
)
def test_mending_never_creates_a_finding(device: str, seed: int, tmp_path: Path) -> None:
    """What is found afterwards was found before, and nothing that can be mended is left without a reason."""
    folder = practice_cards.lay_out(device, tmp_path / "card")
    break_some(folder, OTHERS.get(device, LARKSPUR), seed)
    before = check(folder, device)
    mending, after = mend(folder, device)
    assert {trace_back(mending.plan, one) for one in after} <= identities(before)
    left = {one.finding.identity for one in mending.left}
    assert {trace_back(mending.plan, one) for one in after if one.is_mendable} <= left


@pytest.mark.sweep
@pytest.mark.parametrize("device", practice_cards.DEVICES)
def test_mending_never_creates_a_finding_over_many_seeds(device: str, tmp_path: Path) -> None:
    """The same over seeds that nobody picked."""
    for seed in range(100, 140):
        folder = practice_cards.lay_out(device, tmp_path / str(seed))
        break_some(folder, OTHERS.get(device, LARKSPUR), seed)
        before = check(folder, device)
        mending, after = mend(folder, device)
        assert {trace_back(mending.plan, one) for one in after} <= identities(before), seed
        left = {one.finding.identity for one in mending.left}
        assert {trace_back(mending.plan, one) for one in after if one.is_mendable} <= left, seed


def test_everything_is_mended_as_one_change_and_taken_back(
    practice_card: Callable[[str], Path],
    tree_bytes: Callable[[Path], practice_cards.TreeBytes],
) -> None:
    """One change in the history; an undo gives every byte back."""
    folder = practice_card("larkspur")
    for change in LARKSPUR:
        change(folder)
    broken = tree_bytes(folder)
    mending, after = mend(folder, "larkspur")
    profile = profile_of("larkspur")
    card = open_card(str(folder), [profile], profile)
    made = apply(card, mending.plan)
    assert identities(check(folder, "larkspur")) == identities(after)
    apply(card, plan_undo(card, made.number))
    assert tree_bytes(folder) == broken


def test_only_the_rules_that_are_named_are_mended(practice_card: Callable[[str], Path]) -> None:
    """The rest of the card stays as it is."""
    folder = practice_card("larkspur")
    append(LATELY, "\nGone Away\n")(folder)
    put("data/.DS_Store", b"x")(folder)
    mending, after = mend(folder, "larkspur", {"host-litter"})
    assert [one.rule for one in mending.mended] == ["host-litter"]
    assert "dangling-reference" in {one.rule for one in after}


def test_a_mend_that_would_put_something_else_wrong_is_left(practice_card: Callable[[str], Path]) -> None:
    """No rule's remedy is known to do so; one that did is left with its reason, and the rest is mended."""
    folder = practice_card("larkspur")
    put("data/.DS_Store", b"x")(folder)
    profile = profile_of("larkspur")
    tree = DiskTree(open_card(str(folder), [profile], profile))
    found = check_card(tree, profile)
    begin = VolumePath("data", "shelf/Boats/begin")
    harmful = Remedy("take it away", lambda now, _: Plan("", (Remove(begin),) if now.stat(begin) else ()))
    bad = Finding("no-interpreter-line", "warning", begin, 1, "made up", harmful)
    mending = plan_mends(tree, profile, [*found, bad])
    assert [(one.finding, one.because) for one in mending.left] == [
        (bad, "mending it would put something else wrong")
    ]
    assert [one.rule for one in mending.mended] == ["host-litter"]
    assert mending.plan.on(tree).stat(begin) is not None


def test_a_long_list_is_mended_to_its_end(practice_card: Callable[[str], Path]) -> None:
    """Dead lines that come up behind those that were listed are mended too."""
    folder = practice_card("larkspur")
    append(LATELY, "\n" + "".join(f"Gone {number}\n" for number in range(90)))(folder)
    _, after = mend(folder, "larkspur")
    assert not [one for one in after if one.rule in ("dangling-reference", "missing-target")]


def test_an_entry_is_registered_as_its_neighbours_are(
    practice_card: Callable[[str], Path],
    read_device: Callable[[str, Path], dict[str, Any]],
) -> None:
    """The device then shows it under its name; the register stays well formed."""
    folder = practice_card("larkspur")
    make("data/shelf/Newcomer")(folder)
    (folder / "data/shelf/Newcomer/begin").write_bytes(b"#!/bin/sh\nexec leaf /mnt/store/notes.txt\n")
    mending, after = mend(folder, "larkspur")
    assert "unregistered-entry" not in {one.rule for one in after}
    profile = profile_of("larkspur")
    apply(open_card(str(folder), [profile], profile), mending.plan)
    assert "Newcomer" in str(read_device("larkspur", folder))


def test_the_list_keeps_its_other_lines(practice_card: Callable[[str], Path], read_device) -> None:  # type: ignore[no-untyped-def]
    """The device reads what it read before anything dead was added."""
    folder = practice_card("larkspur")
    before = read_device("larkspur", folder)
    put(LATELY, (folder / LATELY).read_bytes().replace(b"\n", b"\nGone Away\n", 2))(folder)
    mending, _ = mend(folder, "larkspur")
    profile = profile_of("larkspur")
    apply(open_card(str(folder), [profile], profile), mending.plan)
    assert read_device("larkspur", folder) == before


def test_renumbered_frames_keep_their_order(practice_card: Callable[[str], Path]) -> None:
    """A gap closes from behind it; pictures come in the order that they had."""
    folder = practice_card("larkspur")
    motion = folder / RIVER
    (motion / "0.png").unlink()
    (motion / "4.png").unlink()
    (motion / "12.png").write_bytes(png(64, 48, 7))
    wanted = [(motion / f"{n}.png").read_bytes() for n in (1, 2, 3, 5, 6, 7, 12)]
    mending, after = mend(folder, "larkspur")
    profile = profile_of("larkspur")
    apply(open_card(str(folder), [profile], profile), mending.plan)
    assert [(motion / f"{n}.png").read_bytes() for n in range(7)] == wanted
    assert not (motion / "12.png").exists()
    assert not [one for one in after if one.rule in ("frame-gap", "frame-count")]


@pytest.mark.parametrize("content", [bmp(516, 384), bmp(508, 384), bmp(511, 384), bmp(512, 384, 32)])
def test_a_splash_is_made_again_as_the_device_reads_it(
    content: bytes, practice_card: Callable[[str], Path]
) -> None:
    """Larger, smaller, sheared or of another depth: afterwards Pillow reads 512x384 of 24 bits."""
    folder = practice_card("larkspur")
    put("system/greet/hello.bmp", content)(folder)
    mending, after = mend(folder, "larkspur")
    assert not [one for one in after if one.level != "note"]
    profile = profile_of("larkspur")
    apply(open_card(str(folder), [profile], profile), mending.plan)
    with Image.open(folder / "system/greet/hello.bmp") as picture:
        assert (picture.size, picture.mode) == ((512, 384), "RGB")


def test_a_splash_that_was_stored_upright_is_turned(practice_card: Callable[[str], Path]) -> None:
    """Fernway's panel stands on its side: the picture is turned as its other splash is, not squeezed."""
    folder = practice_card("fernway")
    upright = Image.new("RGB", (640, 480), (0, 0, 0))
    upright.paste((255, 0, 0), (0, 0, 640, 60))
    held = BytesIO()
    upright.save(held, "BMP")
    put("main/hello/first.bmp.gz", gzip.compress(held.getvalue(), mtime=0))(folder)
    found = [one.rule for one in check(folder, "fernway") if one.level == "error"]
    assert "splash-size" in found and "splash-kind" in found
    mending, after = mend(folder, "fernway")
    assert not [one for one in after if one.level != "note"], after
    profile = profile_of("fernway")
    card = open_card(str(folder), [profile], profile)
    apply(card, mending.plan)
    seen = view(show(DiskTree(card), profile, "start"))
    assert seen.size == (640, 480)
    assert seen.getpixel((320, 20))[0] > 200 and seen.getpixel((320, 400))[0] < 20  # type: ignore[index]
