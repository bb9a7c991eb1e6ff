"""Packs added, edited by hand, covered by others and taken out, against a model: layers at each place.

The model knows nothing of ledgers. At each path lie layers, each with its owner; what is seen is the top one.
A pack puts a layer on top, a hand too. Taking a pack out takes its layer away if it is on top, and then every
layer below it whose pack is out already. A layer of a hand is never taken away.
"""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pack_card import make_zip

from workbench.card.disk_tree import DiskTree
from workbench.card.profile_reader import read_profile
from workbench.card.volumes import Card, Volume
from workbench.changes.apply import apply
from workbench.changes.brought import find_pack, read_traces
from workbench.changes.taking_out import plan_taking_out
from workbench.changes.undo import plan_undo
from workbench.errors import CardwrightError
from workbench.jobs.packs.adding import plan_add_pack
from workbench.jobs.packs.looking import look
from workbench.jobs.packs.removing import plan_remove_pack

PROFILE = """
schema = 1
name = "Layers"
[panel]
width = 64
height = 64
[volumes.main]
identify = ["things/"]
names = "fat"
[[menus]]
id = "things"
root = "main:things"
entries = "folders"
order = "bytes"
"""

PATHS = ("things/A/run", "things/A/more/x", "things/B/run", "things/old", "things/deep/er/y")
CONTENTS = (b"one", b"two", b"three", b"", b"line\n" * 300)
MEMORY = "/dev/shm" if os.access("/dev/shm", os.W_OK) else None

Layers = dict[str, list[tuple[str, bytes | None]]]

packs = st.dictionaries(st.sampled_from(PATHS), st.sampled_from(CONTENTS), min_size=1, max_size=4)
edits = st.tuples(st.just("hand"), st.sampled_from(PATHS), st.sampled_from((*CONTENTS, None)))
adds = st.tuples(st.just("add"), packs, st.sampled_from(("theirs", "mine")))
removes = st.tuples(st.just("remove"), st.integers(0, 3))
acts = st.lists(st.one_of(adds, adds, edits, removes), min_size=3, max_size=8)
starts = st.dictionaries(st.sampled_from(PATHS), st.sampled_from(CONTENTS), max_size=3)


class Trial:
    """A card and its model, side by side."""

    def __init__(self, folder: Path, start: dict[str, bytes]) -> None:
        self.folder = folder
        self.root = folder / "card"
        (self.root / "things").mkdir(parents=True)
        (folder / "p.toml").write_text(PROFILE)
        self.profile = read_profile(folder / "p.toml")
        self.layers: Layers = {path: [("hand", None)] for path in PATHS}
        self.standing: list[str] = []
        self.out: set[str] = set()
        for path, content in start.items():
            self.hand(path, content)

    @property
    def card(self) -> Card:
        return Card("t", {"main": Volume("main", self.root, host_names="exact")}, self.profile, "folder")

    def hand(self, path: str, content: bytes | None) -> None:
        """A person writes or deletes a file by hand."""
        if content == self.layers[path][-1][1]:
            return
        place = self.root / path
        if content is None:
            place.unlink()
        else:
            place.parent.mkdir(parents=True, exist_ok=True)
            place.write_bytes(content)
        layers = self.layers[path]
        own = next((one for one in reversed(range(len(layers))) if layers[one][0] != "hand"), None)
        if own is not None and layers[own][1] == content:
            del layers[own + 1 :]  # edited away and back: nobody could know
        else:
            layers.append(("hand", content))

    def add(self, files: dict[str, bytes], decision: str) -> None:
        name = f"p{len(self.standing) + len(self.out)}"
        source = make_zip(self.folder / f"{name}.zip", files)
        tree = DiskTree(self.card)
        found = look(tree, self.profile, source, traces=read_traces(self.card))
        plan = plan_add_pack(tree, self.profile, found, {part.path: decision for part in found.of("clash")})
        if not plan.steps:
            return
        clashes = {part.path for part in found.of("clash")}
        apply(self.card, plan)
        self.standing.append(name)
        for path, content in files.items():
            is_taken = decision == "theirs" or path not in clashes
            if is_taken and self.layers[path][-1][1] != content:
                self.layers[path].append((name, content))

    def remove(self, number: int) -> None:
        if not self.standing:
            return
        name = self.standing[number % len(self.standing)]
        traces = read_traces(self.card)
        brought = find_pack(traces, name)
        taken = plan_taking_out(self.card, brought, traces)
        plan = plan_remove_pack(DiskTree(self.card), self.profile, taken, brought.entries)
        if not plan.steps:
            return
        before = self.seen()
        number = apply(self.card, plan).number
        apply(self.card, plan_undo(self.card, number))
        assert self.seen() == before, "an undo of the removal brings all back"
        apply(self.card, plan_again(self.card, self.profile, name))
        self.standing.remove(name)
        self.out.add(name)
        for layers in self.layers.values():
            while layers[-1][0] in self.out:
                layers.pop()

    def seen(self) -> dict[str, bytes]:
        return {
            str(file.relative_to(self.root)): file.read_bytes()
            for file in self.root.rglob("*")
            if file.is_file() and ".cardwright" not in file.parts
        }

    def check(self) -> None:
        wanted = {path: layers[-1][1] for path, layers in self.layers.items()}
        assert self.seen() == {path: content for path, content in wanted.items() if content is not None}


def plan_again(card: Card, profile: object, name: str) -> object:
    traces = read_traces(card)
    brought = find_pack(traces, name)
    return plan_remove_pack(DiskTree(card), profile, plan_taking_out(card, brought, traces), brought.entries)


@settings(max_examples=60, derandomize=True, deadline=None, suppress_health_check=list(HealthCheck))
@given(starts, acts)
def test_nothing_of_the_users_is_lost(start: dict[str, bytes], acts: list[tuple]) -> None:
    """After every act the card is what the model says; a removal taken back brings all of it back."""
    play(start, acts)


@pytest.mark.sweep
@settings(max_examples=1500, deadline=None, suppress_health_check=list(HealthCheck))
@given(starts, acts)
def test_nothing_of_the_users_is_lost_in_many(start: dict[str, bytes], acts: list[tuple]) -> None:
    """The same, with other packs and edits each time."""
    play(start, acts)


def play(start: dict[str, bytes], acts: list[tuple]) -> None:
    with tempfile.TemporaryDirectory(dir=MEMORY) as folder:
        trial = Trial(Path(folder), start)
        for act in acts:
            if act[0] == "hand":
                trial.hand(*act[1:])
            elif act[0] == "add":
                trial.add(*act[1:])
            else:
                trial.remove(act[1])
            trial.check()


def test_the_case_of_the_issue() -> None:
    """Add, change something by hand, add a second pack over it, remove the first."""
    first = {"things/A/run": b"one", "things/A/more/x": b"one", "things/old": b"one"}
    second = {"things/A/run": b"two", "things/old": b"two"}
    play(
        {"things/old": b"three"},
        [
            ("add", first, "theirs"),
            ("hand", "things/A/run", b"line\n" * 300),
            ("add", second, "theirs"),
            ("remove", 0),
            ("remove", 0),
        ],
    )


def test_a_hand_that_deleted_is_heeded() -> None:
    """A file that came with a pack and was deleted by hand stays away when the pack goes."""
    try:
        play(
            {},
            [
                ("add", {"things/A/run": b"one", "things/B/run": b"one"}, "theirs"),
                ("hand", "things/A/run", None),
                ("remove", 0),
            ],
        )
    except CardwrightError as error:
        raise AssertionError(error.message) from error


def test_the_same_content_again_is_the_later_packs() -> None:
    """What an earlier pack had written, a later one wrote again: it stays when the earlier one goes."""
    files = {"things/A/run": b"one"}
    play(
        {},
        [
            ("add", files, "theirs"),
            ("add", {"things/A/run": b"two"}, "theirs"),
            ("add", files, "theirs"),
            ("remove", 0),
        ],
    )


def test_what_two_packs_wrote_alike_comes_back_if_one_stands() -> None:
    """The earlier of the two is out, the later one stands: its content is not the removed one's."""
    files = {"things/A/run": b"three", "things/B/run": b"one"}
    play(
        {},
        [
            ("add", files, "theirs"),
            ("hand", "things/A/run", b"one"),
            ("remove", 0),
            ("add", files, "theirs"),
            ("add", {"things/A/run": b"two"}, "theirs"),
            ("remove", 1),
        ],
    )


def test_a_hand_that_wrote_what_a_pack_had_written_is_heeded() -> None:
    """The bytes are the pack's by chance; a later pack lay between, so they are the hand's."""
    play(
        {},
        [
            ("add", {"things/A/run": b"one"}, "theirs"),
            ("add", {"things/A/run": b"two"}, "theirs"),
            ("add", {"things/A/run": b"one"}, "theirs"),
            ("hand", "things/A/run", b"two"),
            ("remove", 1),
        ],
    )


def test_a_hand_that_wrote_what_a_removed_pack_had_written_is_heeded() -> None:
    """The pack is out, its content was gone; the hand wrote the same bytes again, and they come back."""
    play(
        {"things/A/run": b"two"},
        [
            ("add", {"things/A/run": b"one", "things/B/run": b"x" * 9}, "theirs"),
            ("remove", 0),
            ("hand", "things/A/run", b"one"),
            ("add", {"things/A/run": b"three"}, "theirs"),
            ("remove", 0),
        ],
    )


def test_a_hand_between_two_packs_that_both_go_is_heeded() -> None:
    """The hand wrote over the second pack what the first had written: it stays when both are out."""
    play(
        {},
        [
            ("add", {"things/A/run": b"three", "things/old": b"one"}, "theirs"),
            ("add", {"things/A/run": b"one", "things/B/run": b"one"}, "theirs"),
            ("hand", "things/A/run", b"three"),
            ("remove", 1),
            ("remove", 0),
        ],
    )
