"""Finding cards: readers, slots, the device itself; never the running system's disk."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest
from fake_computer import FakeComputer

from workbench.card.discovery import find_cards, open_card
from workbench.card.profile import Profile
from workbench.card.profile_reader import parse_profile
from workbench.errors import AmbiguousCardError, CardError

Make = Callable[[Path], Path]
Profiles = tuple[Profile, ...]


def test_the_volumes_of_one_medium_are_one_card(
    computer: FakeComputer, profiles: Profiles, tmp_path: Path, make_data: Make, make_system: Make
) -> None:
    """Two partitions of one USB reader: one card, roles by what lies in them, label from udev."""
    computer.add_disk("sdb", "usb1/1-2", removable=1, parts=2)
    computer.mount("/dev/sdb1", make_system(tmp_path / "media" / "GREET"))
    computer.mount("/dev/sdb2", make_data(tmp_path / "media" / "MY STORE"), "exfat")
    computer.label("sdb2", "MY STORE")
    (card,) = find_cards(profiles, computer.look())
    assert card.profile is profiles[0] and card.source == "removable" and card.name == "MY STORE"
    assert card.volume("data").root.name == "MY STORE" and card.volume("data").filesystem == "exfat"
    assert card.volume("system").device == "/dev/sdb1" and card.absent == ()


def test_two_readers_are_two_cards(
    computer: FakeComputer, profiles: Profiles, tmp_path: Path, make_data: Make
) -> None:
    """Volumes of different media are never mixed."""
    for name in ("sdb", "sdc"):
        computer.add_disk(name, f"usb-{name}", removable=1, parts=1)
        computer.mount(f"/dev/{name}1", make_data(tmp_path / name))
    assert [card.name for card in find_cards(profiles, computer.look())] == ["sdb", "sdc"]


def test_a_volume_that_is_not_there_is_absent(
    computer: FakeComputer, profiles: Profiles, tmp_path: Path, make_data: Make
) -> None:
    """Absent is said, with the partition that is not mounted; it is never an empty volume."""
    computer.add_disk("mmcblk0", "mmc0", mmc="SD", parts=2)
    computer.mount("/dev/mmcblk0p1", make_data(tmp_path / "STORE"))
    (card,) = find_cards(profiles, computer.look())
    assert [volume.role for volume in card.absent] == ["system"]
    assert any("/dev/mmcblk0p2" in note and "not mounted" in note for note in card.notes)
    with pytest.raises(CardError, match="absent"):
        card.volume("system")


def test_a_medium_of_which_nothing_is_mounted_is_shown_absent(
    computer: FakeComputer, profiles: Profiles
) -> None:
    """A person sees why the card cannot be worked on."""
    computer.add_disk("sdb", "usb1", removable=1, parts=1)
    computer.label("sdb1", "STORE")
    (card,) = find_cards(profiles, computer.look())
    assert card.name == "STORE" and card.present == () and card.volumes["STORE"].device == "/dev/sdb1"
    with pytest.raises(CardError, match=r"nothing on it is mounted \(/dev/sdb1\)"):
        open_card("STORE", profiles, computer=computer.look())


def test_an_empty_reader_is_no_card(computer: FakeComputer, profiles: Profiles) -> None:
    """A reader without a medium reports size 0."""
    computer.add_disk("sdb", "usb1", removable=1)
    computer.remove_medium("sdb")
    assert find_cards(profiles, computer.look()) == ()


def test_a_card_without_a_profile_goes_by_its_labels(
    computer: FakeComputer, profiles: Profiles, tmp_path: Path
) -> None:
    """An unknown card is shown too; two volumes of one label stay apart, and a colon is no separator."""
    computer.add_disk("sdb", "usb1", removable=1, parts=2)
    for number, parent in ((1, "a"), (2, "b")):
        folder = tmp_path / parent / "ODD:ONE"
        folder.mkdir(parents=True)
        computer.mount(f"/dev/sdb{number}", folder)
    (card,) = find_cards(profiles, computer.look())
    assert card.profile is None and list(card.volumes) == ["ODD_ONE", "ODD_ONE 2"]


@pytest.mark.parametrize("filesystem", ["fuseblk", "fuse.exfat-fuse", "fuse"])
def test_exfat_by_fuse_counts(
    computer: FakeComputer, profiles: Profiles, tmp_path: Path, make_data: Make, filesystem: str
) -> None:
    """FUSE has no block device number of its own: the source names the device."""
    computer.add_disk("sdb", "usb1", removable=1, parts=1)
    computer.mount("/dev/sdb1", make_data(tmp_path / "STORE"), filesystem, number="0:51")
    (card,) = find_cards(profiles, computer.look())
    assert card.volume("data").filesystem == filesystem and card.volume("data").device == "/dev/sdb1"


def test_a_loop_device_is_offered_where_a_profile_matches(
    computer: FakeComputer, profiles: Profiles, tmp_path: Path, make_data: Make
) -> None:
    """An image of a card may be worked on; the system's own loop mounts are not shown."""
    (tmp_path / "snap").mkdir()
    for number, folder in enumerate((tmp_path / "snap", make_data(tmp_path / "STORE"))):
        computer.add_disk(f"loop{number}", "virtual", backing_file="/var/image")
        computer.mount(f"/dev/loop{number}", folder, "fuseblk")
    assert [card.name for card in find_cards(profiles, computer.look())] == ["STORE"]


def test_a_bind_mount_and_a_second_mount_add_no_volume(
    computer: FakeComputer, profiles: Profiles, tmp_path: Path, make_data: Make
) -> None:
    """One file system is one volume, however often it is mounted."""
    computer.add_disk("sdb", "usb1", removable=1, parts=1)
    computer.mount("/dev/sdb1", tmp_path / "bound", inner="/shelf")
    computer.mount("/dev/sdb1", make_data(tmp_path / "STORE"))
    computer.mount("/dev/sdb1", make_data(tmp_path / "again"))
    (card,) = find_cards(profiles, computer.look())
    assert card.volume("data").root.name == "STORE"


@pytest.mark.parametrize("point", ["/", "/boot", "/boot/firmware", "/home", "/usr"])
def test_the_disk_of_the_running_system_is_never_offered(
    tmp_path: Path, profiles: Profiles, make_data: Make, point: str
) -> None:
    """A stick or SD card that the system runs from is no card, whatever lies on its other partitions."""
    fake = FakeComputer(tmp_path / "c")
    fake.add_disk("mmcblk0", "mmc0", mmc="SD", parts=2)
    fake.mount("/dev/mmcblk0p1", point, "ext4")
    fake.mount("/dev/mmcblk0p2", make_data(tmp_path / "STORE"))
    assert find_cards(profiles, fake.look()) == ()


def test_the_system_is_found_through_encryption(tmp_path: Path, profiles: Profiles, make_data: Make) -> None:
    """Root on LUKS on a USB stick: the stick carries the system."""
    fake = FakeComputer(tmp_path / "c")
    fake.add_disk("sdb", "usb1", removable=1, parts=2)
    fake.add_disk("dm-0", "virtual", slaves=("sdb1",))
    fake.mount("/dev/mapper/vault0", "/", "btrfs", number="0:30")
    fake.mount("/dev/sdb2", make_data(tmp_path / "STORE"))
    assert find_cards(profiles, fake.look()) == ()


def test_the_system_is_found_through_an_overlay_and_a_loop(
    tmp_path: Path, profiles: Profiles, make_data: Make
) -> None:
    """A live system: root is an overlay over a squashed image that lies on the stick."""
    fake = FakeComputer(tmp_path / "c")
    fake.add_disk("sdb", "usb1", removable=1, parts=2)
    fake.add_disk("loop0", "virtual", backing_file="/run/live/medium/root.img")
    fake.mount("overlay", "/", "overlay", super_options="rw,lowerdir=/run/live/rootfs,upperdir=/run/cow/up")
    fake.mount("tmpfs", "/run/cow", "tmpfs")
    fake.mount("/dev/sdb1", "/run/live/medium", "iso9660")
    fake.mount("/dev/loop0", "/run/live/rootfs", "squashfs")
    fake.mount("/dev/sdb2", make_data(tmp_path / "STORE"))
    assert fake.look().system_disks == {"sdb", "loop0"}
    assert find_cards(profiles, fake.look()) == ()


def test_on_the_device_exactly_the_profiles_paths_are_offered(
    tmp_path: Path, profiles: Profiles, make_data: Make, make_system: Make
) -> None:
    """The card is the system disk: the profile's paths, found live, and nothing else of it."""
    fake = FakeComputer(tmp_path / "c")
    fake.add_disk("mmcblk0", "mmc0", mmc="SD", parts=3)
    fake.mount("/dev/mmcblk0p1", "/", "ext4")
    data, system = make_data(fake.root / "mnt/store"), make_system(fake.root / "sys-store")
    fake.mount("/dev/mmcblk0p2", data)
    fake.mount("/dev/mmcblk0p3", make_data(tmp_path / "other"))
    (card,) = find_cards(profiles, fake.look())
    assert card.source == "device" and card.name == "Larkspur"
    assert [volume.root for volume in card.present] == [data, system]
    assert any("no eject" in note for note in card.notes)


def test_a_device_path_without_what_identifies_it_is_no_card(
    computer: FakeComputer, profiles: Profiles
) -> None:
    """A laptop may have a folder of that name."""
    (computer.root / "mnt/store").mkdir(parents=True)
    assert find_cards(profiles, computer.look()) == ()


def test_a_card_in_a_reader_is_not_offered_twice(
    computer: FakeComputer, profiles: Profiles, make_data: Make
) -> None:
    """A reader's card that is mounted where the device would mount it stays a removable one."""
    computer.add_disk("sdb", "usb1", removable=1, parts=1)
    computer.mount("/dev/sdb1", make_data(computer.root / "mnt/store"))
    assert [card.source for card in find_cards(profiles, computer.look())] == ["removable"]


def test_a_read_only_mount_is_said_to_be_read_only(
    computer: FakeComputer, profiles: Profiles, tmp_path: Path, make_data: Make
) -> None:
    """Also where only the file system itself went read-only."""
    computer.add_disk("sdb", "usb1", removable=1, parts=1)
    computer.mount("/dev/sdb1", make_data(tmp_path / "STORE"), super_options="ro,errors=remount-ro")
    (card,) = find_cards(profiles, computer.look())
    assert card.volume("data").read_only


def test_a_mount_point_opens_the_whole_card(
    computer: FakeComputer, profiles: Profiles, tmp_path: Path, make_data: Make, make_system: Make
) -> None:
    """Naming one volume of a card brings the others along; labels do too, whatever their case."""
    computer.add_disk("sdb", "usb1", removable=1, parts=2)
    data, system = make_data(tmp_path / "STORE"), make_system(tmp_path / "GREET")
    computer.mount("/dev/sdb1", data)
    computer.mount("/dev/sdb2", system)
    for text in (str(data), str(system), "STORE", "greet"):
        card = open_card(text, profiles, computer=computer.look())
        assert card.source == "removable" and len(card.present) == 2


def test_two_cards_of_one_label_are_refused_with_their_places(
    computer: FakeComputer, profiles: Profiles, tmp_path: Path, make_data: Make
) -> None:
    """Exit code 2, and both mount points in the sentence."""
    for name in ("sdb", "sdc"):
        computer.add_disk(name, f"usb-{name}", removable=1, parts=1)
        computer.mount(f"/dev/{name}1", make_data(tmp_path / name / "STORE"))
    with pytest.raises(AmbiguousCardError) as refused:
        open_card("STORE", profiles, computer=computer.look())
    assert refused.value.exit_code == 2
    assert str(tmp_path / "sdb") in refused.value.message and str(tmp_path / "sdc") in refused.value.message


def test_no_such_card_lists_what_is_there(
    computer: FakeComputer, profiles: Profiles, tmp_path: Path, make_data: Make
) -> None:
    """A wrong label gives the right ones."""
    computer.add_disk("sdb", "usb1", removable=1, parts=1)
    computer.mount("/dev/sdb1", make_data(tmp_path / "STORE"))
    with pytest.raises(CardError, match="found: STORE"):
        open_card("STOER", profiles, computer=computer.look())


def test_a_profile_on_the_card_is_untrusted(
    computer: FakeComputer, profiles: Profiles, tmp_path: Path, make_data: Make
) -> None:
    """What came with the card beats what is built in, is flagged, and a link is not read."""
    computer.add_disk("sdb", "usb1", removable=1, parts=1)
    data = make_data(tmp_path / "STORE")
    computer.mount("/dev/sdb1", data)
    text = 'schema = 1\nname = "Brought"\npanel = {width=1, height=1}\nvolumes.data.identify = ["shelf/"]\n'
    (data / "cardwright-profile.toml").write_text(text)
    (card,) = find_cards(profiles, computer.look())
    assert card.profile is not None and card.profile.name == "Brought" and not card.profile.trusted
    (data / "cardwright-profile.toml").rename(tmp_path / "elsewhere.toml")
    (data / "cardwright-profile.toml").symlink_to(tmp_path / "elsewhere.toml")
    (card,) = find_cards(profiles, computer.look())
    assert card.profile is profiles[0]


def test_a_broken_profile_on_the_card_is_left_aside_and_said(
    computer: FakeComputer, profiles: Profiles, tmp_path: Path, make_data: Make
) -> None:
    """The card still opens with the profile that fits."""
    computer.add_disk("sdb", "usb1", removable=1, parts=1)
    data = make_data(tmp_path / "STORE")
    computer.mount("/dev/sdb1", data)
    (data / "cardwright-profile.toml").write_text("schema = 1\nnam = 2\n")
    (card,) = find_cards(profiles, computer.look())
    assert card.profile is profiles[0] and any("line 2" in note for note in card.notes)


def test_a_users_profile_beats_the_cards_and_the_built_in(
    computer: FakeComputer, profiles: Profiles, tmp_path: Path, make_data: Make
) -> None:
    """Precedence: --profile, the user's folder, the card, built-in."""
    mine = parse_profile(
        b'schema = 1\nname = "Mine"\npanel = {width=1, height=1}\nvolumes.data.identify = ["shelf/"]\n',
        Path("mine.toml"),
        "user",
    )
    data = make_data(tmp_path / "STORE")
    assert open_card(str(data), (*profiles, mine), computer=computer.look()).profile is mine
    card = open_card(str(data), (*profiles, mine), profiles[0], computer=computer.look())
    assert card.profile is not None and card.profile.name == "Larkspur"


def test_naming_a_mount_point_touches_no_other_medium(
    computer: FakeComputer,
    profiles: Profiles,
    tmp_path: Path,
    make_data: Make,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A card that someone is about to pull is not looked at because another one was named."""
    for name in ("sdb", "sdc"):
        computer.add_disk(name, f"usb-{name}", removable=1, parts=1)
        computer.mount(f"/dev/{name}1", make_data(tmp_path / name))
    looked = []
    listdir, lexists = os.listdir, os.path.lexists
    monkeypatch.setattr(os, "listdir", lambda path: (looked.append(str(path)), listdir(path))[1])
    monkeypatch.setattr(os.path, "lexists", lambda path: (looked.append(str(path)), lexists(path))[1])
    assert open_card(str(tmp_path / "sdb"), profiles, computer=computer.look()).name == "sdb"
    assert any(path.startswith(str(tmp_path / "sdb")) for path in looked)
    assert not any(path.startswith(str(tmp_path / "sdc")) for path in looked)
