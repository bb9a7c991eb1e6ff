"""Finds splashes by what they are: whole-panel pictures in a kind of their own, outside everything else.

Bitmaps say their size; raw pixels say it only by their length, so other pictures on the card and panels in
common use are tried, and the rows themselves: the right width makes one row like the next.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Collection, Iterator, Sequence

from workbench.card.paths import VolumePath
from workbench.card.tree import Tree
from workbench.errors import CardError, MediaError
from workbench.jobs.survey.motion import Sequence as Frames
from workbench.jobs.survey.pictures import HEAD, is_picture, size_of
from workbench.jobs.survey.places import Folder, Places, suffix_of
from workbench.media.kind import SplashKind
from workbench.media.kind_reader import Hint, read_kind
from workbench.media.packing import is_gzip, unpack_gzip
from workbench.values import dataclass

_RAW = frozenset(("raw", "rgb", "bgr", "rgba", "bgra", "argb", "rgb565", "565", "raw565", "fb", "bin", "img"))
_MOST_BYTES = 16 * 1024 * 1024
_LEAST = (120, 80)
_MOST_BESIDE = 40
"""A folder with more pictures than this is a collection."""
_SIZES = (
    (640, 480), (320, 240), (480, 320), (800, 480), (480, 272), (854, 480), (480, 854), (400, 240),
    (240, 240), (240, 320), (480, 480), (720, 720), (720, 480), (720, 576), (750, 560), (800, 600),
    (960, 540), (960, 544), (960, 640), (1024, 600), (1024, 768), (1080, 1080), (1280, 720), (1280, 800),
    (1920, 1080), (1920, 1152), (512, 384), (160, 128), (128, 160), (256, 192), (320, 480), (480, 640),
    (480, 800), (540, 960), (600, 1024), (720, 1280), (800, 1280), (240, 400), (272, 480), (400, 400),
)  # fmt: skip
"""Panels in common use, both ways round; no source, common practice."""
_END = r"shut|halt|bye|farewell|dusk|off|last|fall|clos|stop|down|exit|end|night|sleep|out"
_BEGINNING = r"start|boot|splash|hello|welcome|first|begin|open|rise|dawn|logo|intro|on\b|up\b|wake"
_MOMENTS = (
    ("low-battery", re.compile(r"low|empty|weak|drain|flat|critical", re.I)),
    ("charging", re.compile(r"charg|fill|batter|plug|fuel|juice|power(?!.?off)", re.I)),
    (
        "shutdown",
        re.compile(
            r"shut|halt|bye|farewell|dusk|off|last|fall|clos|stop|down|exit|end|night|sleep|out", re.I
        ),
    ),
    (
        "start",
        re.compile(
            r"start|boot|splash|hello|welcome|first|begin|open|rise|dawn|logo|intro|on\b|up\b|wake", re.I
        ),
    ),
)


_GALLERY = re.compile(r"photo|picture|galler|shot|wall|image|art|icon|cover|theme|screen", re.I)
"""Folders of these names hold pictures for their own sake."""
_LOOK = re.compile(r"photo|galler|shot|wall|paper|\bart|icon|cover|theme|backdrop|background", re.I)
"""So does a file of such a name."""


@dataclass(frozen=True, slots=True)
class SplashGuess:
    """One file that seems to be shown as a whole."""

    at: VolumePath
    kind: SplashKind
    moment: str
    is_said: bool
    """Whether its name says the moment; else it is only what was left."""


@dataclass(frozen=True, slots=True)
class PanelGuess:
    """The size of the panel as pictures for it are stored."""

    width: int
    height: int
    because: str
    at: VolumePath | None
    confidence: float


@dataclass(frozen=True, slots=True)
class _Found:
    at: VolumePath
    kind: SplashKind
    size: tuple[int, int]


def find_splashes(
    tree: Tree,
    places: Places,
    taken: Collection[VolumePath],
    motions: Sequence[Frames],
    skip: Collection[int],
) -> tuple[PanelGuess | None, tuple[SplashGuess, ...]]:
    """The panel's size as stored, and the splashes.

    Args:
        taken: files that go with entries.
        motions: numbered sequences, whose frames are no splashes.
        skip: folders that are not looked into.
    """
    frames = {motion.folder for motion in motions}
    folders = [one for one in places.folders if one.number not in skip and one.number not in frames]
    found = [one for folder in folders for one in _bitmaps(tree, folder, taken)]
    pictures = [one for folder in folders for one in _pictures(tree, folder, taken)]
    frame_sizes = [size for motion in motions if (size := _frame_size(tree, places, motion))]
    hints = [one.size for one in found] + frame_sizes + [one.size for one in pictures]
    raws = [(at, size) for folder in folders for at, size in _rawlike(tree, folder, taken)]
    found += _read_raws(tree, raws, [one.size for one in found] or hints)
    panel = _choose_panel(found, pictures, frame_sizes)
    if panel is None:
        return None, ()
    whole = [one for one in found if one.size == (panel.width, panel.height)]
    also = [one for one in pictures if one.size == (panel.width, panel.height)]
    said = [one for one in also if _moment_of(one.at) is not None]
    # An ordinary picture is a splash where its name says so, or where nothing else is and it stands alone.
    beside = {one.at.parent for one in (*whole, *said) if one.at.parent.path}
    # At a volume's root lies all sorts of things: there it has to be of the same kind too.
    at_root = {(one.at.parent, one.kind.container) for one in said if not one.at.parent.path}
    alone = Counter(one.at.parent for one in pictures)
    near = [
        one
        for one in also
        if one not in said
        and (
            one.at.parent in beside
            or (
                not _is_for_looks(one.at)
                and (alone[one.at.parent] == 1 or (one.at.parent, one.kind.container) in at_root)
            )
        )
    ]
    whole += [*said, *near] if whole or said or len(also) > 2 else also
    return panel, tuple(_name_moments(whole))


def _is_for_looks(at: VolumePath) -> bool:
    """Whether a picture's name, or its folder's, says that it is there for its own sake."""
    return (
        _LOOK.search(at.name) is not None
        if not at.parent.path
        else _GALLERY.search(at.parent.name) is not None
    )


def _bitmaps(tree: Tree, folder: Folder, taken: Collection[VolumePath]) -> Iterator[_Found]:
    names = [name for name, is_folder in folder.listing if not is_folder and _is_bitmap(name)]
    if len(names) > _MOST_BESIDE:
        return
    for name in names:
        at = VolumePath(folder.volume, folder.child(name))
        if at in taken:
            continue
        try:
            item = tree.stat(at)
            if item is None or item.kind != "file" or item.size > _MOST_BYTES:
                continue
            kind = read_kind(tree.read(at))
        except (CardError, MediaError):
            continue
        if kind.container == "bmp" and _is_large((kind.width, kind.height)):
            yield _Found(at, kind, (kind.width, kind.height))


def _is_bitmap(name: str) -> bool:
    lower = name.lower()
    return lower.endswith((".bmp", ".bmp.gz", ".bmz")) or (lower.endswith(".gz") and lower.count(".") == 1)


def _pictures(tree: Tree, folder: Folder, taken: Collection[VolumePath]) -> Iterator[_Found]:
    """PNG and JPEG of a panel's size, by their first bytes."""
    names = [n for n, is_folder in folder.listing if not is_folder and suffix_of(n) in ("png", "jpg", "jpeg")]
    if len(names) > _MOST_BESIDE:
        return
    for name in names:
        at = VolumePath(folder.volume, folder.child(name))
        size = None if at in taken else read_size(tree, at)
        if size is None or not _is_large(size):
            continue
        try:
            kind = read_kind(tree.read(at, 64 * 1024))
        except (CardError, MediaError):
            continue
        yield _Found(at, kind, size)


def _rawlike(tree: Tree, folder: Folder, taken: Collection[VolumePath]) -> Iterator[tuple[VolumePath, int]]:
    names = [name for name, is_folder in folder.listing if not is_folder]
    if len(names) > _MOST_BESIDE:
        return
    for name in names:
        at = VolumePath(folder.volume, folder.child(name))
        inner = name[:-3] if suffix_of(name) == "gz" else name
        if (suffix_of(inner) not in _RAW and "." in inner) or is_picture(inner) or at in taken:
            continue
        length = _length_of(tree, at, is_packed=inner is not name)
        if 2 * 120 * 80 <= length <= _MOST_BYTES:
            yield at, length


def _length_of(tree: Tree, at: VolumePath, is_packed: bool) -> int:
    """Bytes of a file, unpacked; 0 where it is none."""
    try:
        item = tree.stat(at)
        if item is None or item.kind != "file" or item.size > _MOST_BYTES:
            return 0
        return len(unpack_gzip(tree.read(at))) if is_packed else item.size
    except (CardError, MediaError):
        return 0


def _read_raws(
    tree: Tree, raws: Sequence[tuple[VolumePath, int]], hints: Sequence[tuple[int, int]]
) -> Iterator[_Found]:
    lengths = Counter(length for _, length in raws)
    known: dict[int, tuple[int, int, int] | None] = {}
    for at, length in raws:
        if length not in known:
            known[length] = _fit_raw(tree, at, length, hints, lengths[length])
        shape = known[length]
        if shape is None:
            continue
        width, height, bits = shape
        try:
            hint: Hint = {"container": "raw", "bits": bits, "width": width, "height": height}
            kind = read_kind(tree.read(at), hint)
        except (CardError, MediaError):
            continue
        yield _Found(at, kind, (width, height))


def _fit_raw(
    tree: Tree, at: VolumePath, length: int, hints: Sequence[tuple[int, int]], alike: int
) -> tuple[int, int, int] | None:
    """Width, height and bits that the length allows: a size seen on the card, else one in common use."""
    fits = [(w, h, b) for w, h in dict.fromkeys(hints) for b in (32, 16, 24) if w * h * b == 8 * length]
    is_sure = bool(fits)
    fits = fits or [(w, h, b) for w, h in _SIZES for b in (32, 16, 24) if w * h * b == 8 * length]
    if not fits:
        return None
    try:
        raw = tree.read(at)
        raw = (unpack_gzip(raw) if is_gzip(raw) else raw)[: 512 * 1024]
    except (CardError, MediaError):
        return None
    best = max(fits, key=lambda fit: _row_likeness(raw, fit))
    # A length alone is a coincidence waiting to happen: the rows have to agree too, or a second file.
    return best if is_sure or alike > 1 or _row_likeness(raw, best) > 0.5 else None


def _row_likeness(raw: bytes, fit: tuple[int, int, int]) -> float:
    """How many bytes of a row are those of the row above, for pixels of that width and depth."""
    width, _, bits = fit
    stride = width * bits // 8
    rows = min(len(raw) // stride - 1, 200)
    if rows < 8:
        return 0.0
    span = rows * stride
    one, other = int.from_bytes(raw[:span], "big"), int.from_bytes(raw[stride : stride + span], "big")
    same = (one ^ other).to_bytes(span, "big").count(0) / span
    return same + (0.2 if bits == 32 and len(set(raw[3 : 4 * 4000 : 4])) == 1 else 0.0)


def read_size(tree: Tree, at: VolumePath) -> tuple[int, int] | None:
    """A picture's size by its first bytes."""
    try:
        head = tree.read(at, HEAD)
        return size_of(head) or (size_of(tree.read(at, 64 * 1024)) if head[:2] == b"\xff\xd8" else None)
    except CardError:
        return None


def _frame_size(tree: Tree, places: Places, motion: Frames) -> tuple[int, int] | None:
    folder = places.folders[motion.folder]
    return read_size(tree, VolumePath(folder.volume, folder.child(motion.name(motion.first))))


def _is_large(size: tuple[int, int]) -> bool:
    return max(size) >= _LEAST[0] and min(size) >= _LEAST[1]


def _choose_panel(
    found: Sequence[_Found], pictures: Sequence[_Found], frames: Sequence[tuple[int, int]]
) -> PanelGuess | None:
    votes: Counter[tuple[int, int]] = Counter()
    first: dict[tuple[int, int], VolumePath] = {}
    for one in found:
        votes[one.size] += 4 if _moment_of(one.at) else 3
        first.setdefault(one.size, one.at)
    votes.update(size for size in frames if _is_large(size))
    for one in pictures:
        votes[one.size] += 2 if _moment_of(one.at) else 1
        first.setdefault(one.size, one.at)
    if not votes:
        return None
    size = max(votes, key=lambda one: (votes[one], one[0] * one[1]))
    at = first.get(size)
    sure = 0.9 if any(one.size == size for one in found) else 0.5
    return PanelGuess(*size, f"{votes[size]} pictures' worth of votes", at, sure)


def _moment_of(at: VolumePath) -> str | None:
    name = at.name.partition(".")[0]
    for text in (name, at.parent.name):
        for moment, pattern in _MOMENTS:
            if pattern.search(text) and (text is name or moment == "start"):
                return moment
    return None


def _name_moments(whole: Sequence[_Found]) -> Iterator[SplashGuess]:
    """Each file with the moment that its name says, what is left over in the order of moments."""
    said: dict[str, _Found] = {}
    left: list[_Found] = []
    by_name = sorted(whole, key=lambda one: (_own_moment(one.at) is None, one.at))
    for one in by_name:
        moment = _own_moment(one.at)
        if moment is not None and moment not in said:
            said[moment] = one
        else:
            left.append(one)
    is_named = dict.fromkeys(said, True)
    for moment in ("start", "charging", "shutdown", "low-battery"):
        if moment not in said and left:
            said[moment] = left.pop(0)
    for moment in ("start", "charging", "low-battery", "shutdown"):
        if moment in said:
            yield SplashGuess(said[moment].at, said[moment].kind, moment, moment in is_named)


def _own_moment(at: VolumePath) -> str | None:
    name = at.name.partition(".")[0]
    return next((moment for moment, pattern in _MOMENTS if pattern.search(name)), None)
