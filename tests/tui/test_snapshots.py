"""How each screen looks, at 80×24 and at 120×40, in both themes. Pictures are compared as SVG text.

What differs from host to host (room on the disk, the file system's type, times) is set to fixed values.
"""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from bench_app import NARROW, WIDE, bench_of, labels_read, open_bench, texts, until
from test_menu_page import rename
from textual.pilot import Pilot

from workbench.card.volumes import Volume
from workbench.changes.ledger import Change
from workbench.changes.recover import Unfinished
from workbench.errors import EntryError, OrderRefusedError
from workbench.tui.app import Workbench
from workbench.tui.desk import Desk
from workbench.tui.nearest_dialog import NearestDialog
from workbench.tui.opening import _question
from workbench.tui.picture_pane import PicturePane
from workbench.tui.write_dialog import WriteDialog

Before = Callable[[Pilot[int]], Awaitable[None]]


@pytest.fixture
def bench(practice_card: Callable[[str], Path], monkeypatch: pytest.MonkeyPatch) -> Workbench:
    """The workbench on Larkspur, on a card of fixed measures; other cards of this host are not noticed."""
    monkeypatch.setattr("workbench.tui.app.LOOK_EVERY_S", 3600)
    app = open_bench(practice_card("larkspur"), "larkspur")
    assert app.desk
    card = app.desk.card
    data = replace(
        card.volumes["data"],
        label="STORE", filesystem="exfat", size_bytes=31 << 30, free_bytes=12 << 30, cluster_bytes=32768,
        host_names="fat", case_probed=True,
    )  # fmt: skip
    system = replace(
        card.volumes["system"],
        label="BEGIN", filesystem="vfat", size_bytes=1 << 28, free_bytes=1 << 27, cluster_bytes=4096,
        host_names="fat", case_probed=False, read_only=True,
    )  # fmt: skip
    fixed = replace(card, name="Larkspur", volumes={"data": data, "system": system})
    return Workbench(Desk(fixed, app.desk.profile), app.profiles)


async def settled(pilot: Pilot[int]) -> None:
    """The menu with its shown names, and the first entry's detail."""
    await labels_read(pilot)
    await until(pilot, lambda: any("named in" in line for line in texts(pilot, "#detail")))
    await until(pilot, lambda: not pilot.app.workers)


async def picture(pilot: Pilot[int]) -> None:
    await settled(pilot)
    await pilot.press("down", "v")
    await until(pilot, lambda: pilot.app.screen.query_one(PicturePane).cells)


async def carrying(pilot: Pilot[int]) -> None:
    await settled(pilot)
    await pilot.press("space", "down", "down")
    await until(pilot, lambda: bench_of(pilot).preview)
    await until(pilot, lambda: not pilot.app.workers)


async def marked(pilot: Pilot[int]) -> None:
    await settled(pilot)
    await pilot.press("down", "m", "down", "down", "m", "up")
    await until(pilot, lambda: not pilot.app.workers)
    await detail_follows(pilot)


async def carrying_marked(pilot: Pilot[int]) -> None:
    await marked(pilot)
    await pilot.press("space", "down")
    await until(pilot, lambda: bench_of(pilot).preview)
    await detail_follows(pilot)


async def detail_follows(pilot: Pilot[int]) -> None:
    """Wait until the detail is that of the entry under the cursor."""
    page = bench_of(pilot).menu_page
    await until(pilot, lambda: page.entries.row and texts(pilot, "#detail")[:1] == [page.entries.row.name])
    await until(pilot, lambda: not pilot.app.workers)


async def moved(pilot: Pilot[int]) -> None:
    await settled(pilot)
    await pilot.press("end", "m", "up", "up", "m", "f")
    page = bench_of(pilot).menu_page
    await until(pilot, lambda: page.entries.rows[0].waiting)
    await detail_follows(pilot)


async def prefixes(pilot: Pilot[int]) -> None:
    await settled(pilot)
    await pilot.press("p", "down", "down")


async def label(pilot: Pilot[int]) -> None:
    await settled(pilot)
    await pilot.press("t")
    await until(pilot, lambda: pilot.app.screen.query("#dialog-input"))
    pilot.app.screen.query_one("#dialog-input").cursor_blink = False  # type: ignore[attr-defined]


async def nearest(pilot: Pilot[int]) -> None:
    await settled(pilot)
    refused = OrderRefusedError("no prefix of three letters sorts between these two names")
    pilot.app.push_screen(
        NearestDialog(refused, [row.name for row in bench_of(pilot).menu_page.entries.rows])
    )


async def told(pilot: Pilot[int]) -> None:
    await settled(pilot)
    bench_of(pilot).say_error(EntryError("the disk lists names in an order of its own, " * 3, path="data:x"))


async def waiting(pilot: Pilot[int]) -> None:
    await settled(pilot)
    await rename(pilot, "Ça & là's [new]")
    page = bench_of(pilot).menu_page
    await until(pilot, lambda: page.entries.row and page.entries.row.waiting)
    await until(pilot, lambda: any("on the card now" in line for line in texts(pilot, "#detail")))
    await until(pilot, lambda: not pilot.app.workers)


async def confirming(pilot: Pilot[int]) -> None:
    await waiting(pilot)
    await pilot.press("w")
    await until(pilot, lambda: isinstance(pilot.app.screen, WriteDialog))


async def helping(pilot: Pilot[int]) -> None:
    await settled(pilot)
    await pilot.press("question_mark")


async def splash(pilot: Pilot[int]) -> None:
    await settled(pilot)
    await pilot.press("2")
    await until(pilot, lambda: pilot.app.screen.query_one("#before", PicturePane).cells)
    await until(pilot, lambda: not pilot.app.workers)


async def manifests(pilot: Pilot[int]) -> None:
    await settled(pilot)
    await pilot.press("3")
    await until(pilot, lambda: texts(pilot, "#files"))
    await pilot.press("down", "down", "enter")
    await until(pilot, lambda: texts(pilot, "#document"))


async def history(pilot: Pilot[int]) -> None:
    await settled(pilot)
    await pilot.press("4")
    await until(pilot, lambda: texts(pilot, "#change"))


async def recovering(pilot: Pilot[int]) -> None:
    await settled(pilot)
    unfinished = Unfinished(
        7, "0007-3f2ac1", "Rename Boats to Ships", "", {"data": "begun"}, ("system",), True
    )
    await pilot.app.push_screen(_question(unfinished))


SCREENS: dict[str, Before] = {
    "menu": settled,
    "picture": picture,
    "carrying": carrying,
    "marked": marked,
    "carrying-marked": carrying_marked,
    "moved": moved,
    "prefixes": prefixes,
    "label": label,
    "nearest": nearest,
    "told": told,
    "waiting": waiting,
    "confirming": confirming,
    "help": helping,
    "splash": splash,
    "manifests": manifests,
    "history": history,
    "recovering": recovering,
}


@pytest.fixture
def fixed_history(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two changes at fixed times."""
    changes = (
        Change(
            1,
            "0001-aaaaaa",
            "Rename Boats to Ships",
            "2001-02-03T04:05:06Z",
            "done",
            ("data",),
            1843,
            undone_by=2,
        ),
        Change(
            2, "0002-bbbbbb", "Take back 1", "2001-02-03T04:06:06Z", "done", ("data",), 1790, ("0001-aaaaaa",)
        ),
    )
    monkeypatch.setattr("workbench.changes.ledger.read_history", lambda _card: changes)


@pytest.mark.parametrize("size", [NARROW, WIDE], ids=["80x24", "120x40"])
@pytest.mark.parametrize("screen", SCREENS)
@pytest.mark.usefixtures("fixed_history")
def test_screen(snap_compare: Any, bench: Workbench, screen: str, size: tuple[int, int]) -> None:
    """Each screen at both sizes."""
    assert snap_compare(bench, terminal_size=size, run_before=SCREENS[screen])


def test_the_menu_in_the_light_theme(snap_compare: Any, bench: Workbench) -> None:
    """`T` changes to it."""

    async def light(pilot: Pilot[int]) -> None:
        await settled(pilot)
        await pilot.press("T")

    assert snap_compare(bench, terminal_size=NARROW, run_before=light)


def test_an_absent_volume_is_said_to_be_absent(snap_compare: Any, bench: Workbench) -> None:
    """Not shown as empty."""
    assert bench.desk
    bench.desk.card = replace(
        bench.desk.card, volumes={**bench.desk.card.volumes, "system": Volume.absent("system")}
    )
    assert snap_compare(bench, terminal_size=WIDE, run_before=settled)
