"""The splashes of a device: what is there, what would be there, and what was there before.

Everything asked for here joins the waiting plan; changing fit, colour or dither plans the same picture anew
in place of the last wish.
"""

from __future__ import annotations

import asyncio
from collections.abc import Iterable, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Literal, TypeVar, get_args

from textual import work
from textual.containers import Horizontal, Vertical
from textual.widget import Widget

from workbench.assets import find_assets
from workbench.errors import CardwrightError
from workbench.tui.actions import bindings_for
from workbench.tui.line_list import LineList
from workbench.tui.line_view import LineView
from workbench.tui.lines import Line
from workbench.tui.name_dialog import TextDialog
from workbench.tui.page import Page
from workbench.tui.picture_pane import Cells, PicturePane
from workbench.tui.wishes import blank_wish, put_wish, restore_wish
from workbench.values import dataclass, replace

if TYPE_CHECKING:
    from workbench.changes.kept import KeptVersion
    from workbench.jobs.splash import SplashReport
    from workbench.tui.desk import Desk, Wish

FitWord = Literal["contain", "cover", "stretch", "centre"]
DitherWord = Literal["none", "ordered", "diffuse"]
Word = TypeVar("Word")
FITS: tuple[FitWord, ...] = get_args(FitWord)
DITHERS: tuple[DitherWord, ...] = get_args(DitherWord)


@dataclass(frozen=True, slots=True)
class Dressing:
    """How a picture is put."""

    fit: FitWord = "contain"
    background: str = "#000000"
    dither: DitherWord = "ordered"

    @property
    def line(self) -> Line:
        """What stands below the lists."""
        return Line.of(
            (" fit ", "muted"),
            self.fit,
            ("   colour ", "muted"),
            self.background,
            ("   dither ", "muted"),
            self.dither,
        )


@dataclass(frozen=True, slots=True)
class PutWish:
    """The last picture that was put from here, so that it can be put in another way."""

    moments: tuple[str, ...]
    picture: Path
    wishes: int
    """How many wishes waited once it had joined them."""


@dataclass(frozen=True, slots=True)
class Preview:
    """What one side of the comparison shows."""

    cells: Cells
    sentence: str


class SplashPage(Page):
    """Moments, kept pictures, and two previews side by side."""

    where = "splash"
    BINDINGS = bindings_for("splash")
    CSS_PATH = find_assets("styles") / "pages.tcss"
    AUTO_FOCUS = "#moments"

    def __init__(self) -> None:
        super().__init__()
        self._now: Sequence[SplashReport] = ()
        self._then: Sequence[SplashReport] = ()
        self._kept: Sequence[KeptVersion] = ()
        self._kept_of = ""
        self._dressing = Dressing()
        self._put: PutWish | None = None

    def compose_body(self) -> Iterable[Widget]:
        with Vertical(classes="fill"):
            with Horizontal(id="splash-lists"):
                yield LineList(id="moments", empty="reading the splashes …")
                yield LineList(id="kept", empty="nothing kept yet")
            yield LineView(id="dressing")
            with Horizontal(id="splash-previews"):
                yield PicturePane(id="before", classes="pane")
                yield PicturePane(id="after", classes="pane")

    def on_mount(self) -> None:
        self.query_one("#moments", LineList).set_title("Moments")
        self.query_one("#dressing", LineView).show([self._dressing.line])

    # Reading

    def show_desk(self) -> None:
        if self.desk is not None and self.desk.profile is not None:
            self._read(self.desk)

    @work(exclusive=True, group="splash", exit_on_error=False)
    async def _read(self, desk: Desk) -> None:
        try:
            self._now, self._then = await asyncio.to_thread(desk.read_splashes)
        except CardwrightError as error:
            self.workbench.say_error(error)
            return
        lines = list(map(_moment_line, self._now, self._then))
        if len(lines) > 1:
            lines.append(Line.of("all of them", (f"  {len(self._now)} moments", "muted")))
        self._kept_of = ""
        self.query_one("#moments", LineList).show(lines, empty="the profile names no splash")
        self.show_keys()

    @property
    def moments(self) -> tuple[str, ...]:
        """The moments under the cursor."""
        at = self.query_one("#moments", LineList).cursor
        if not self._now:
            return ()
        return (self._now[at].moment,) if at < len(self._now) else tuple(one.moment for one in self._now)

    @property
    def kept(self) -> KeptVersion | None:
        """The kept picture under the cursor."""
        at = self.query_one("#kept", LineList).cursor
        return self._kept[at] if at < len(self._kept) else None

    def on_line_list_cursor_moved(self, message: LineList.CursorMoved) -> None:
        if message.line_list.id == "moments" and self._now and self.desk is not None:
            self._show_moment(self.desk, self.moments[0])
        elif message.line_list.id == "kept" and message.line_list.has_focus and self.desk is not None:
            self._show_kept(self.desk)

    def on_line_list_chosen(self, message: LineList.Chosen) -> None:
        if message.line_list.id == "kept":
            self.action_splash_restore()
        else:
            self.action_splash_put()

    @work(exclusive=True, group="preview", exit_on_error=False)
    async def _show_moment(self, desk: Desk, moment: str) -> None:
        now = next(one for one in self._now if one.moment == moment)
        then = next(one for one in self._then if one.moment == moment)
        before, after = self.query_one("#before", PicturePane), self.query_one("#after", PicturePane)
        room, other_room = before.room, after.room
        seen = await asyncio.to_thread(_preview, now, room)
        before.show(_caption("on the card now", now.sentence), seen.cells, seen.sentence)
        if then.content == now.content:
            after.show(
                _caption("after the plan", "the same"),
                (),
                "Nothing waits for this splash. Put a picture with p.",
            )
        else:
            seen = await asyncio.to_thread(_preview, then, other_room)
            after.show(_caption("* after the plan", then.sentence), seen.cells, seen.sentence)
        await self._read_kept(desk, moment)

    async def _read_kept(self, desk: Desk, moment: str) -> None:
        if self._kept_of == moment:
            return
        now = next(one for one in self._now if one.moment == moment)
        try:
            self._kept = await asyncio.to_thread(desk.read_kept, now.at)
        except CardwrightError as error:
            self._kept = ()
            self.workbench.say_error(error)
        self._kept_of = moment
        kept = self.query_one("#kept", LineList)
        kept.set_title(f"Kept for {moment}")
        kept.show([_kept_line(one) for one in self._kept], 0)
        self.show_keys()

    @work(exclusive=True, group="preview", exit_on_error=False)
    async def _show_kept(self, desk: Desk) -> None:
        kept = self.kept
        if kept is None or not self._kept_of:
            return
        pane = self.query_one("#after", PicturePane)
        now = next(one for one in self._now if one.moment == self._kept_of)
        try:
            report = await asyncio.to_thread(desk.read_kept_splash, now, kept)
            seen = await asyncio.to_thread(_preview, report, pane.room)
        except CardwrightError as error:
            pane.show(_caption(f"kept by change {kept.number}", ""), (), error.message)
            return
        pane.show(_caption(f"kept by change {kept.number}", report.sentence), seen.cells, seen.sentence)

    # Actions

    def can_do(self, action_id: str) -> bool:
        if action_id == "splash.restore":
            return self.kept is not None
        if action_id in ("splash.put", "splash.blank"):
            return bool(self._now)
        return super().can_do(action_id)

    def action_splash_put(self) -> None:
        from workbench.tui.path_dialog import PathDialog

        if self._now:
            start = str(self._put.picture.parent) + "/" if self._put else ""
            title = f"Picture for {', '.join(self.moments)}"
            self.app.push_screen(PathDialog(title, start), partial(self._wish_put, self.moments))

    def _wish_put(self, moments: tuple[str, ...], text: str | None) -> None:
        if text and self.desk is not None:
            self._put = PutWish(moments, Path(text).expanduser(), len(self.desk.waiting.wishes) + 1)
            self.workbench.wish(self._put_wish(self._put))

    def _put_wish(self, put: PutWish) -> Wish:
        how = self._dressing
        return put_wish(put.moments, put.picture, how.fit, how.background, how.dither)

    def action_splash_blank(self) -> None:
        if self._now:
            self._put = None
            self.workbench.wish(blank_wish(self.moments, self._dressing.background))

    def action_splash_fit(self) -> None:
        self._dress(replace(self._dressing, fit=_next(FITS, self._dressing.fit)))

    def action_splash_dither(self) -> None:
        self._dress(replace(self._dressing, dither=_next(DITHERS, self._dressing.dither)))

    def action_splash_background(self) -> None:
        dialog = TextDialog("Colour: #rrggbb, or a name", self._dressing.background, check=_colour_fault)
        self.app.push_screen(dialog, self._set_background)

    def _set_background(self, text: str | None) -> None:
        if text:
            self._dress(replace(self._dressing, background=text))

    def _dress(self, dressing: Dressing) -> None:
        """Take on another way of putting, and put the last picture that way where it still waits."""
        self._dressing = dressing
        self.query_one("#dressing", LineView).show([dressing.line])
        put, desk = self._put, self.desk
        if put is not None and desk is not None and len(desk.waiting.wishes) == put.wishes:
            self.workbench.replace_last_wish(self._put_wish(put))

    def action_splash_restore(self) -> None:
        if self.kept is not None and self._kept_of and self.desk is not None:
            self._put = None
            self._restore(self.desk, self._kept_of, self.kept)

    @work(exclusive=True, group="restore", exit_on_error=False)
    async def _restore(self, desk: Desk, moment: str, kept: KeptVersion) -> None:
        try:
            content = await asyncio.to_thread(kept.read)
        except CardwrightError as error:
            self.workbench.say_error(error)
            return
        if desk is self.desk:
            self.workbench.wish(restore_wish(moment, content))


def _moment_line(now: SplashReport, then: SplashReport) -> Line:
    waits = [("* waiting", "waiting")] if now.content != then.content else []
    missing = "" if now.standing == "there" else "! "
    return Line.of((now.moment, "strong"), f"  {missing}{now.sentence}", right=waits)  # type: ignore[arg-type]


def _kept_line(kept: KeptVersion) -> Line:
    gone = [("! let go", "problem")] if kept.let_go else []
    return Line.of((f"change {kept.number}", "strong"), (f"  {kept.time}", "muted"), right=gone)  # type: ignore[arg-type]


def _caption(title: str, sentence: str) -> Line:
    return Line.of((title, "strong"), (f"  {sentence}", "muted"))


def _preview(report: SplashReport, room: tuple[int, int]) -> Preview:
    from workbench.jobs.splash import view
    from workbench.media.preview import half_blocks

    if report.standing != "there":
        return Preview((), report.sentence)
    try:
        return Preview(half_blocks(view(report), *room), "")
    except CardwrightError as error:
        return Preview((), error.message)


def _colour_fault(text: str) -> str | None:
    from workbench.media.colours import parse_colour

    try:
        parse_colour(text)
    except CardwrightError as error:
        return error.message
    return None


def _next(words: tuple[Word, ...], word: Word) -> Word:
    return words[(words.index(word) + 1) % len(words)]
