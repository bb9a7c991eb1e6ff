"""Backups: what goes in, that any flipped bit is found, that a restore is exact and can be undone."""

from __future__ import annotations

import hashlib
import json
import os
import random
import shutil
import stat
import subprocess
import zipfile

import practice_cards
import pytest
from backup_card import BackupCard
from practice_cards import tree_bytes

from workbench.changes.apply import apply
from workbench.changes.undo import plan_undo
from workbench.errors import CardwrightError
from workbench.jobs.backup import choosing, taking
from workbench.jobs.backup.backup_file import BackupFile
from workbench.jobs.backup.backup_list import BACKUP_LIST
from workbench.jobs.backup.choosing import Scope, choose_files
from workbench.jobs.backup.comparing import compare_lists, compare_with_card


@pytest.fixture
def card(tmp_path):
    return BackupCard("larkspur", tmp_path / "card")


@pytest.mark.parametrize("device", practice_cards.DEVICES)
def test_an_ordinary_zip_of_what_the_profile_names(device, tmp_path):
    """The standard library reads it, every file as on the card: manifests, pictures, saves, splashes."""
    card = BackupCard(device, tmp_path / "card")
    taken = card.take(tmp_path / "b.zip")
    with zipfile.ZipFile(tmp_path / "b.zip") as made:
        assert made.testzip() is None
        names = set(made.namelist()) - {BACKUP_LIST}
        for name in names:
            assert made.read(name) == (card.folder / name).read_bytes()
            mode = made.getinfo(name).external_attr >> 16
            assert mode == (card.folder / name).stat().st_mode
        listed = json.loads(made.read(BACKUP_LIST))["files"]
    assert names == set(listed) == set(taken.list.files)
    assert all(
        listed[name][1] == hashlib.sha256((card.folder / name).read_bytes()).hexdigest() for name in names
    )
    wanted = {
        "larkspur": {"data/house/register.json", "data/keep/Boats.save", "system/greet/hello.bmp"}
        | {"data/house/small/Boats_s.png", "data/shelf/Boats/begin", "data/house/motion/river/0.png"},
        "fernway": {"main/settings/rooms.ini", "main/memory/Puzzles/Boats.save", "main/hello/first.bmp.gz"},
        "orrery": {"disk/almanac/catalogue.xml", "disk/curtain/rise.bgra", "disk/almanac/seen.toml"},
    }[device]
    assert wanted <= names


def test_the_times_are_kept_and_clamped(card, tmp_path):
    """Seconds of UTC in the extra field 0x5455 (unzip heeds it); dates that FAT does not know are clamped."""
    register = card.folder / "data/house/register.json"
    os.utime(register, (0, 1_000_000_001))
    os.utime(card.folder / "data/house/lately.txt", (0, 0))
    card.take(tmp_path / "b.zip")
    with zipfile.ZipFile(tmp_path / "b.zip") as made:
        extra = made.getinfo("data/house/register.json").extra
        assert int.from_bytes(extra[5:9], "little") == 1_000_000_001
        assert made.getinfo("data/house/lately.txt").date_time == (1980, 1, 1, 0, 0, 0)
    if shutil.which("unzip"):
        subprocess.run(["unzip", "-q", tmp_path / "b.zip", "-d", tmp_path / "out"], check=True)
        assert (tmp_path / "out/data/house/register.json").stat().st_mtime == 1_000_000_001


def test_all_and_what_stays_out(card, tmp_path):
    """`all` takes what no profile names; large media, litter and secrets stay out, each with why."""
    (card.folder / "data/notes").mkdir()
    (card.folder / "data/notes/mine.txt").write_text("mine")
    (card.folder / "data/notes/hollow").mkdir()
    (card.folder / "data/notes/wifi.conf").write_text("psk=hunter2hunter2\n")
    (card.folder / "data/.DS_Store").write_bytes(b"x")
    with open(card.folder / "data/notes/film.mp4", "wb") as film:
        film.truncate(choosing.LARGE + 1)
    named = card.take(tmp_path / "named.zip").list
    assert "data/notes/mine.txt" not in named.files
    everything = card.take(tmp_path / "all.zip", everything=True).list
    assert "data/notes/mine.txt" in everything.files
    assert set(everything.left_out) == {"data/notes/wifi.conf", "data/.DS_Store", "data/notes/film.mp4"}
    assert everything.folders == ("data/notes/hollow",)
    more = card.take(tmp_path / "more.zip", everything=True, with_media=True, with_secrets=True).list
    assert set(more.left_out) == {"data/.DS_Store"}
    assert more.files["data/notes/film.mp4"].sha256 == hashlib.sha256(bytes(choosing.LARGE + 1)).hexdigest()
    assert BackupFile(tmp_path / "more.zip").find_faults() == ()


def test_a_large_save_goes_along(card, tmp_path):
    """Companions always do, whatever their size, and are never carried whole through memory."""
    with open(card.folder / "data/keep/Boats.save", "r+b") as save:
        save.truncate(choosing.LARGE + 5)
    taken = card.take(tmp_path / "b.zip", everything=True)
    assert taken.list.files["data/keep/Boats.save"].size == choosing.LARGE + 5
    assert BackupFile(tmp_path / "b.zip").find_faults() == ()


def test_nothing_is_left_where_a_backup_fails(card, tmp_path, monkeypatch):
    """Interrupted in the middle: the old backup is untouched, and no part of the new one lies about."""
    card.take(tmp_path / "b.zip")
    before = (tmp_path / "b.zip").read_bytes()

    def fail(*_words):
        raise KeyboardInterrupt

    monkeypatch.setattr(taking._Taking, "_find_why", fail)
    with pytest.raises(KeyboardInterrupt):
        card.take(tmp_path / "b.zip")
    with pytest.raises(KeyboardInterrupt):
        card.take(tmp_path / "new.zip")
    assert (tmp_path / "b.zip").read_bytes() == before
    assert sorted(os.listdir(tmp_path)) == ["b.zip", "card"]


def test_a_file_that_cannot_be_read_stops_it_unless_asked(card, tmp_path, monkeypatch):
    """With its name; asked to go on, it is listed as left out."""
    from workbench.jobs.backup import packing

    real = packing.open_for_backup

    def broken(path):
        if path.endswith("lately.txt"):
            raise OSError(5, "Input/output error")
        return real(path)

    monkeypatch.setattr(packing, "open_for_backup", broken)
    with pytest.raises(CardwrightError, match=r"lately\.txt cannot be read"):
        card.take(tmp_path / "b.zip")
    assert not (tmp_path / "b.zip").exists()
    taken = card.take(tmp_path / "b.zip", skip_unreadable=True)
    assert "cannot be read" in taken.list.left_out["data/house/lately.txt"]


def test_any_flipped_bit_is_found(card, tmp_path):
    """In data, headers, directory, list or seal: 150 seeded places, and each of the last 250."""
    card.take(tmp_path / "b.zip", without=("data/**/*.png", "system/**", "data/keep/**", "data/shelf/**"))
    whole = (tmp_path / "b.zip").read_bytes()
    assert BackupFile(tmp_path / "b.zip").find_faults() == ()
    draw = random.Random(7)
    places = {*(draw.randrange(len(whole)) for _ in range(150)), *range(len(whole) - 250, len(whole))}
    missed = []
    for place in sorted(places):
        raw = bytearray(whole)
        raw[place] ^= 1 << draw.randrange(8)
        (tmp_path / "b.zip").write_bytes(bytes(raw))
        try:
            if not BackupFile(tmp_path / "b.zip").find_faults():
                missed.append(place)
        except CardwrightError:
            pass
    assert missed == []


def test_what_is_cut_off_or_none_is_said(card, tmp_path):
    card.take(tmp_path / "b.zip")
    raw = (tmp_path / "b.zip").read_bytes()
    for part in (raw[: len(raw) // 2], raw[:-1], b"", b"hello"):
        (tmp_path / "b.zip").write_bytes(part)
        try:
            assert BackupFile(tmp_path / "b.zip").find_faults() != ()
        except CardwrightError as error:
            assert error.message
    with zipfile.ZipFile(tmp_path / "other.zip", "w") as made:
        made.writestr("a", "a")
    with pytest.raises(CardwrightError, match="no backup made here"):
        BackupFile(tmp_path / "other.zip")


@pytest.mark.parametrize("device", practice_cards.DEVICES)
def test_a_restore_is_exact_and_can_be_undone(device, tmp_path):
    """Files spoiled, deleted: byte for byte and mode for mode as before; an undo brings the mess back."""
    card = BackupCard(device, tmp_path / "card")
    before, seen = tree_bytes(card.folder), practice_cards.read_device(device, card.folder)
    card.take(tmp_path / "b.zip", everything=True)
    files = sorted(path for path in card.folder.rglob("*") if path.is_file())
    draw = random.Random(device)
    for path in draw.sample(files, 30):
        path.unlink()
    for path in draw.sample([path for path in files if path.exists()], 30):
        path.write_bytes(b"spoiled")
        path.chmod(0o600)
    for path in [path for path in card.folder.rglob("*") if path.is_dir() and not any(path.iterdir())]:
        path.rmdir()
    for role in card.profile.volumes:  # whatever makes the card known has to be there
        for one in card.profile.volumes[role].identify:
            if not one.endswith("/") and not (card.folder / role / one).exists():
                (card.folder / role / one).parent.mkdir(parents=True, exist_ok=True)
                (card.folder / role / one).write_bytes(b"")
    spoiled = tree_bytes(card.folder)
    card.restore(tmp_path / "b.zip")
    assert tree_bytes(card.folder) == before
    assert practice_cards.read_device(device, card.folder) == seen
    apply(card.card, plan_undo(card.card, 1))
    assert tree_bytes(card.folder) == spoiled


def test_chosen_paths_alone_are_restored(card, tmp_path):
    """A file, a folder or a glob; what else differs is left."""
    card.take(tmp_path / "b.zip")
    tale, save = card.folder / "data/shelf/Boats/begin", card.folder / "data/keep/Boats.save"
    kept = save.read_bytes()
    tale.write_bytes(b"x")
    save.write_bytes(b"newer")
    plan = card.restore(tmp_path / "b.zip", "data:shelf/Boats")
    assert [str(step.at) for step in plan.steps] == ["data:shelf/Boats/begin"]
    assert save.read_bytes() == b"newer"
    card.restore(tmp_path / "b.zip", "data:keep/*.save")
    assert save.read_bytes() == kept
    with pytest.raises(CardwrightError, match="there is no"):
        card.plan(tmp_path / "b.zip", "data:nowhere")


def test_a_damaged_file_refuses_the_restore(card, tmp_path):
    card.take(tmp_path / "b.zip")
    raw = bytearray((tmp_path / "b.zip").read_bytes())
    splash = (card.folder / "system/greet/hello.bmp").read_bytes()
    (card.folder / "system/greet/hello.bmp").write_bytes(splash[:-1])
    with zipfile.ZipFile(tmp_path / "b.zip") as made:
        at = made.getinfo("system/greet/hello.bmp").header_offset
    raw[at + 200] ^= 16
    (tmp_path / "b.zip").write_bytes(bytes(raw))
    with pytest.raises(CardwrightError, match="damaged"):
        card.plan(tmp_path / "b.zip")
    assert "system/greet/hello.bmp" in {one.path for one in BackupFile(tmp_path / "b.zip").find_faults()}


def test_a_backup_of_another_device_is_refused(card, tmp_path):
    other = BackupCard("orrery", tmp_path / "orrery")
    other.take(tmp_path / "b.zip")
    with pytest.raises(CardwrightError, match="Orrery"):
        card.plan(tmp_path / "b.zip")


def test_comparing(card, tmp_path):
    """Two backups, and one with the card: what only one has, what differs, in bytes or in mode alone."""
    card.take(tmp_path / "one.zip")
    assert compare_with_card(BackupFile(tmp_path / "one.zip").list, card.tree, card.profile) == ()
    (card.folder / "data/house/lately.txt").write_bytes(b"x")
    (card.folder / "data/keep/Boats.save").unlink()
    (card.folder / "data/house/small/New_s.png").write_bytes(b"x")
    (card.folder / "data/shelf/Boats/begin").chmod(0o700)
    card.take(tmp_path / "two.zip")
    wanted = {
        "data/house/lately.txt": "content",
        "data/keep/Boats.save": "only-first",
        "data/shelf/Boats/begin": "mode",
    }
    one, two = (BackupFile(tmp_path / name).list for name in ("one.zip", "two.zip"))
    found = {each.path: each.kind for each in compare_lists(one, two)}
    assert {path: kind for path, kind in found.items() if "New" not in path} == wanted
    assert {each.path: each.kind for each in compare_with_card(one, card.tree, card.profile)} == found


@pytest.mark.parametrize("name", ["a\udcff\udc80.save", "Été \U0001f3ae.save", "plain.save"])
def test_names_that_are_no_text_come_back(name, card, tmp_path):
    """Bytes of a name that are no UTF-8, and names far outside ASCII, go in and come out as they are."""
    place = card.folder / "data/keep" / name
    place.write_bytes(b"saved")
    card.take(tmp_path / "b.zip", everything=True)
    backup = BackupFile(tmp_path / "b.zip")
    assert backup.find_faults() == ()
    got: dict[str, bytes] = {}
    backup.visit([f"data/keep/{name}"], lambda path, pieces: got.update({path: b"".join(pieces)}))
    assert got == {f"data/keep/{name}": b"saved"}


def test_links_and_specials_are_named(card, tmp_path):
    (card.folder / "data/keep/Boats.link").symlink_to("Boats.save")
    os.mkfifo(card.folder / "data/keep/Boats.pipe")
    taken = card.take(tmp_path / "b.zip")
    assert taken.list.left_out == {
        "data/keep/Boats.link": "is a link or no file",
        "data/keep/Boats.pipe": "is a link or no file",
    }
    assert stat.S_ISFIFO((card.folder / "data/keep/Boats.pipe").stat().st_mode)


def test_without_isal_the_result_is_as_good(card, tmp_path, monkeypatch):
    """Where isal is not installed zlib packs: the zip is whole and holds the same."""
    import sys

    card.take(tmp_path / "fast.zip")
    monkeypatch.setitem(sys.modules, "isal", None)
    card.take(tmp_path / "plain.zip")
    assert BackupFile(tmp_path / "plain.zip").find_faults() == ()
    fast, plain = (BackupFile(tmp_path / name).list for name in ("fast.zip", "plain.zip"))
    assert compare_lists(fast, plain) == ()


def test_the_choice_leaves_the_ledger_out(card):
    (card.folder / "data/.cardwright").mkdir()
    (card.folder / "data/.cardwright/volume.toml").write_text("x")
    chosen = choose_files(card.tree, card.profile, Scope(everything=True))
    assert not any(path.startswith(".cardwright") for _, path in chosen.files)


def test_more_than_four_gigabytes_have_wide_fields(tmp_path, monkeypatch):
    """Headers of a file over 4 GiB, as the standard library reads them; the bytes themselves are a hole."""
    import io

    from workbench.host.zip_making import ZipMaking

    class Hole(io.BytesIO):
        """Keeps what is small, forgets what is large."""

        def __init__(self):
            super().__init__()
            self.parts: dict[int, bytes] = {}
            self.at = 0

        def write(self, data):
            if len(data) < 10_000:
                self.parts[self.at] = bytes(data)
            self.at += len(data)
            return len(data)

        def seek(self, place, _whence=0):
            self.at = place
            return place

    monkeypatch.setattr("workbench.host.zip_making.zlib.crc32", lambda _data, _crc=0: 0)
    hole = Hole()
    making = ZipMaking(hole)
    piece = bytes(256 * 1024 * 1024)
    making.syncing.set()
    making.add_large(b"big", (piece for _ in range(17)), mode=0o644, mtime=None, is_utf8=False)
    from workbench.host.zip_making import Packed

    making.add(Packed(b"after", 0, 0, 0, b""))
    making.finish()
    target = tmp_path / "wide.zip"
    with open(target, "wb") as file:
        for place, part in hole.parts.items():
            file.seek(place)
            file.write(part)
    with zipfile.ZipFile(target) as made:
        sizes = {one.filename: (one.file_size, one.header_offset) for one in made.infolist()}
    assert sizes["big"] == (17 * 256 * 1024 * 1024, 0)
    assert sizes["after"][1] > 4 * 1024**3


def test_a_failure_in_a_thread_does_not_hang(card, tmp_path, monkeypatch):
    """Whatever goes wrong while files are read ends the backup, with nothing left behind."""
    from workbench.jobs.backup import packing

    def fail(_path):
        raise MemoryError

    monkeypatch.setattr(packing, "open_for_backup", fail)
    with pytest.raises(MemoryError):
        card.take(tmp_path / "b.zip")
    assert sorted(os.listdir(tmp_path)) == ["card"]


def test_what_differs_in_its_mode_alone_is_named_and_stays(card, tmp_path):
    """Two contents that are one could not be told apart after a crash: such a file is not written."""
    card.take(tmp_path / "b.zip")
    (card.folder / "data/shelf/Boats/begin").chmod(0o700)
    plan = card.plan(tmp_path / "b.zip")
    assert plan.steps == ()
    assert any("data/shelf/Boats/begin" in note for note in plan.notes)
