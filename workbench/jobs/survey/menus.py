"""Tells which folders are menus: those whose children the card's own texts name.

A folder is taken where many of its children are named, as whole texts or in paths that really lead there.
Folders that only repeat the names of another (saved games, manuals) go with that one.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

from workbench.jobs.survey.places import Places, fold, stems_of
from workbench.jobs.survey.reading import Tell
from workbench.jobs.survey.roster import MenuGuess, make_menu
from workbench.jobs.survey.routes import Routes
from workbench.jobs.survey.sites import Site
from workbench.jobs.survey.tally import Candidate, Tally, cut_suffixes
from workbench.jobs.survey.unnamed import find_unnamed

_FEW_MENUS = 6
"""As many folders beside each other are sooner menus than entries."""


def find_menus(
    places: Places,
    sites: Sequence[Site],
    routes: Routes,
    choices: Mapping[str, str],
    tell: Tell | None = None,
) -> tuple[tuple[MenuGuess, ...], tuple[tuple[str, str], ...], tuple[str, ...]]:
    """The menus, the strongest first; pairs of roots that leave a doubt; what was too weak.

    Args:
        choices: answers that were given, by question.
    """
    tally = Tally(places, sites, routes, tell)
    candidates = _sort(tally, list(tally.candidates()))
    taken: list[Candidate] = []
    weak: list[Candidate] = []
    doubts: list[tuple[str, str]] = []
    for one in candidates:
        other = next((menu for menu in taken if _goes_with(places, one, menu)), None)
        if other is not None:
            if _could_be_instead(one, other):
                doubts.append((_title(places, other), _title(places, one)))
                if choices.get("root") == _title(places, one):
                    one.rivals, taken[taken.index(other)] = [other], one
                else:
                    other.rivals.append(one)
        elif one.above is not None and _repeats(one, _all_names(places, taken)):
            continue  # it goes with several menus at once
        elif not _is_inside(places, one, taken):
            if tally.is_strong(one):
                taken.append(one)
            elif not _is_above(places, one, taken):
                weak.append(one)
    for one in find_unnamed(places) if not taken else ():
        other = next((menu for menu in taken if _goes_with(places, one, menu)), None)
        if other is None and not _is_inside(places, one, taken):
            taken.append(one)
        elif other is not None and _could_be_instead(one, other):
            doubts.append((_title(places, other), _title(places, one)))
            other.rivals.append(one)
    menus = _make_menus(places, tally, [*taken, *_rooms(places, tally, taken)])
    return menus, tuple(doubts[:1]), tuple(_title(places, one) for one in weak if len(one.children) > 1)


def _all_names(places: Places, taken: Sequence[Candidate]) -> set[str]:
    return set().union(*(_names_of(places, menu) for menu in taken))


def _sort(tally: Tally, candidates: list[Candidate]) -> list[Candidate]:
    """The strongest first; a folder that holds a menu's menus before one that only repeats its names."""
    above = {one.above for one in candidates if one.above is not None and tally.is_strong(one)}
    return sorted(
        candidates,
        key=lambda one: (
            -one.score,
            one.above is not None or one.homes[0] not in above,
            one.kind != "folders",
        ),
    )


def _rooms(places: Places, tally: Tally, taken: Sequence[Candidate]) -> list[Candidate]:
    """Where each folder is a menu, the folders themselves are listed somewhere before it.

    Where such folders lie side by side, so are those that hold them.
    """
    known = {home for one in taken if one.above is None for home in one.homes}
    waiting = [one.above for one in taken if one.above is not None]
    rooms: list[Candidate] = []
    for above in waiting:
        if above not in known:
            known.add(above)
            rooms.append(tally.make_rooms(above))
    over = Counter(one.number for above in set(waiting) if (one := places.above(above)) is not None)
    for number, count in over.items():
        beside = sum(1 for _ in places.children(number, folders=True))
        if count > 1 and count >= 0.6 * beside and number not in known and places.folders[number].path:
            rooms.append(tally.make_rooms(number))
    return rooms


def _goes_with(places: Places, one: Candidate, menu: Candidate) -> bool:
    """Whether a folder only repeats the names of a menu."""
    if set(one.homes) & set(menu.homes):
        return True
    return _repeats(one, _names_of(places, menu))


def _names_of(places: Places, menu: Candidate) -> set[str]:
    """Names and stems of its entries; of menus side by side also their own."""
    names: set[str] = set()
    for home in menu.homes:
        if menu.above is not None:
            names.add(fold(places.folders[home].name))
        for name in places.children(home, folders=menu.kind == "folders"):
            names.add(fold(name))
            if menu.kind == "files":
                names.update(fold(stem) for stem in stems_of(name))
    return names


def _repeats(one: Candidate, names: set[str]) -> bool:
    same = sum(1 for child in one.children if child in names or cut_suffixes(child) & names)
    return same >= 0.6 * len(one.children)


def _could_be_instead(one: Candidate, menu: Candidate) -> bool:
    """Whether as much speaks for the one as for the other."""
    return one.score >= 0.9 * menu.score and len(one.children) >= 0.9 * len(menu.children) > 0


def _is_inside(places: Places, one: Candidate, taken: Sequence[Candidate]) -> bool:
    """Whether it lies in an entry of a menu, or above one with nothing but paths to say for itself."""
    paths = [places.folders[home] for home in one.homes]
    for menu in taken:
        for home in menu.homes:
            root = places.folders[home]
            for mine in paths:
                if mine.volume != root.volume or menu.above in one.homes:
                    continue
                if one.above == home and _is_full(one):
                    continue
                start = f"{root.path}/" if root.path else ""
                below = menu.kind == "folders" and mine.path.startswith(start)
                if below and fold(mine.path[len(start) :].partition("/")[0]) in menu.children:
                    return True
                above = not mine.path or root.path.startswith(mine.path + "/")
                if above and not one.bare and one.kind == "folders":
                    return True
    return False


def _is_full(one: Candidate) -> bool:
    """Whether folders that a menu lists look like menus themselves, not like entries with a few files."""
    has_names = bool(one.bare or one.stems)
    return has_names or len(one.homes) <= _FEW_MENUS or len(one.children) >= 3 * len(one.homes)


def _is_above(places: Places, one: Candidate, taken: Sequence[Candidate]) -> bool:
    roots = [places.folders[home] for menu in taken for home in menu.homes]
    mine = [places.folders[home] for home in one.homes]
    return any(
        root.volume == folder.volume and (not folder.path or root.path.startswith(folder.path + "/"))
        for root in roots
        for folder in mine
    )


def _title(places: Places, one: Candidate) -> str:
    folder = places.folders[one.homes[0]]
    path = folder.path
    if one.above is not None:
        path = places.folders[one.above].child("{parent}")
    return f"{folder.volume}:{path}"


def _make_menus(places: Places, tally: Tally, taken: Sequence[Candidate]) -> tuple[MenuGuess, ...]:
    ids: set[str] = set()
    menus = []
    above = {one.above for one in taken if one.above is not None}
    for one in taken:
        folder = places.folders[one.homes[0]]
        root = places.folders[one.above].child("{parent}") if one.above is not None else folder.path
        name = places.folders[one.above].name if one.above is not None else folder.name
        plain = "".join(char for char in name or folder.volume if char not in ":/") or "menu"
        if one.above is None and one.homes[0] in above:
            plain += "-folders"
        menu_id, number = plain, 2
        while menu_id in ids:
            menu_id, number = f"{plain}-{number}", number + 1
        ids.add(menu_id)
        homes = _all_homes(places, one)
        usual = [suffix for suffix, count in one.suffixes.items() if 50 * count >= one.suffixes.total()]
        menus.append(
            make_menu(
                places,
                menu_id,
                root,
                homes,
                one.kind,
                usual,
                named=len(one.children),
                sites=len(one.sites),
                hide=tally.find_hidden(one),
                rivals=tuple(_title(places, rival) for rival in one.rivals),
            )
        )
    return tuple(menus)


def _all_homes(places: Places, one: Candidate) -> dict[int, str | None]:
    """Of a family also the folders of which nothing is named yet."""
    if one.above is None:
        return dict.fromkeys(one.homes)
    above = places.folders[one.above]
    found: dict[int, str | None] = {}
    for name in places.children(one.above, folders=True):
        folder = places.find(above.volume, above.child(name))
        if folder is not None:
            found[folder.number] = name
    return found
