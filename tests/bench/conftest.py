"""The exFAT mount of the real tests, for figures on the same file system."""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "real"))

import exfat_mount
import pytest


@pytest.fixture
def exfat(tmp_path):
    """A mounted exFAT volume."""
    if exfat_mount.MISSING:
        pytest.skip(f"exFAT needs {', '.join(exfat_mount.MISSING)}")
    mount = exfat_mount.ExfatMount(tmp_path / "exfat", megabytes=1200)
    yield mount
    mount.close()
