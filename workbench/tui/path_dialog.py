"""Asks for a path on this computer, with completion."""

from __future__ import annotations

import asyncio

from textual.suggester import Suggester

from workbench.tui.name_dialog import TextDialog


class PathSuggester(Suggester):
    """Completes a path from the folder that it leads to; → takes the completion."""

    def __init__(self) -> None:
        super().__init__(use_cache=False, case_sensitive=True)

    async def get_suggestion(self, value: str) -> str | None:
        from workbench.host.completion import complete_path

        return await asyncio.to_thread(complete_path, value)


class PathDialog(TextDialog):
    """A path, typed."""

    def __init__(self, title: str, value: str = "", *, note: str = "", verb: str = "open") -> None:
        super().__init__(
            title,
            value,
            hint=f"→: take the completion   enter: {verb}   esc: back",
            suggester=PathSuggester(),
            note=note,
        )
