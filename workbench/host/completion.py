"""Completes a path that a person is typing. Reads folders of the host; changes nothing."""

from __future__ import annotations

import os


def complete_path(text: str) -> str | None:
    """The text, continued to the first name that fits (folders with a `/`), or None.

    `~` is understood. Hidden names are offered only where the text asks for one; names with control
    characters never are.
    """
    if not text:
        return None
    folder, start = os.path.split(text)
    try:
        with os.scandir(os.path.expanduser(folder) or ".") as found:
            fitting = sorted(
                (entry.name, entry.is_dir())
                for entry in found
                if entry.name.startswith(start) and entry.name.isprintable()
            )
    except OSError:
        return None
    for name, is_folder in fitting:
        if name.startswith(".") and not start.startswith("."):
            continue
        whole = text + name[len(start) :] + ("/" if is_folder else "")
        if whole != text:
            return whole
    return None
