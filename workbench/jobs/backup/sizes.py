"""Sizes as a person writes them: `4096`, `128K`, `1.5G`."""

from __future__ import annotations

import re

from workbench.errors import UsageError

_UNITS = {"": 1, "K": 1 << 10, "M": 1 << 20, "G": 1 << 30, "T": 1 << 40}


def read_size(text: str) -> int:
    """Bytes.

    Raises:
        UsageError: it is no size.
    """
    found = re.fullmatch(r"([0-9]{1,15}(?:\.[0-9]{1,3})?)([KMGT]?)(?:i?B)?", text, re.ASCII | re.IGNORECASE)
    if found is None:
        raise UsageError(f"{text!r} is no size, like 128K, 20M or 1.5G")
    return int(float(found[1]) * _UNITS[found[2].upper()])
