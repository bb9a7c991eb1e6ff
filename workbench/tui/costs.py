"""Sizes and counts in words: what a plan will do, in verbs."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from workbench.tui.outcome import Outcome


def size_words(count: int) -> str:
    """`811 bytes`, `32 KiB`, `12.3 GiB`."""
    if count < 1024:
        return f"{count} byte{'' if count == 1 else 's'}"
    size = float(count)
    for unit in ("KiB", "MiB", "GiB", "TiB"):
        size /= 1024
        if size < 1024 or unit == "TiB":
            break
    return f"{size:.0f} {unit}" if size >= 100 or size == int(size) else f"{size:.1f} {unit}"


def count_words(count: int, one: str, many: str) -> str:
    """`1 wish`, `3 wishes`."""
    return f"{count} {one if count == 1 else many}"


def cost_words(outcome: Outcome) -> str:
    """`2 moved, 5 changed, 1 new; 14 KiB to write`; what is zero is left out."""
    counts = {
        "moved": len(outcome.moved),
        "changed": len(outcome.changed),
        "new": len(outcome.new),
        "put away": len(outcome.put_away),
    }
    parts = [f"{count} {verb}" for verb, count in counts.items() if count]
    if outcome.ordered:
        parts.append(f"{count_words(len(outcome.ordered), 'folder', 'folders')} put in order")
    said = ", ".join(parts) or "nothing to do"
    return f"{said}; {size_words(outcome.bytes)} to write" if outcome.bytes else said
