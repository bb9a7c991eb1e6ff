"""A computer and card folders for discovery."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from fake_computer import FakeComputer

from workbench.card.profile import Profile
from workbench.card.profile_reader import parse_profile

TWO_VOLUMES = """\
schema = 1
name = "Larkspur"
[panel]
width = 512
height = 384
[volumes.data]
identify = ["shelf/", "house/register.json"]
device_path = "/mnt/store"
[volumes.system]
identify = ["greet/hello.bmp"]
device_path = "/sys-store"
"""

ONE_VOLUME = """\
schema = 1
name = "Fernway"
[panel]
width = 640
height = 480
[volumes.main]
identify = ["rooms/"]
"""


@pytest.fixture
def computer(tmp_path: Path) -> FakeComputer:
    """A computer that runs from an NVMe disk and has nothing else."""
    fake = FakeComputer(tmp_path / "computer")
    fake.add_disk("nvme0n1", "nvme", parts=2)
    fake.mount("/dev/nvme0n1p2", "/", "ext4")
    fake.mount("/dev/nvme0n1p1", "/boot/efi")
    return fake


@pytest.fixture
def profiles() -> tuple[Profile, ...]:
    """A profile of two volumes and one of one, as built in."""
    return tuple(
        parse_profile(text.encode(), Path(f"{number}.toml"), "built-in")
        for number, text in enumerate((TWO_VOLUMES, ONE_VOLUME))
    )


@pytest.fixture
def make_data() -> Callable[[Path], Path]:
    """Fills a folder as Larkspur's data volume."""

    def make(folder: Path) -> Path:
        (folder / "shelf" / "Boats").mkdir(parents=True)
        (folder / "house").mkdir()
        (folder / "house/register.json").write_text("{}")
        return folder

    return make


@pytest.fixture
def make_system() -> Callable[[Path], Path]:
    """Fills a folder as Larkspur's system volume."""

    def make(folder: Path) -> Path:
        (folder / "greet").mkdir(parents=True)
        (folder / "greet/hello.bmp").write_bytes(b"BM")
        return folder

    return make
