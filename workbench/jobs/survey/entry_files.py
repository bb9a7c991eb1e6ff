"""Finds the files whose own names name an entry: pictures, saved games, manuals, folders of an entry's name.

A pattern is what stands around the name (`wide-{stem}-of.png`), told from the names in one folder alone.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence

from workbench.jobs.survey.motion import Sequence as Frames
from workbench.jobs.survey.pictures import is_picture
from workbench.jobs.survey.places import Folder, Places, fold
from workbench.jobs.survey.roster import Key, MenuGuess, is_entry_file
from workbench.values import dataclass, field

_SAMPLE = 24
_LONGEST = 160
_SHARE = 0.3
_ANY = ".*"
_MOST_INNER = 400
_CLEARLY = 1.5


@dataclass(frozen=True, slots=True, eq=False)
class EntryFiles:
    """One pattern of files that go with entries."""

    volume: str
    pattern: str
    """With `{entry}` or `{stem}`, and `{parent}`."""
    is_picture: bool
    found: Mapping[Key, str] = field(repr=False)
    """The path that goes with each entry (one of them, where there are several)."""
    claimed: tuple[tuple[Key, str], ...] = field(repr=False)
    """Every entry and path that fit together."""
    beside: int
    """How many files of that kind lie there."""


@dataclass(frozen=True, slots=True)
class _Fit:
    """One file that names an entry."""

    before: str
    piece: str
    after: str
    key: Key
    path: str


_Loose = tuple[Folder, frozenset[int], str]
"""A file: its folder, the menu folders whose entries it may go with, its name."""
_Group = tuple[str, str, str, str, str]
"""Volume, folder (`{parent}` in it), what stands before, the piece, what follows."""


def find_entry_files(
    places: Places, menu: MenuGuess, motions: Iterable[Frames] = ()
) -> tuple[EntryFiles, ...]:
    """The patterns of files and folders that go with a menu's entries."""
    frames = {motion.folder for motion in motions}
    beside: Counter[tuple[str, str, bool]] = Counter()
    folders_named, inside = _find_named_folders(places, menu)
    shelves: dict[tuple[str, str], list[_Loose]] = defaultdict(list)
    for folder in places.folders:
        if folder.number in frames or folder.number in inside or _is_in_entry(places, menu, folder):
            continue
        parent, title = _parent_of(menu, folder)
        names = [name for name, is_folder in folder.listing if not is_folder and name[:1] != "."]
        if folder.number in menu.homes:
            names = [] if menu.kind == "folders" else [n for n in names if not is_entry_file(menu, n)]
        homes = menu.in_parent(parent)
        shelves[folder.volume, title] += ((folder, homes, name) for name in names)
        beside.update((folder.volume, title, is_picture(name)) for name in names)
    groups: dict[_Group, list[_Fit]] = defaultdict(list)
    for (volume, title), loose in shelves.items():
        for fit in _fit_names(menu, loose):
            groups[volume, title, fit.before, fit.piece, fit.after].append(fit)
    return (*folders_named, *_find_inner(places, menu), *_make_patterns(menu, groups, beside))


def settle_files(
    places: Places, menus: Sequence[MenuGuess], of_menus: Sequence[tuple[EntryFiles, ...]]
) -> list[tuple[EntryFiles, ...]]:
    """Of patterns by which two menus claim the same files those of the menu that claims clearly more.

    Menus may share names; what lies in one folder under one pattern mostly goes with one of them. The entries
    of a menu go with no other.
    """
    entries = {
        (menu.volume, places.folders[key[0]].child(name))
        for menu in menus
        for key, name in menu.names.items()
    }
    claims: dict[tuple[str, str], list[tuple[int, set[str]]]] = defaultdict(list)
    for number, patterns in enumerate(of_menus):
        for one in patterns:
            claims[_shelf(one)].append((number, _claimed(one)))
    return [
        tuple(
            one
            for one in patterns
            if not any(
                other != number and _is_theirs(_claimed(one), theirs) for other, theirs in claims[_shelf(one)]
            )
            and not all((one.volume, path) in entries for path in _claimed(one))
        )
        for number, patterns in enumerate(of_menus)
    ]


def _shelf(one: EntryFiles) -> tuple[str, str]:
    """The folder of a pattern."""
    return one.volume, one.pattern.rpartition("/")[0]


def _claimed(one: EntryFiles) -> set[str]:
    return {path for _, path in one.claimed}


def _is_theirs(mine: set[str], theirs: set[str]) -> bool:
    """Whether all of these files are claimed by another who claims many more beside them."""
    return mine <= theirs and len(theirs) >= _CLEARLY * len(mine)


def _is_in_entry(places: Places, menu: MenuGuess, folder: Folder) -> bool:
    """Whether a folder lies below an entry of the menu."""
    if menu.kind == "files":
        return False
    parts = folder.path.split("/")
    for home in menu.homes:
        root = places.folders[home]
        start = len(root.path.split("/")) if root.path else 0
        inside = not root.path or folder.path.startswith(root.path + "/")
        if inside and len(parts) > start and (home, fold(parts[start])) in menu.names:
            return root.volume == folder.volume
    return False


def _parent_of(menu: MenuGuess, folder: Folder) -> tuple[str | None, str]:
    """Which menu the folder goes with, and its path with `{parent}` in place of that menu's name."""
    parents = menu.parents
    parts = folder.path.split("/")
    for place in range(len(parts) - 1, -1, -1):
        if parents and fold(parts[place]) in parents:
            return fold(parts[place]), "/".join((*parts[:place], "{parent}", *parts[place + 1 :]))
    return None, folder.path


# Names of files


def _fit_names(menu: MenuGuess, names: list[_Loose]) -> Iterator[_Fit]:
    """Names that start with an entry's, then those with something of one form around it."""
    left = []
    for loose in names:
        fit = _fit_start(menu, loose)
        if fit is None:
            left.append(loose)
        else:
            yield fit
    for _ in range(3):
        affixes = _learn_affixes(menu, left)
        if affixes is None:
            return
        rest = []
        for loose in left:
            fit = _fit_affixes(menu, loose, *affixes)
            if fit is None:
                rest.append(loose)
            else:
                yield fit
        if len(rest) == len(left):
            return
        left = rest


def _fit_start(menu: MenuGuess, loose: _Loose) -> _Fit | None:
    """The longest name that the file's name starts with, up to one of its dots."""
    folder, homes, name = loose
    cut = len(name)
    while cut > 0:
        found = _find(menu, homes, name[:cut])
        if found is not None and cut < len(name):
            return _Fit("", found[0], name[cut:], found[1], folder.child(name))
        cut = name.rfind(".", 0, cut)
    return None


def _find(menu: MenuGuess, homes: frozenset[int], text: str) -> tuple[str, Key] | None:
    found = menu.find(text)
    if found is None:
        return None
    how, keys = found
    key = next((key for key in keys if key[0] in homes), None)
    return None if key is None else ("stem" if how == "stem" else "entry", key)


def _learn_affixes(menu: MenuGuess, names: Sequence[_Loose]) -> tuple[str, str, str] | None:
    """What stands around the names of entries in most of these names."""
    step = max(1, len(names) // _SAMPLE)
    votes: Counter[tuple[str, str, str]] = Counter()
    for _, homes, name in names[::step][:_SAMPLE]:
        if len(name) > _LONGEST:
            continue
        for start in range(len(name)):
            for end in range(len(name), start, -1):
                found = _find(menu, homes, name[start:end])
                if found is not None:
                    votes[name[:start], found[0], name[end:].lower()] += 1
    best = max(votes.items(), key=lambda vote: (vote[1], -len(vote[0][0]) - len(vote[0][2])), default=None)
    return best[0] if best is not None and best[1] > 1 else None


def _fit_affixes(menu: MenuGuess, loose: _Loose, before: str, piece: str, after: str) -> _Fit | None:
    folder, homes, name = loose
    end = len(name) - len(after)
    if end <= len(before) or not fold(name).startswith(fold(before)) or name[end:].lower() != after:
        return None
    found = _find(menu, homes, name[len(before) : end])
    if found is None or found[0] != piece:
        return None
    return _Fit(before, piece, after, found[1], folder.child(name))


# Patterns


def _make_patterns(
    menu: MenuGuess, groups: Mapping[_Group, list[_Fit]], beside: Counter[tuple[str, str, bool]]
) -> Iterator[EntryFiles]:
    """Pictures by their exact affixes; other files by what follows the name, any suffix where it varies."""
    others: dict[tuple[str, str, str], list[_Fit]] = defaultdict(list)
    pictures: dict[_Group, list[_Fit]] = defaultdict(list)
    for (volume, title, before, piece, after), fits in groups.items():
        if is_picture("x" + after):
            pictures[volume, title, before, piece, after.lower()] += fits
        elif not before:
            others[volume, title, piece] += fits
        elif len(fits) > 1:
            others[volume, title, f"{before}\0{piece}"] += fits
    for (volume, title, before, piece, after), fits in sorted(pictures.items(), key=lambda one: -len(one[1])):
        total = beside[volume, title, True]
        if _is_enough(menu, fits, total):
            beside[volume, title, True] -= len(fits)
            pattern = _path(title, f"{before}{{{piece}}}{after}")
            yield _make(volume, pattern, True, fits, total)
    for (volume, title, key), fits in others.items():
        total = beside[volume, title, False]
        if not _is_enough(menu, fits, total):
            continue
        before, _, piece = key.rpartition("\0")
        afters = {fit.after.lower() for fit in fits}
        yield _make(
            volume,
            _path(title, f"{before}{{{piece}}}{afters.pop() if len(afters) == 1 else _ANY}"),
            False,
            fits,
            total,
        )


def _is_enough(menu: MenuGuess, fits: Sequence[_Fit], beside: int) -> bool:
    keys = {fit.key for fit in fits}
    if len(keys) < 2:
        return False
    return len(fits) >= _SHARE * beside or len(keys) >= max(3, 0.5 * len(menu.names))


def _make(volume: str, pattern: str, is_picture: bool, fits: Sequence[_Fit], beside: int) -> EntryFiles:
    claimed = tuple((fit.key, fit.path) for fit in fits)
    return EntryFiles(volume, pattern, is_picture, dict(claimed), claimed, beside)


def _path(folder: str, name: str) -> str:
    return f"{folder}/{name}" if folder else name


# Folders of an entry's name


def _find_named_folders(places: Places, menu: MenuGuess) -> tuple[list[EntryFiles], set[int]]:
    """Folders elsewhere that bear the names of entries: a picture in each, or whatever else is kept there."""
    found: list[EntryFiles] = []
    inside: set[int] = set()
    for folder in places.folders:
        if folder.number in menu.homes or _is_in_entry(places, menu, folder):
            continue
        parent, title = _parent_of(menu, folder)
        homes = menu.in_parent(parent)
        names = list(places.children(folder.number, folders=True))
        fits = [(name, _find(menu, homes, name)) for name in names]
        named = [(name, fit) for name, fit in fits if fit is not None]
        if len(named) < 2 or len(named) < 0.5 * len(names):
            continue
        below = [places.find(folder.volume, folder.child(name)) for name, _ in named]
        if menu.homes.keys() & {one.number for one in below if one is not None}:
            continue
        piece = Counter(fit[0] for _, fit in named).most_common(1)[0][0]
        inner = _shared_picture([one for one in below if one is not None])
        pattern = _path(title, f"{{{piece}}}")
        keys = {fit[1]: folder.child(name) for name, fit in named if fit[0] == piece}
        claimed = tuple(keys.items())
        if inner is not None:
            pictures = {key: f"{path}/{inner}" for key, path in claimed}
            inside_it = (*claimed, *pictures.items())
            found.append(
                EntryFiles(folder.volume, f"{pattern}/{inner}", True, pictures, inside_it, len(names))
            )
        else:
            found.append(EntryFiles(folder.volume, pattern, False, keys, claimed, len(names)))
        if menu.kind == "files" or inner is None:
            inside |= {one.number for one in below if one is not None}
    return found, inside


def _find_inner(places: Places, menu: MenuGuess) -> Iterator[EntryFiles]:
    """A picture of one name that lies in most of the entries themselves."""
    if menu.kind != "folders" or not menu.names:
        return
    keys = list(menu.names)
    step = max(1, len(keys) // _MOST_INNER)
    folders: dict[Key, Folder] = {}
    for key in keys[::step]:
        home = places.folders[key[0]]
        folder = places.find(home.volume, home.child(menu.names[key]))
        if folder is not None:
            folders[key] = folder
    inner = _shared_picture(list(folders.values()))
    if inner is None:
        return
    found = {key: folder.child(inner) for key, folder in folders.items() if (inner, False) in folder.listing}
    yield EntryFiles(
        menu.volume, _path(menu.root, f"{{entry}}/{inner}"), True, found, tuple(found.items()), len(folders)
    )


def _shared_picture(folders: Sequence[Folder]) -> str | None:
    """A picture of one name that lies in most of these folders."""
    counts = Counter(
        name for folder in folders for name, is_folder in folder.listing if not is_folder and is_picture(name)
    )
    best = counts.most_common(1)
    return best[0][0] if best and best[0][1] >= 0.5 * len(folders) > 0 and best[0][1] > 1 else None
