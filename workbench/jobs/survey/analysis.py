"""Puts the parts of a survey together: from one reading and the answers to everything it concludes."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence

from workbench.card.paths import VolumePath
from workbench.jobs.survey.animations import AnimationGuess, find_animation
from workbench.jobs.survey.entry_files import EntryFiles, find_entry_files, settle_files
from workbench.jobs.survey.labels import LabelGuess, find_label
from workbench.jobs.survey.menus import find_menus
from workbench.jobs.survey.motion import Sequence as Frames
from workbench.jobs.survey.motion import find_sequences
from workbench.jobs.survey.orders import Listings, OrderDoubt, Pair
from workbench.jobs.survey.places import Places, fold
from workbench.jobs.survey.reading import Reading, Tell
from workbench.jobs.survey.roster import Key, MenuGuess
from workbench.jobs.survey.routes import Routes
from workbench.jobs.survey.rules import RuleGuess, make_rules
from workbench.jobs.survey.shapes import Shape, find_shapes
from workbench.jobs.survey.site_reading import Read, SiteReader
from workbench.jobs.survey.sites import Site, find_sites
from workbench.jobs.survey.splashes import PanelGuess, SplashGuess, find_splashes
from workbench.values import dataclass, field, replace

_MOST_HOMES = 64


@dataclass(frozen=True, slots=True, eq=False)
class MenuFindings:
    """One menu with what names its entries."""

    menu: MenuGuess
    files: tuple[EntryFiles, ...]
    label: LabelGuess | None
    other_labels: tuple[str, ...]
    rules: tuple[RuleGuess, ...]
    left: tuple[Read, ...]
    """Sites that name entries and got no rule."""


@dataclass(frozen=True, slots=True, eq=False)
class Analysis:
    """Everything that a reading leads to."""

    routes: Routes
    shapes: tuple[Shape, ...] = field(repr=False)
    sites: tuple[Site, ...] = field(repr=False)
    menus: tuple[MenuFindings, ...]
    doubts: tuple[tuple[str, str], ...]
    """Two folders of which either could be the menu."""
    weak: tuple[str, ...]
    """Folders for which too little speaks."""
    order: OrderDoubt
    asked: tuple[Pair, ...]
    panel: PanelGuess | None
    splashes: tuple[SplashGuess, ...]
    animation: AnimationGuess | None
    other_motions: tuple[str, ...]
    root: str | None = None
    """The answer about the menus' root that it was made with."""


@dataclass(frozen=True, slots=True, eq=False)
class Texts:
    """The sites of a reading: found once, whatever is answered."""

    shapes: tuple[Shape, ...]
    sites: tuple[Site, ...]
    routes: Routes
    motions: tuple[Frames, ...]


def find_texts(reading: Reading) -> Texts:
    """The sites of a reading and where their paths lead."""
    places = reading.places
    homes = _Homes(places)
    shapes = tuple(find_shapes(reading.manifests, homes.is_name))
    sites = tuple(site for shape in shapes for site in find_sites(shape, homes.count_together))
    return Texts(shapes, sites, Routes(places, sites), find_sequences(places))


def find_first_texts(reading: Reading) -> Texts:
    """The same from a first look, each file by itself, for which no name is looked up."""
    shapes = tuple(Shape(one.volume, one.path, one.format, (one,)) for one in reading.manifests)
    sites = tuple(site for shape in shapes for site in find_sites(shape, lambda _: 0))
    return Texts(shapes, sites, Routes(reading.places, sites, is_first_look=True), ())


def analyse(
    reading: Reading,
    texts: Texts,
    answers: Mapping[str, str],
    *,
    before: Analysis | None = None,
    tell: Tell | None = None,
) -> Analysis:
    """What the card's layout seems to be.

    Args:
        before: what was concluded before the last answer; of it all stays that the answer does not touch.
        tell: told how far it is; what it raises ends it.
    """
    if before is not None and before.root == answers.get("root"):
        order, asked = Listings([one.menu for one in before.menus]).settle(answers)
        return replace(before, order=order, asked=tuple(asked))
    places = reading.places
    found, doubts, weak = find_menus(places, texts.sites, texts.routes, answers, tell)
    claimed = [find_entry_files(places, menu, texts.motions) for menu in found]
    files = settle_files(places, found, claimed)
    menus = tuple(_look_at(places, texts, menu, own, tell) for menu, own in zip(found, files, strict=True))
    order, asked = Listings(found).settle(answers)
    taken = {
        VolumePath(files.volume, path) for one in menus for files in one.files for _, path in files.claimed
    }
    animation, others = find_animation(reading.tree, places, texts.motions, reading.manifests, texts.sites)
    shown = [animation.frames] if animation is not None else []
    inside = _folders_of_entries(places, found) | {motion.folder for motion in texts.motions}
    panel, splashes = find_splashes(reading.tree, places, taken, shown, inside)
    return Analysis(
        texts.routes,
        texts.shapes,
        texts.sites,
        menus,
        doubts,
        weak,
        order,
        tuple(asked),
        panel,
        splashes,
        animation,
        others,
        answers.get("root"),
    )


def _look_at(
    places: Places, texts: Texts, menu: MenuGuess, files: tuple[EntryFiles, ...], tell: Tell | None
) -> MenuFindings:
    reader = SiteReader(places, texts.routes, menu, _claims(places, files))
    reads: list[Read] = []
    for number, site in enumerate(texts.sites):
        if tell is not None:
            tell("places looked through for names", number, len(texts.sites))
        reads.append(reader.read(site))
    label, label_sites, others = find_label(menu, reads)
    rules, left = make_rules(menu, reads, label_sites)
    return MenuFindings(menu, files, label, others, rules, left)


def _claims(places: Places, files: Iterable[EntryFiles]) -> dict[tuple[int, str], Key]:
    claims: dict[tuple[int, str], Key] = {}
    for one in files:
        for key, path in one.claimed:
            above, _, name = path.rpartition("/")
            folder = places.find(one.volume, above)
            if folder is not None:
                claims[folder.number, fold(name)] = key
    return claims


def _folders_of_entries(places: Places, menus: Sequence[MenuGuess]) -> set[int]:
    """Folders that lie in entries: whatever pictures are there are theirs."""
    inside: set[int] = set()
    roots = [
        (places.folders[home].volume, places.folders[home].child(menu.names[key]))
        for menu in menus
        if menu.kind == "folders"
        for key in menu.names
        for home in (key[0],)
    ]
    tops = {(volume, fold(path)) for volume, path in roots}
    if not tops:
        return inside
    for folder in places.folders:
        parts = fold(folder.path).split("/")
        if any((folder.volume, "/".join(parts[:count])) in tops for count in range(1, len(parts) + 1)):
            inside.add(folder.number)
    return inside


class _Homes:
    """Asks in which folders texts are names."""

    def __init__(self, places: Places) -> None:
        self._places = places
        self._known: dict[str, bool] = {}

    def is_name(self, text: str) -> bool:
        """Whether anything is called so; files of one shape ask for the same keys over and over."""
        known = self._known.get(text)
        if known is None:
            known = bool(self._places.homes_of_name(text) or self._places.homes_of_stem(text))
            self._known[text] = known
        return known

    def count_together(self, keys: Iterable[str]) -> int:
        """How many of the keys are children of one and the same folder, or of folders side by side."""
        counts: Counter[int] = Counter()
        beside: Counter[int] = Counter()
        for key in keys:
            homes = {*self._places.homes_of_name(key), *self._places.homes_of_stem(key)}
            if len(homes) <= _MOST_HOMES:
                counts.update(homes)
                beside.update({above for home in homes if (above := self._above(home)) is not None})
        return max(*counts.values(), *beside.values(), 0, 0)

    def _above(self, home: int) -> int | None:
        above = self._places.above(home)
        return above.number if above is not None and above.path else None
