"""Every action by its name, for the command palette."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from typing import TYPE_CHECKING, cast

from textual.command import DiscoveryHit, Hit, Hits, Provider

from workbench.tui.actions import WORDS, Action, actions_at

if TYPE_CHECKING:
    from workbench.tui.app import Workbench


class ActionProvider(Provider):
    """Offers what can be done on the open page."""

    async def discover(self) -> Hits:
        for action in self._actions():
            yield DiscoveryHit(
                palette_name(action), partial(self._bench.run_by_id, action.id), help=action.sentence
            )

    async def search(self, query: str) -> Hits:
        matcher = self.matcher(query)
        for action in self._actions():
            name = palette_name(action)
            score = matcher.match(f"{name} {action.sentence}")
            if score > 0:
                shown_name = matcher.highlight(name)
                yield Hit(score, shown_name, partial(self._bench.run_by_id, action.id), help=action.sentence)

    @property
    def _bench(self) -> Workbench:
        return cast("Workbench", self.app)

    def _actions(self) -> Iterator[Action]:
        page = self._bench.page
        for action in actions_at("app", *((page.where,) if page else ())):
            if action.id != "app.palette":
                yield action


def palette_name(action: Action) -> str:
    """`Menu: rename  (r, F2)`."""
    return f"{WORDS[action.where]}: {action.word}  ({action.shown_keys})"
