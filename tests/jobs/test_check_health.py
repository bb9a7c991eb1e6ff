"""Rules about volumes and the ledger: by values that break them and that nearly do, and end to end."""

from __future__ import annotations

import hashlib
import struct
import wave
from collections.abc import Callable
from io import BytesIO
from math import pi, sin
from pathlib import Path

import pytest
from checked_cards import append, check, of_rule, profile_of, put

from workbench.card.discovery import open_card
from workbench.card.disk_tree import DiskTree
from workbench.card.health import (
    CardHealth,
    KeptFault,
    LedgerHealth,
    OwnEdit,
    VolumeHealth,
    judge_first_sector,
    read_health,
    stated_size,
)
from workbench.card.mounts import Mount
from workbench.card.paths import VolumePath
from workbench.card.volumes import Card
from workbench.changes.apply import apply
from workbench.changes.ledger_health import read_ledger_health
from workbench.errors import CardError
from workbench.jobs.check.checking import check_card
from workbench.jobs.check.motion import measure_wave
from workbench.jobs.check.space import count_slots, is_fat16
from workbench.jobs.edit import plan_set
from workbench.jobs.health import measure_space

GIB = 1 << 30


def volume(**fields: object) -> VolumeHealth:
    usual: dict[str, object] = {
        "role": "data", "filesystem": "vfat", "size_bytes": GIB, "free_bytes": GIB // 2,
        "cluster_bytes": 32768,
    }  # fmt: skip
    return VolumeHealth(**(usual | fields))  # type: ignore[arg-type]


SEEN = VolumePath("disk", "almanac/seen.toml")


@pytest.mark.parametrize(
    ("rule", "broken", "nearly"),
    [
        ("file-system-errors", {"has_failed": True, "read_only": "became so"}, {"read_only": "is so"}),
        ("file-system-errors", {"error_count": 3}, {"error_count": 0}),
        ("file-system-errors", {"cleanness": "failing"}, {"cleanness": "unknown"}),
        ("not-closed", {"cleanness": "dirty"}, {"cleanness": "unknown", "because": "cannot be read"}),
        ("larger-than-device", {"device_bytes": GIB - 512}, {"device_bytes": GIB}),
        ("larger-than-device", {"device_bytes": GIB, "stated_bytes": GIB + 512}, {"stated_bytes": GIB + 512}),
        ("read-only", {"read_only": "is mounted read-only"}, {}),
        ("low-space", {"free_bytes": GIB // 100 - 1}, {"free_bytes": GIB // 100 + 32768}),
        ("low-space", {"free_bytes": 63 * 32768, "size_bytes": 64 << 20},
         {"free_bytes": 64 * 32768, "size_bytes": 64 << 20}),
        # nobody writes to a volume that is full and read-only
        ("low-space", {"free_bytes": 0}, {"free_bytes": 0, "read_only": "is mounted read-only"}),
    ],
)  # fmt: skip
def test_volumes(
    rule: str, broken: dict[str, object], nearly: dict[str, object], practice_card: Callable[[str], Path]
) -> None:
    """Found where it is so, silent where it only nearly is."""
    folder = practice_card("larkspur")
    assert of_rule(check(folder, "larkspur", health=CardHealth((volume(**broken),))), rule)
    assert not of_rule(check(folder, "larkspur", health=CardHealth((volume(**nearly),))), rule)


def test_a_full_root_folder_of_a_fat16(practice_card: Callable[[str], Path]) -> None:
    """Long names take several of its 512 places; a FAT32 has no such limit."""
    folder = practice_card("larkspur")
    for number in range(155):
        put(f"data/a long name {number:03}", b"")(folder)
    sixteen, large = volume(), volume(size_bytes=8 * GIB)
    assert is_fat16(sixteen) and not is_fat16(large)
    assert of_rule(check(folder, "larkspur", health=CardHealth((sixteen,))), "full-root-folder")
    assert not of_rule(check(folder, "larkspur", health=CardHealth((large,))), "full-root-folder")


@pytest.mark.parametrize(
    ("name", "slots"), [("README.TXT", 1), ("readme.txt", 2), ("n" * 13, 2), ("n" * 14, 3), ("n" * 255, 21)]
)
def test_places_that_names_take(name: str, slots: int) -> None:
    """Microsoft, FAT32 File System Specification 1.03: one for each 13 units and one for the short name."""
    assert count_slots(name) == slots


def test_what_the_ledger_says(practice_card: Callable[[str], Path]) -> None:
    """An unfinished change is an error; copies that are gone are named."""
    folder = practice_card("larkspur")
    fault = KeptFault(VolumePath("data", "house/lately.txt"), 3, "the copy is gone")
    ledger = LedgerHealth("change 4 (Rename)", (fault,))
    found = check(folder, "larkspur", health=CardHealth((), ledger))
    assert of_rule(found, "unfinished-change")[0].level == "error"
    assert "change 3" in of_rule(found, "damaged-kept-copy")[0].message
    fine = check(folder, "larkspur", health=CardHealth((), LedgerHealth()))
    assert not of_rule(fine, "unfinished-change") and not of_rule(fine, "damaged-kept-copy")


def test_an_edit_that_the_device_wrote_over(practice_card: Callable[[str], Path]) -> None:
    """Orrery writes seen.toml at its end: an edit that stands is watched, one that is gone is lost."""
    folder = practice_card("orrery")
    now = hashlib.sha256((folder / "disk/almanac/seen.toml").read_bytes()).hexdigest()

    def found(sha256: str, at: VolumePath = SEEN) -> set[str]:
        ledger = LedgerHealth(edits=(OwnEdit(at, 2, sha256),))
        return {one.rule for one in check(folder, "orrery", health=CardHealth((), ledger))}

    assert "lost-edit" in found("0" * 64) and "rewritten-file" not in found("0" * 64)
    assert "rewritten-file" in found(now) and "lost-edit" not in found(now)
    assert "lost-edit" not in found("0" * 64, VolumePath("disk", "almanac/catalogue.xml"))


def test_a_real_change_whose_copies_are_spoilt(practice_card: Callable[[str], Path]) -> None:
    """From the ledger on the card: whole after a change, a finding once a byte of the pack is flipped."""
    folder = practice_card("orrery")
    profile = profile_of("orrery")
    card = open_card(str(folder), [profile], profile)
    apply(card, plan_set(DiskTree(card), profile, SEEN, "/last", "Sun's Edge"))
    health = read_health(card).with_ledger(read_ledger_health(card))
    assert [one.rule for one in check_card(DiskTree(card), profile, health) if one.rule != "wrong-case"] == [
        "rewritten-file"
    ]
    (pack,) = (folder / "disk/.cardwright/changes").glob("*/kept.pack")
    raw = bytearray(pack.read_bytes())
    raw[len(raw) // 2] ^= 1
    pack.write_bytes(raw)
    (fault,) = read_ledger_health(card).faults
    assert (fault.at, fault.number) == (SEEN, 1)
    append("disk/almanac/seen.toml", "\n# again\n")(folder)
    spoilt = read_health(card).with_ledger(read_ledger_health(card))
    found = {one.rule for one in check_card(DiskTree(card), profile, spoilt)}
    assert {"lost-edit", "damaged-kept-copy"} <= found


def test_a_copy_that_was_put_away_is_missed(practice_card: Callable[[str], Path]) -> None:
    """What a change removed lies in the ledger; where it is gone the change is named."""
    from workbench.changes.plan import Plan, Remove

    folder = practice_card("larkspur")
    card = open_card(str(folder), [profile_of("larkspur")], profile_of("larkspur"))
    apply(card, Plan("Put away", (Remove(VolumePath("data", "house/lately.txt")),)))
    assert read_ledger_health(card).faults == ()
    (kept,) = (folder / "data/.cardwright/changes").glob("*/kept/*")
    kept.unlink()
    assert [one.number for one in read_ledger_health(card).faults] == [1]


# Volumes as the system tells them


def test_a_mount_that_failed_and_a_device_that_is_too_small(tmp_path: Path) -> None:
    """The kernel makes it read-only after an error; sysfs tells the device's size and ext4's count."""
    root, sys_folder = tmp_path / "card", tmp_path / "sys"
    (root / "FOUND.000").mkdir(parents=True)
    (sys_folder / "class/block/sdz1").mkdir(parents=True)
    (sys_folder / "class/block/sdz1/size").write_text("2048\n")
    (sys_folder / "fs/ext4/sdz1").mkdir(parents=True)
    (sys_folder / "fs/ext4/sdz1/errors_count").write_text("2\n")
    mount = Mount(str(root), "/dev/sdz1", "ext4", ("rw",), super_options=("ro",))
    card = small_card(root, size_bytes=2048 * 512 + 1)
    (found,) = read_health(card, [mount], sys_folder).volumes
    assert found.has_failed and found.error_count == 2
    assert found.device_bytes == 2048 * 512 and found.is_larger_than_device
    assert found.lost_folders == ("FOUND.000",)
    assert len(found.signs) == 3


def test_a_folder_is_no_device(tmp_path: Path) -> None:
    """A card in a folder says nothing of the disk that the folder lies on."""
    (tmp_path / "card").mkdir()
    mount = Mount("/", "/dev/sdz1", "ext4", ("rw",), super_options=("rw",))
    (found,) = read_health(small_card(tmp_path / "card", size_bytes=99), [mount], tmp_path).volumes
    assert (found.device_bytes, found.size_bytes, found.signs) == (None, 0, ())


def small_card(root: Path, **fields: object) -> Card:
    from workbench.card.volumes import Volume

    return Card("card", {"data": Volume("data", root, **fields)}, None, "folder")  # type: ignore[arg-type]


def fat(*, is_32: bool, state: int, sectors: int = 4096) -> bytes:
    """A FAT's first sector, by hand (Microsoft, FAT32 File System Specification 1.03)."""
    sector = bytearray(512)
    struct.pack_into("<HB", sector, 11, 512, 8)
    struct.pack_into("<H", sector, 22, 0 if is_32 else 32)
    struct.pack_into("<I", sector, 32, sectors)
    sector[65 if is_32 else 37] = state
    sector[510:512] = b"\x55\xaa"
    return bytes(sector)


def exfat(flags: int, sectors: int = 4096) -> bytes:
    """An exFAT's first sector, by hand (exFAT specification, table 3)."""
    sector = bytearray(512)
    sector[3:11] = b"EXFAT   "
    struct.pack_into("<Q", sector, 72, sectors)
    struct.pack_into("<H", sector, 106, flags)
    sector[108] = 9
    sector[510:512] = b"\x55\xaa"
    return bytes(sector)


@pytest.mark.parametrize(
    ("first", "filesystem", "is_writable", "cleanness"),
    [
        (fat(is_32=True, state=1), "vfat", False, "dirty"),
        (fat(is_32=True, state=0), "vfat", False, "clean"),
        (fat(is_32=False, state=1), "vfat", False, "dirty"),
        (fat(is_32=False, state=0), "vfat", False, "clean"),
        (fat(is_32=True, state=1), "vfat", True, "unknown"),
        (exfat(0), "exfat", True, "clean"),
        (exfat(2), "exfat", True, "dirty"),
        (exfat(2), "fuseblk", True, "unknown"),
        (exfat(2), "fuseblk", False, "dirty"),
        (exfat(4), "fuseblk", True, "failing"),
        (bytes(512), "vfat", False, "unknown"),
    ],
)
def test_the_mark_in_the_first_sector(
    first: bytes, filesystem: str, is_writable: bool, cleanness: str
) -> None:
    """What is mounted for writing by a driver that marks it all the time tells nothing then."""
    found, because = judge_first_sector(first, filesystem, is_writable=is_writable)
    assert found == cleanness
    assert bool(because) == (cleanness == "unknown")


def test_the_size_that_a_file_system_states() -> None:
    """Sectors times their size, in both kinds; nothing where there is neither."""
    assert stated_size(fat(is_32=True, state=0)) == stated_size(exfat(0)) == 4096 * 512
    assert stated_size(bytes(512)) is None


# Files and sounds


def test_unreadable_files_are_named_when_everything_is_read(
    practice_card: Callable[[str], Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    """One that the card does not give, and one that ends early."""
    from workbench.jobs.check import health

    def read(_tree: object, at: VolumePath) -> int:
        if at.name == "lately.txt":
            raise OSError(5, "Input/output error")
        if at.name == "register.json":
            return 3
        return 1 << 40

    monkeypatch.setattr(health, "read_through", read)
    folder = practice_card("larkspur")
    found = of_rule(check(folder, "larkspur", is_thorough=True), "unreadable-file")
    assert {one.at.name for one in found} == {"lately.txt", "register.json"}
    assert not of_rule(check(folder, "larkspur"), "unreadable-file")


def test_a_file_behind_a_closed_folder_is_a_card_error() -> None:
    """The sentence of an error keeps only its reason; the finding has the place."""
    from workbench.jobs.check.health import _reason

    error = CardError("cannot read data:x: the card answered with a read error; nothing was changed.")
    assert _reason(error) == "the card answered with a read error"


def tone(level: float, seconds: float = 1.0, rate: int = 48000) -> bytes:
    """A sine of 997 Hz on both channels, at so many dBFS."""
    held = BytesIO()
    with wave.open(held, "wb") as sound:
        sound.setparams((2, 2, rate, 0, "NONE", ""))
        count = int(rate * seconds)
        top = 32767 * 10 ** (level / 20)
        fade = rate // 20
        for n in range(count):
            value = round(top * min(1, n / fade, (count - n) / fade) * sin(2 * pi * 997 * n / rate))
            sound.writeframesraw(struct.pack("<2h", value, value))
    return held.getvalue()


@pytest.mark.parametrize(("level", "is_loud"), [(-10.0, True), (-19.0, False)])
def test_loud_sounds(level: float, is_loud: bool, practice_card: Callable[[str], Path]) -> None:
    """A tone of so many dBFS on two channels is at so many LUFS (EBU Tech 3341): above -16 is loud here."""
    folder = practice_card("larkspur")
    put("data/house/motion/river/sound.wav", tone(level))(folder)
    measured = measure_wave(tone(level))
    assert measured is not None and measured[0] == pytest.approx(level, abs=0.3)
    found = [
        one
        for one in of_rule(check(folder, "larkspur", is_thorough=True), "loud-sound")
        if one.level != "note"
    ]
    assert bool(found) == is_loud


def test_space_by_what_takes_it(practice_card: Callable[[str], Path]) -> None:
    """Counted in whole allocation units; what is in a menu is not counted with the rest."""
    folder = practice_card("orrery")
    profile = profile_of("orrery")
    tree = DiskTree(open_card(str(folder), [profile], profile))
    health = volume(role="disk", cluster_bytes=4096)
    shares = {share.words: share.bytes for share in measure_space(tree, profile, (health,), 7)}
    comet = (folder / "disk/motion/comet").iterdir()
    assert shares["the animation comet"] == sum(-(-file.stat().st_size // 4096) * 4096 for file in comet)
    assert sum(shares.values()) - 7 == sum(
        -(-file.stat().st_size // 4096) * 4096 for file in folder.rglob("*") if file.is_file()
    )
