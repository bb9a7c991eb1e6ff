"""What a survey proposes is worked with at once: rename, arrange, label and splash, judged from outside.

The judges are the standard library's parsers (json, tomllib, expat) and a comparison line by line with what
the card's maker put down: exactly the lines that name an entry may differ, and they say its new name.
"""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import unquote
from xml.parsers import expat

import pytest
from layout_card import CardPlan, Thing
from layout_pictures import draw, png
from rare_layouts import RARE, make_rare
from surveying_layouts import survey_layout

from workbench.card.computer import Computer
from workbench.card.disk_tree import DiskTree
from workbench.card.entry import Entry, Menu
from workbench.card.menu import read_menus
from workbench.card.opening import open_folder
from workbench.card.profile_reader import parse_profile
from workbench.changes.apply import apply
from workbench.changes.plan import Plan
from workbench.jobs.arrange import plan_order
from workbench.jobs.label import plan_label
from workbench.jobs.rename import plan_rename
from workbench.jobs.splash import plan_put
from workbench.jobs.survey import profile_text

NEW = "Quiet Kettle"


class Bench:
    """A surveyed card and its profile."""

    def __init__(self, name: str, folder: Path) -> None:
        self.plan: CardPlan = make_rare(name)
        self.folder = self.plan.write(folder)
        text = profile_text(survey_layout(self.plan, folder))
        self.profile = parse_profile(text.encode(), Path("profile.toml"))
        self.before = self.read()

    @property
    def tree(self) -> DiskTree:
        return DiskTree(open_folder(self.folder, [self.profile], Computer(), {}))

    def menus(self) -> tuple[Menu, ...]:
        return read_menus(self.tree, self.profile)

    def find(self, thing: Thing) -> tuple[Menu, Entry]:
        return next(
            (menu, entry) for menu in self.menus() for entry in menu.entries if entry.at.path == thing.path
        )

    def apply(self, plan: Plan) -> None:
        assert plan.conflicts == ()
        apply(open_folder(self.folder, [self.profile], Computer(), {}), plan)

    def read(self) -> dict[str, bytes]:
        return {
            str(path.relative_to(self.folder)): path.read_bytes()
            for path in sorted(self.folder.rglob("*"))
            if path.is_file() and ".cardwright" not in path.parts
        }


@pytest.mark.parametrize("name", RARE)
def test_rename_changes_exactly_the_lines_that_name_the_entry(name: str, tmp_path: Path) -> None:
    """Every line that names it says the new name, no other line differs, and all parse as before."""
    bench = Bench(name, tmp_path / "card")
    thing = next(one for menu in bench.plan.menus[::-1] for one in menu.things[2:3])
    new = thing.name.replace(thing.stem, NEW)
    menu, entry = bench.find(thing)
    bench.apply(plan_rename(bench.tree, bench.profile, menu, entry, new))
    after = bench.read()
    places = bench.plan.places.get(thing, [])
    lines = {(place.path, place.line) for place in places if place.line is not None}
    for path, content in bench.before.items():
        now = after[_new_path(bench.plan, thing, new, path)]
        assert set(_changed_lines(content, now)) == {line for where, line in lines if where == path}, path
        for line in (line for where, line in lines if where == path):
            assert NEW.casefold() in _readable(now.split(b"\n")[line - 1]).casefold()
        _parse(path, now)
    assert len(after) == len(bench.before)


def _new_path(plan: CardPlan, thing: Thing, new: str, path: str) -> str:
    """Where the maker's truth says that a file of the card is afterwards."""
    moved = [thing.path, *(p.path for p in plan.places.get(thing, []) if p.line is None)]
    for one in moved:
        if path == one or path.startswith(one + "/"):
            above, _, name = one.rpartition("/")
            better = (
                name.replace(thing.name, new, 1) if thing.name in name else name.replace(thing.stem, NEW, 1)
            )
            return (f"{above}/{better}" if above else better) + path[len(one) :]
    return path


def _changed_lines(one: bytes, other: bytes) -> Iterator[int]:
    before, after = one.split(b"\n"), other.split(b"\n")
    assert len(before) == len(after)
    yield from (n for n, pair in enumerate(zip(before, after, strict=True), 1) if pair[0] != pair[1])


def _readable(line: bytes) -> str:
    return unquote(line.decode())


def _parse(path: str, content: bytes) -> None:
    if path.lower().endswith((".json", ".jsn")):
        json.loads(content)
    elif path.lower().endswith((".toml", ".tom")):
        tomllib.loads(content.decode())
    elif path.endswith(".xml"):
        expat.ParserCreate().Parse(content, True)


@pytest.mark.parametrize("name", RARE)
def test_the_menu_can_be_put_into_another_order(name: str, tmp_path: Path) -> None:
    """The last entry comes first, as the device sorts: read anew, the menu says so."""
    bench = Bench(name, tmp_path / "card")
    menu = max(bench.menus(), key=lambda one: len(one.entries))
    names = [entry.name for entry in menu.entries]
    bench.apply(plan_order(bench.tree, bench.profile, menu, [names[-1], *names[:-1]]))
    found = next(one for one in bench.menus() if one.root == menu.root)
    stems = [name.rpartition(" ")[2] for name in (names[-1], *names[:-1])]
    assert [entry.name.rpartition(" ")[2] for entry in found.entries] == stems


@pytest.mark.parametrize("name", [name for name in RARE if any(m.label for m in make_rare(name).menus)])
def test_a_shown_name_can_be_changed(name: str, tmp_path: Path) -> None:
    """The old words are gone from one line of one file, the new ones stand there instead."""
    bench = Bench(name, tmp_path / "card")
    thing = next(one for menu in bench.plan.menus for one in menu.things if one.label)
    menu, entry = bench.find(thing)
    bench.apply(plan_label(bench.tree, bench.profile, menu, entry, "Slow Weather"))
    after = bench.read()
    assert thing.label
    for path, content in bench.before.items():
        for line in _changed_lines(content, after[path]):
            assert b"Slow Weather" in after[path].split(b"\n")[line - 1]
        _parse(path, after[path])
    assert sum(content.count(b"Slow Weather") for content in after.values()) >= 1
    assert next(e.label for m in bench.menus() for e in m.entries if e.at == entry.at) == "Slow Weather"


@pytest.mark.parametrize(
    "name", ["splashes_of_every_moment", "picture_at_the_root", "names_in_other_scripts"]
)
def test_a_picture_can_be_put_up(name: str, tmp_path: Path) -> None:
    """Each splash keeps its container and its size in pixels; its content is another."""
    bench = Bench(name, tmp_path / "card")
    picture = tmp_path / "picture.png"
    picture.write_bytes(png(draw(320, 240, 77)))
    bench.apply(plan_put(bench.tree, bench.profile, ("all",), picture))
    after = bench.read()
    for splash in bench.plan.splashes:
        path = splash["file"].partition(":")[2]
        assert after[path] != bench.before[path]
        assert after[path][:2] == bench.before[path][:2]
        sizes = slice(16, 24) if splash["kind"]["container"] == "png" else slice(18, 26)
        assert after[path][sizes] == bench.before[path][sizes]
