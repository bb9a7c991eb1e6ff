"""Practice cards with one thing wrong, or nearly: what each rule of the check has to find, and what not."""

from __future__ import annotations

import struct
from collections.abc import Callable
from io import BytesIO
from pathlib import Path

from PIL import Image

from workbench.card.discovery import open_card
from workbench.card.disk_tree import DiskTree
from workbench.card.health import CardHealth
from workbench.card.profile import Profile
from workbench.card.profile_reader import read_profile
from workbench.jobs.check.checking import check_card
from workbench.jobs.check.finding import Finding

PROFILES = Path(__file__).resolve().parents[2] / "fixtures" / "profiles"
Change = Callable[[Path], object]


def profile_of(device: str, *, names: str | None = None, folder: Path | None = None) -> Profile:
    """The device's profile; with `names`, one whose device tells names apart so."""
    file = PROFILES / f"{device}.toml"
    if names is None or folder is None:
        return read_profile(file)
    other = folder.parent / f"{device}-{names}.toml"
    other.write_text(file.read_text("utf-8").replace('names = "fat"', f'names = "{names}"'), "utf-8")
    return read_profile(other)


def check(
    folder: Path,
    device: str,
    *,
    profile: Profile | None = None,
    health: CardHealth | None = None,
    is_thorough: bool = False,
) -> tuple[Finding, ...]:
    """What the check finds on that card."""
    profile = profile or profile_of(device)
    card = open_card(str(folder), [profile], profile)
    return check_card(DiskTree(card), profile, health, is_thorough=is_thorough)


def of_rule(found: tuple[Finding, ...], rule: str) -> list[Finding]:
    return [one for one in found if one.rule == rule]


# What is done to a card


def append(path: str, text: str) -> Change:
    def change(folder: Path) -> None:
        with (folder / path).open("a", encoding="utf-8") as file:
            file.write(text)

    return change


def replace(path: str, old: str, new: str) -> Change:
    def change(folder: Path) -> None:
        raw = (folder / path).read_bytes()
        assert old.encode() in raw, (path, old)
        (folder / path).write_bytes(raw.replace(old.encode(), new.encode(), 1))

    return change


def put(path: str, content: bytes) -> Change:
    def change(folder: Path) -> None:
        (folder / path).parent.mkdir(parents=True, exist_ok=True)
        (folder / path).write_bytes(content)

    return change


def make(path: str) -> Change:
    return lambda folder: (folder / path).mkdir(parents=True)


def move(path: str, to: str) -> Change:
    return lambda folder: (folder / path).rename(folder / to)


def remove(path: str) -> Change:
    return lambda folder: (folder / path).unlink()


def link(path: str, target: str) -> Change:
    return lambda folder: (folder / path).symlink_to(target)


def prefix(path: str, content: bytes) -> Change:
    def change(folder: Path) -> None:
        raw = (folder / path).read_bytes()
        (folder / path).write_bytes(content + raw)

    return change


def crlf(path: str) -> Change:
    def change(folder: Path) -> None:
        raw = (folder / path).read_bytes()
        (folder / path).write_bytes(raw.replace(b"\n", b"\r\n"))

    return change


def without_first_line(path: str) -> Change:
    def change(folder: Path) -> None:
        raw = (folder / path).read_bytes()
        (folder / path).write_bytes(raw.partition(b"\n")[2])

    return change


def both(*changes: Change) -> Change:
    def change(folder: Path) -> None:
        for one in changes:
            one(folder)

    return change


def nothing(folder: Path) -> None:
    """Leave the card as it is."""


# Pictures


def png(width: int, height: int, shade: int = 90) -> bytes:
    held = BytesIO()
    Image.new("RGB", (width, height), (shade, shade, shade)).save(held, "PNG")
    return held.getvalue()


def bmp(width: int, height: int, bits: int = 24) -> bytes:
    """By hand, from Microsoft's header: any depth, rows from the bottom."""
    stride = (width * bits + 31) // 32 * 4
    size = 54 + stride * height
    head = struct.pack(
        "<2sIHHIIiiHHIIiiII", b"BM", size, 0, 0, 54, 40, width, height, 1, bits, 0, 0, 0, 0, 0, 0
    )
    return head + bytes(stride * height)


def padded(raw: bytes, size: int) -> bytes:
    return raw + bytes(size - len(raw))


def blinking(count: int, hold: int) -> Change:
    """Larkspur's animation as `count` frames, black and white in turn, each kind for `hold` frames."""

    def change(folder: Path) -> None:
        motion = folder / "data/house/motion/river"
        for file in motion.glob("*.png"):
            file.unlink()
        for number in range(count):
            (motion / f"{number}.png").write_bytes(png(64, 48, 255 * (number // hold % 2)))
        raw = (motion / "play.conf").read_text("utf-8")
        (motion / "play.conf").write_text(raw.replace("pictures=8", f"pictures={count}"), "utf-8")

    return change
