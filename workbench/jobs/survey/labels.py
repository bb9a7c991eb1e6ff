"""Finds where a device takes shown names from: texts beside what names the entry, like its name."""

from __future__ import annotations

import re
import unicodedata
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Any

from workbench.jobs.survey.places import fold, suffix_of
from workbench.jobs.survey.plain import LINES, WORDS
from workbench.jobs.survey.roster import Key, MenuGuess
from workbench.jobs.survey.rule_places import file_pattern, record_chain, record_of, render
from workbench.jobs.survey.site_reading import Read
from workbench.jobs.survey.sites import MARK, Chain, Site
from workbench.values import dataclass, field

_LISTS = (LINES, WORDS)
_WORD = re.compile(r"\w+")
_LABEL_WORDS = re.compile(
    r"(?:^|[@_\-. ])(title|label|caption|name|text|says?|shown?|display|headline)(?:$|[_\-. ])", re.I
)
_LEAST = 0.4
_COVER = 0.4
"""Some entries have no shown name of their own; most have."""


@dataclass(frozen=True, slots=True, eq=False)
class LabelGuess:
    """One source of shown names."""

    site: Site
    file: str
    at: str
    key: str | None
    form: str | None
    """`is`, where `key` is not simply the entry's name."""
    pairs: tuple[tuple[Key, str, Chain], ...] = field(repr=False)
    likeness: float
    """How many of the texts share a word with the name of their entry."""
    cover: float
    """How many of the entries have such a text."""
    trust: tuple[float, float, bool, int]
    """How sure it is that what names the entry there means the entry that the text is about."""

    @property
    def rank(self) -> tuple[float, int, tuple[float, float, bool, int]]:
        hint = 0.3 if _LABEL_WORDS.search(self.site.tokens[-1] if self.site.tokens else "") else 0.0
        plain = 0.2 if self.site.shape.is_plain or "{" in self.file else 0.0
        count = len({key for key, _, _ in self.pairs})
        return round(self.likeness + hint + plain + 0.4 * self.cover, 1), count, self.trust


def find_label(
    menu: MenuGuess, reads: Sequence[Read]
) -> tuple[LabelGuess | None, frozenset[Site], tuple[str, ...]]:
    """The best source of shown names, all sites that hold such names, and the other sources."""
    guesses = [*_guesses(menu, reads), *find_own_labels(menu, reads)]
    found = sorted(guesses, key=lambda guess: guess.rank, reverse=True)
    sites = frozenset(guess.site for guess in found)
    if not found:
        return None, sites, ()
    others = dict.fromkeys(f"{guess.file} {guess.at}" for guess in found if guess.site is not found[0].site)
    return found[0], sites, tuple(others)


def _guesses(menu: MenuGuess, reads: Sequence[Read]) -> Iterator[LabelGuess]:
    by_shape: dict[int, list[Read]] = defaultdict(list)
    for read in reads:
        by_shape[id(read.site.shape)].append(read)
    for same in by_shape.values():
        for naming in same:
            if not naming.hits or naming.share < 0.3:
                continue
            trust = _trust(naming, same)
            for read in same:
                guess = _guess(menu, naming, read, trust)
                if guess is not None:
                    yield guess


def _trust(naming: Read, same: Sequence[Read]) -> tuple[float, float, bool, int]:
    """An id names each entry once, agrees with the paths beside it, and stands at the top of its record."""
    if naming.site.is_key:
        return 1.0, 1.0, True, 0
    mine = {record_chain(naming.site, hit.chain): set(hit.keys) for hit in naming.hits}
    agreed, seen = 0, 0
    for other in same:
        if other.form == "{path}" and other is not naming and not other.site.is_key:
            for hit in other.hits:
                keys = mine.get(record_chain(other.site, hit.chain))
                seen += keys is not None
                agreed += keys is not None and not keys.isdisjoint(hit.keys)
    single = len(naming.entries) / len(naming.hits)
    is_plain = naming.form in ("{entry}", "{stem}", "{path}")
    return round(single, 1), round(agreed / seen, 1) if seen else 1.0, is_plain, -len(naming.site.tokens)


def _guess(
    menu: MenuGuess, naming: Read, read: Read, trust: tuple[float, float, bool, int]
) -> LabelGuess | None:
    """Whether the texts of one site are the shown names of the entries that another names."""
    site, namer = read.site, naming.site
    if site.is_key or site is namer or read.form not in ("", "{entry}", "{stem}"):
        return None
    if namer.is_key:
        place = len(namer.tokens) - 1
        if site.tokens[: place + 1] != namer.tokens or record_of(site)[0] != place + 1:
            return None
    else:
        start = record_of(namer)[0]
        same = start > 0 and record_of(site)[0] == start and site.tokens[:start] == namer.tokens[:start]
        if not same and not _is_numbered_alike(namer, site):
            return None
        if _is_less_sure(naming, read):
            return None
    pairs = tuple(_pairs(naming, read))
    if _names_others(read, pairs):
        return None
    likeness = _likeness(menu, pairs)
    if len(pairs) < _COVER * len(naming.hits):
        return None
    if len(pairs) > 1.2 * len({(key, site.file_of(chain)) for key, _, chain in pairs}):
        return None  # several records for each entry: they are about something else
    pairs = _first_files(site, pairs)
    # Where a key has nothing but the text, that is all that is said of the entry: two may be called alike.
    different = 0.7 if namer.is_key and site.tokens == namer.tokens else 0.9
    if not _reads_like_labels(menu, site, pairs, likeness, different):
        return None
    return _make(menu, naming, read, pairs, likeness, trust)


def _reads_like_labels(
    menu: MenuGuess,
    site: Site,
    pairs: Sequence[tuple[Key, str, Chain]],
    likeness: float,
    different: float = 0.9,
) -> bool:
    """Whether the texts are like the entries' names, or like titles; under a telling word prose will do."""
    speaks = _LABEL_WORDS.search(site.tokens[-1]) is not None
    is_like = likeness >= _LEAST or (_is_prose(pairs) if speaks else _is_titles(menu, pairs, different))
    return len(pairs) > 1 and is_like and (speaks or not _names_all(menu, pairs))


def _first_files(site: Site, pairs: tuple[tuple[Key, str, Chain], ...]) -> tuple[tuple[Key, str, Chain], ...]:
    """Of files that each name an entry (one for each language) what the first by path says."""
    if site.shape.is_plain:
        return pairs
    first: dict[Key, tuple[str, tuple[Key, str, Chain]]] = {}
    for one in pairs:
        path = site.shape.manifests[site.file_of(one[2])].path
        if one[0] not in first or path < first[one[0]][0]:
            first[one[0]] = path, one
    return tuple(one for _, one in first.values())


def _is_less_sure(naming: Read, read: Read) -> bool:
    """Whether the other site names the entry better than the one that should."""
    if naming.form == "{path}":
        return False
    return read.share > naming.share or (
        read.share == naming.share and _LABEL_WORDS.search(naming.site.tokens[-1]) is not None
    )


def _pairs(naming: Read, read: Read) -> Iterator[tuple[Key, str, Chain]]:
    steps: dict[Any, tuple[Key, ...]]
    find: Callable[[Site, Chain], Any] = record_chain
    if naming.site.is_key:
        steps = {id(hit.chain): hit.keys for hit in naming.hits}
    else:
        if _is_numbered_alike(naming.site, read.site):
            find = _number_of
        steps = {find(naming.site, hit.chain): hit.keys for hit in naming.hits}
    for chain, text in read.site.samples:
        keys = steps.get(find(read.site, chain))
        if keys and text.strip():
            yield keys[0], text, chain


def _is_numbered_alike(one: Site, other: Site) -> bool:
    """Keys side by side that bear the number of what they are about: `THING_3` and `SHOWN_3`."""
    if one.is_key or other.is_key or one.tokens[:-1] != other.tokens[:-1] or not one.tokens:
        return False
    return all(MARK in site.tokens[-1] != MARK for site in (one, other))


def _number_of(site: Site, chain: Chain) -> tuple[int, str]:
    """The place above the key, and the number in it."""
    before, _, after = site.tokens[-1].partition(MARK)
    return id(chain[0]) if chain[0][0] is not None else -1, chain[1][len(before) : len(chain[1]) - len(after)]


def _likeness(menu: MenuGuess, pairs: Sequence[tuple[Key, str, Chain]]) -> float:
    if not pairs:
        return 0.0
    if len({text for _, text, _ in pairs}) < 0.5 * len(pairs):
        return 0.0
    like = sum(1 for key, text, _ in pairs if _words(menu.names[key]) & _words(text))
    short = sum(1 for _, text, _ in pairs if len(text) <= 120)
    return like / len(pairs) if short >= 0.8 * len(pairs) else 0.0


def _words(text: str) -> set[str]:
    """Its words without accents, and of numbers nothing."""
    plain = unicodedata.normalize("NFKD", text).casefold()
    plain = "".join(char for char in plain if not unicodedata.combining(char))
    return {
        word for word in _WORD.findall(plain) if not word.isdigit() and (len(word) > 1 or ord(word) > 127)
    }


def _is_prose(pairs: Iterable[tuple[Key, str, Chain]]) -> bool:
    """Texts that differ and hold letters."""
    texts = [text for _, text, _ in pairs]
    return len(set(texts)) > 0.7 * len(texts) and all(any(map(str.isalpha, text)) for text in texts)


def _is_titles(menu: MenuGuess, pairs: Sequence[tuple[Key, str, Chain]], different: float) -> bool:
    """Texts that read like titles: different, short, mostly of several words, and no names of files.

    Where nobody thought of a title, a device often has the name itself: that says nothing.
    """
    texts = [text.strip() for key, text, _ in pairs if fold(text) != fold(menu.names[key])]
    if len(set(texts)) < different * len(texts) or any("/" in text or len(text) > 80 for text in texts):
        return False
    if sum(1 for text in texts if suffix_of(text) and " " not in text.rpartition(".")[2]) > 0.2 * len(texts):
        return False
    several = sum(1 for text in texts if " " in text and any(map(str.isalpha, text)))
    return len(texts) > 1 and several >= (0.6 if len(texts) > 2 else 1) * len(texts)


def _names_all(menu: MenuGuess, pairs: Iterable[tuple[Key, str, Chain]]) -> bool:
    """Whether every text is exactly the name of an entry: then it is a second id."""
    found = (menu.find(text) for _, text, _ in pairs)
    return all(one is not None for one in found)


def _names_others(read: Read, pairs: Sequence[tuple[Key, str, Chain]]) -> bool:
    """Whether many texts name another entry than the one that they stand beside."""
    named = {id(hit.chain): hit.keys for hit in read.hits}
    others = sum(1 for key, _, chain in pairs if named.get(id(chain)) and key not in named[id(chain)])
    return others > 0.2 * len(pairs)


def _make(
    menu: MenuGuess,
    naming: Read,
    read: Read,
    pairs: tuple[tuple[Key, str, Chain], ...],
    likeness: float,
    trust: tuple[float, float, bool, int],
) -> LabelGuess | None:
    file = f"{read.site.shape.volume}:{file_pattern(menu, read.site)}"
    cover = len({key for key, _, _ in pairs}) / len(menu.names)
    if naming.site.is_key:
        at = render(menu, read.site, last=None, entry_at=len(naming.site.tokens) - 1)
        if at is not None and naming.form == "{stem}":
            at = at.replace("{entry}", "{stem}")
        return (
            None if at is None else LabelGuess(read.site, file, at, None, None, pairs, likeness, cover, trust)
        )
    at, key = render(menu, read.site), render(menu, naming.site)
    if at is None or key is None:
        return None
    form = None if naming.form == "{entry}" else naming.form
    return LabelGuess(read.site, file, at, key, form, pairs, likeness, cover, trust)


# Files of each entry's own


def find_own_labels(menu: MenuGuess, reads: Iterable[Read]) -> Iterator[LabelGuess]:
    """Texts in files of which each entry has its own: in its folder, or beside all others under its name."""
    for read in reads:
        site = read.site
        if site.is_key or site.is_open or site.shape.is_plain or site.tokens[0] in _LISTS:
            continue
        if read.form not in ("", "{entry}", "{stem}") or read.reach:
            continue  # paths
        file, keys = _own_file(menu, site)
        pairs = tuple(
            (keys[number], text, chain)
            for chain, text in site.samples
            if (number := site.file_of(chain)) in keys and text.strip()
        )
        likeness = _likeness(menu, pairs)
        at = render(menu, site)
        if at is None or len(pairs) < _COVER * len(site.samples) or _names_others(read, pairs):
            continue
        if _reads_like_labels(menu, site, pairs, likeness):
            cover = len({key for key, _, _ in pairs}) / len(menu.names)
            trust = 1.0, 1.0, True, 0
            where = f"{site.shape.volume}:{file}"
            yield LabelGuess(site, where, at, None, None, pairs, likeness, cover, trust)


def _own_file(menu: MenuGuess, site: Site) -> tuple[str, dict[int, Key]]:
    """The pattern with `{entry}` or `{stem}` where it varies, and by number of file the entry named."""
    parts = site.shape.pattern.split("/")
    for place, part in enumerate(parts):
        if not part.startswith("*"):
            continue
        keys: dict[int, Key] = {}
        hows: set[str] = set()
        for number, manifest in enumerate(site.shape.manifests):
            text = manifest.path.split("/")[place]
            found = menu.find(text[: len(text) - len(part) + 1] if len(part) > 1 else text)
            if found is not None and len(found[1]) == 1:
                keys[number] = found[1][0]
                hows.add("stem" if found[0] == "stem" else "entry")
        if len(hows) == 1 and "*" not in "/".join((*parts[:place], *parts[place + 1 :])):
            return "/".join((*parts[:place], f"{{{hows.pop()}}}{part[1:]}", *parts[place + 1 :])), keys
    return site.shape.pattern, {}
