"""One wish on its way: it renders as often as a budget or a remedy needs, and says what it is doing."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

from workbench.card.animation_pace import Pace
from workbench.card.animation_rule import AnimationRule
from workbench.card.animations import Animation
from workbench.errors import CardwrightError
from workbench.jobs.animate.rendered import Render, Rendered
from workbench.jobs.animate.wish import AnimateWish, Cancelled, OnProgress, Progress
from workbench.media.clip_facts import ClipFacts
from workbench.media.render_order import RenderOrder
from workbench.values import dataclass

Probe = Callable[[Path], ClipFacts]


_SHEET = 1024
"""Bytes of a settings file or a start script, at the most that is usual."""
_PICTURE = (320, 240)


class CancelledError(CardwrightError):
    """The person stopped it; nothing was written."""

    kind = "cancelled"


@dataclass(frozen=True, slots=True)
class Run:
    rule: AnimationRule
    wish: AnimateWish
    others: Sequence[Animation]
    unit: int
    """Allocation unit of the volume with the frames."""
    render: Render
    progress: OnProgress
    cancelled: Cancelled

    def make(self, order: RenderOrder, what: str) -> Rendered:
        """Render one order.

        Raises:
            CancelledError: the person stopped it.
            MediaError: the source cannot be read.
        """

        def tell(done: int, total: int) -> None:
            self.progress(Progress(what, done, total))

        self.progress(Progress(what, 0, None))
        with self.stopping():
            report, folder = self.render(order, progress=tell, cancelled=self.cancelled)
        return Rendered(order, report, folder)

    def look(self, probe: Probe) -> ClipFacts:
        """What the clip is.

        Raises:
            MediaError: it cannot be read.
        """
        self.progress(Progress("looking at the clip", 0, None))
        with self.stopping():
            return probe(self.wish.source)

    @contextlib.contextmanager
    def stopping(self) -> Iterator[None]:
        """What fails because the person stopped it is no failure: ctrl-C reaches the worker first."""
        self.check()
        try:
            yield
        except CardwrightError:
            self.check()
            raise
        self.check()

    def check(self) -> None:
        """Stop here where the person wants it."""
        if self.cancelled():
            raise CancelledError("stopped; nothing was changed")

    def cost(self, rendered: Rendered) -> int:
        """Bytes of frames and sound on the card, in whole allocation units."""
        report = rendered.report
        sizes = [frame.size for frame in report.frames] + ([report.sound.size] if report.sound else [])
        return sum(-(-size // self.unit) * self.unit for size in sizes)

    def needed(self, rendered: Rendered) -> int:
        """Bytes that the whole animation needs there: `cost`, and what its small files may take."""
        return self.cost(rendered) + self.small

    @property
    def small(self) -> int:
        """Bytes that settings, script and art may take, none of them made yet: never too little."""
        rule = self.rule
        sizes = [
            _SHEET for one in (rule.settings, rule.script) if one is not None and "{name}" in one.file.path
        ]
        if rule.art is not None:
            width, height = rule.art.size or rule.frames.size or _PICTURE
            sizes.append(3 * width * height)
        return sum(-(-size // self.unit) * self.unit for size in sizes)

    def mean(self, rendered: Rendered) -> int:
        """Bytes that a frame takes on the card, on average, rounded up."""
        frames = rendered.report.frames
        total = sum(-(-frame.size // self.unit) * self.unit for frame in frames)
        return -(-total // max(1, len(frames)))

    def plays(self) -> int:
        """How often the animation plays at start."""
        now = next((one.loops for one in self.others if one.name == self.wish.name), None)
        loops = self.wish.loops if self.wish.loops is not None else now
        return max(1, loops or 1)


@dataclass(frozen=True, slots=True)
class Fitted:
    """What was rendered in the end, and what was given up for it."""

    rendered: Rendered
    pace: Pace
    because: str
    traded: tuple[str, ...] = ()
