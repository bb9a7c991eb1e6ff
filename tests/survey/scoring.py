"""Scores a profile against an invented card: what it finds, laid beside what the card's maker knows.

The profile is read and carried out by the workbench (a profile is worth what the workbench does with it);
what it should find comes from `layouts` alone. Roles of volumes are compared by the folders they stand for.
"""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from layout_card import CardPlan, Place, Thing

from workbench.card.computer import Computer
from workbench.card.disk_tree import DiskTree
from workbench.card.menu import Menu, read_menus
from workbench.card.opening import open_folder
from workbench.card.profile_reader import parse_profile
from workbench.card.reference import FileReference, Reference
from workbench.card.references import find_all_references
from workbench.card.volumes import Card
from workbench.errors import CardwrightError
from workbench.jobs.splash_target import find_splash_file, profile_hint
from workbench.media.kind_reader import read_kind

Named = tuple[str, str, Place]
"""The entry's volume folder and path, and one place that names it."""


@dataclass(frozen=True)
class Score:
    """How a profile did on one card."""

    seed: int
    expected: int
    found: int
    right: int
    missed: tuple[Named, ...]
    invented: tuple[Named, ...]
    menus: bool
    labels: bool
    splashes: bool
    notes: tuple[str, ...] = ()

    @property
    def recall(self) -> float:
        return self.right / self.expected if self.expected else 1.0

    @property
    def precision(self) -> float:
        return self.right / self.found if self.found else 1.0

    def line(self) -> str:
        """One line of the report."""
        flags = " ".join(
            word if good else f"NO-{word}"
            for word, good in (("menus", self.menus), ("labels", self.labels), ("splashes", self.splashes))
        )
        return (
            f"seed {self.seed:4}: recall {self.recall:.3f} ({self.right}/{self.expected}), "
            f"precision {self.precision:.3f} ({self.right}/{self.found}), {flags}"
        )

    def details(self, most: int = 12) -> str:
        """What was missed and invented, for a person."""
        lines = [self.line(), *self.notes]
        for word, all_of_them in (("missed", self.missed), ("invented", self.invented)):
            lines += [f"  {word}: {entry} in {place}" for _, entry, place in all_of_them[:most]]
        return "\n".join(lines)


class Scorer:
    """One profile on one card that is laid out in a folder."""

    def __init__(self, plan: CardPlan, folder: Path, profile: str) -> None:
        self._plan = plan
        parsed = parse_profile(profile.encode(), Path("profile.toml"))
        self._profile = parsed
        self._card: Card = open_folder(folder, [parsed], Computer(), {})
        root = Path(os.path.realpath(folder))
        below = {one.role: Path(os.path.realpath(one.root)).relative_to(root) for one in self._card.present}
        self._folders = {role: "" if path == Path() else str(path) for role, path in below.items()}
        self._tree = DiskTree(self._card)

    def score(self) -> Score:
        expected, found = Counter(self._expected()), Counter(self._found())
        right = expected & found
        menus, notes = self._compare_menus()
        splashes, splash_notes = self._compare_splashes()
        labels, label_notes = self._compare_labels()
        return Score(
            seed=self._plan.seed,
            expected=expected.total(),
            found=found.total(),
            right=right.total(),
            missed=tuple(sorted((expected - right).elements(), key=str)),
            invented=tuple(sorted((found - right).elements(), key=str)),
            menus=menus,
            labels=labels,
            splashes=splashes,
            notes=(*notes, *label_notes, *splash_notes),
        )

    def _expected(self) -> Iterator[Named]:
        for thing, places in self._plan.places.items():
            for place in places:
                yield thing.menu.volume.folder, thing.path, place

    def _found(self) -> Iterator[Named]:
        for at, references in find_all_references(self._tree, self._profile).items():
            for one in references:
                yield self._folders[at.volume], at.path, self._place(one)

    def _place(self, one: Reference | FileReference) -> Place:
        if isinstance(one, FileReference):
            return Place(self._folders[one.at.volume], one.at.path, None, "file")
        group = "key" if one.kind in ("key", "section") else "text"
        return Place(self._folders[one.at.volume], one.at.path, one.line, group)

    def _menus(self) -> tuple[Menu, ...]:
        return read_menus(self._tree, self._profile)

    def _compare_menus(self) -> tuple[bool, list[str]]:
        found = Counter(
            (self._folders[menu.root.volume], entry.at.path)
            for menu in self._menus()
            for entry in menu.entries
        )
        expected = Counter((thing.menu.volume.folder, thing.path) for thing in self._plan.things)
        notes = [f"  menu lacks {path}" for _, path in sorted((expected - found).keys())[:4]]
        notes += [f"  menu also has {path}" for _, path in sorted((found - expected).keys())[:4]]
        return found == expected, notes

    def _compare_labels(self) -> tuple[bool, list[str]]:
        shown = {
            (self._folders[entry.at.volume], entry.at.path): entry.label if entry.has_label else None
            for menu in self._menus()
            for entry in menu.entries
        }
        wrong = [thing for thing in self._plan.things if shown.get(_key(thing)) != thing.label]
        notes = [
            f"  label of {thing.path}: {shown.get(_key(thing))!r}, not {thing.label!r}" for thing in wrong[:4]
        ]
        return not wrong, notes

    def _compare_splashes(self) -> tuple[bool, list[str]]:
        """By file, not by moment: a moment is a question to the person."""
        expected = {
            splash["file"].partition(":")[2]: _pick_kind(splash["kind"]) for splash in self._plan.splashes
        }
        found = {rule.file.path: self._read_kind(rule) for rule in self._profile.splashes}
        notes = [
            f"  splash {path}: {found.get(path)}, not {kind}"
            for path, kind in expected.items()
            if found.get(path) != kind
        ]
        notes += [f"  {path} is no splash" for path in found.keys() - expected.keys()]
        return not notes, notes

    def _read_kind(self, rule: object) -> tuple[object, ...] | str:
        hint = profile_hint(self._profile, rule)  # type: ignore[arg-type]
        at, content = find_splash_file(self._tree, rule)  # type: ignore[arg-type]
        try:
            kind = read_kind(content or b"", hint)
        except CardwrightError as error:
            return f"{at}: {error.message}"
        masks = kind.masks if kind.container == "bmp" and kind.bits == 16 else None
        return kind.container, kind.bits, masks, kind.rows if kind.container == "bmp" else None, kind.gzip


def _key(thing: Thing) -> tuple[str, str]:
    return thing.menu.volume.folder, thing.path


def _pick_kind(kind: dict[str, object]) -> tuple[object, ...]:
    masks = kind.get("masks")
    return kind["container"], kind["bits"], masks, kind.get("rows"), bool(kind.get("gzip"))


def score_profile(plan: CardPlan, folder: Path, profile: str) -> Score:
    """Score a profile's text on the card of that plan, laid out in the folder."""
    return Scorer(plan, folder, profile).score()


def report(scores: Iterable[Score]) -> str:
    """The lines of all scores."""
    return "\n".join(score.line() for score in scores)
