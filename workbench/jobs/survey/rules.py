"""Makes reference rules of sites that name a menu's entries, and keeps what no rule answers for.

An invented rule would harm a card, a missing one is listed: where little speaks for a rule, none is made.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence

from workbench.jobs.survey.places import Places, fold
from workbench.jobs.survey.plain import LINES, WORDS
from workbench.jobs.survey.roster import Key, MenuGuess
from workbench.jobs.survey.routes import Routes
from workbench.jobs.survey.sites import MARK, Chain, Sample, Site, climb, token_at
from workbench.values import dataclass, field, replace

_KEY_NAMES = ("key", "field", "part", "piece")
_ROW_NAMES = ("row", "place", "item", "number")
_SHARE = 0.5
_PATH_SHARE = 0.2
_SPEAKING = re.compile(
    r"last|recent|current|resume|default|start|first|open|active|select|boot|launch|play|entry|item|favou?rite|pin",
    re.IGNORECASE,
)
_TEMPLATE_SAMPLE = 12
_LONGEST = 300


@dataclass(frozen=True, slots=True)
class Hit:
    """One text that names an entry."""

    chain: Chain = field(repr=False)
    text: str
    how: str
    """`path`, `entry`, `stem`, `file` (a path to a file that goes with the entry)."""
    keys: tuple[Key, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Read:
    """A site as one menu sees it."""

    site: Site
    hits: tuple[Hit, ...] = field(repr=False)
    reach: float
    """Which share of the texts are paths that lead somewhere."""
    form: str
    """How the text names the entry: `{entry}`, `{stem}`, `{path}`, affixes around them; or `""`."""

    @property
    def share(self) -> float:
        return len(self.hits) / len(self.site.samples)

    @property
    def entries(self) -> set[Key]:
        return {key for hit in self.hits for key in hit.keys}


@dataclass(frozen=True, slots=True, eq=False)
class RuleGuess:
    """One reference rule."""

    read: Read
    file: str
    """`VOLUME:PATTERN`."""
    at: str | None
    form: str | None
    """`is`; None where a key names the entry."""
    confidence: float


Claims = Mapping[tuple[int, str], Key]
"""Entries by the files that go with them: folder and folded name."""

_SPACE = re.compile(r"\s")
_JOINT = re.compile(r"[/._:@#=-]")
"""What ties an affix to a name in a path or an id; a sign behind a title does not."""


class SiteReader:
    """Reads sites for one menu."""

    def __init__(self, places: Places, routes: Routes, menu: MenuGuess, claims: Claims) -> None:
        self._places = places
        self._routes = routes
        self._menu = menu
        self._claims = claims
        self._claimed = {name for _, name in claims}

    def read(self, site: Site) -> Read:
        """Which texts of a site name entries, and in what form."""
        hits = [hit for sample in site.samples if (hit := self._read_sample(site, sample)) is not None]
        hows = Counter(hit.how for hit in hits)
        if hows["file"] > 0.5 * len(hits) or (not hits and not site.is_key):
            template = self._read_template(site)
            if template is not None:
                return template
        return Read(site, tuple(hits), self._reach(site), _form_of(hows, site))

    def _reach(self, site: Site) -> float:
        if site.is_key or not any("/" in text for _, text in site.samples):
            return 0.0
        found = 0
        for chain, text in site.samples:
            routes = self._routes.find(text, site.shape.manifests[site.file_of(chain)])
            found += any(route.exists and not route.in_command for route in routes)
        return found / len(site.samples)

    def _read_sample(self, site: Site, sample: Sample) -> Hit | None:
        chain, text = sample
        found = self._menu.find(text)
        if found is not None:
            keys = self._agreeing(site, chain, found[1])
            return Hit(chain, text, found[0], keys) if keys else None
        if site.is_key:
            return None
        for route in self._routes.find(text, site.shape.manifests[site.file_of(chain)]):
            if route.in_command and site.shape.format == "lines":
                continue  # a sentence that speaks of a path
            key = self._menu.on_route(route)
            if key is not None:
                return Hit(chain, text, "path", (key,))
            for home, part in zip(route.homes, route.parts, strict=False):
                claimed = self._claims.get((home, fold(part)))
                if claimed is not None:
                    return Hit(chain, text, "file", (claimed,))
        return None

    def _agreeing(self, site: Site, chain: Chain, keys: Sequence[Key]) -> tuple[Key, ...]:
        """Of entries of one name in several menus those of the menu that the place belongs to."""
        if len(keys) == 1 and not self._menu.parents:
            return tuple(keys)
        parents = self._menu.parents
        here = {
            fold(part) for part in site.shape.manifests[site.file_of(chain)].path.split("/")[:-1]
        } & parents
        tokens = {fold(token) for token in _tokens(chain)} & parents
        wanted = tokens or here
        if not wanted:
            return tuple(keys)
        return tuple(key for key in keys if fold(self._menu.homes[key[0]] or "") in wanted)

    def _read_template(self, site: Site) -> Read | None:
        """Names with the same text around them in every place: `house/small/{entry}_s.png`."""
        votes: Counter[tuple[str, str, str]] = Counter()
        samples = site.samples[:: max(1, len(site.samples) // _TEMPLATE_SAMPLE)][:_TEMPLATE_SAMPLE]
        if len(site.samples) < 2:
            return None
        for _, text in samples:
            if len(text) <= _LONGEST:
                votes.update(self._splits(text))
        best = max(
            votes.items(), key=lambda vote: (vote[1], -len(vote[0][0]) - len(vote[0][2])), default=None
        )
        if best is None or best[1] < 2 or best[1] < 0.6 * len(samples):
            return None
        before, piece, after = best[0]
        is_prose = _SPACE.search(before + after) is not None or site.shape.format in ("lines", "shell")
        is_prose = is_prose or not _JOINT.search(before + after)
        if (not before and not after) or (is_prose and not self._is_claimed([t for _, t in samples])):
            return None
        hits = []
        for chain, text in site.samples:
            inner = text[len(before) : len(text) - len(after)]
            if not text.startswith(before) or not text.endswith(after) or not inner:
                continue
            found = self._menu.find(inner)
            if found is not None and found[0] == piece:
                hits.append(Hit(chain, text, piece, tuple(found[1])))
        if len({key for hit in hits for key in hit.keys}) < 2 or len(hits) < 0.8 * len(site.samples):
            return None
        return Read(site, tuple(hits), 0.0, f"{before}{{{piece}}}{after}")

    def _is_claimed(self, texts: Sequence[str]) -> bool:
        """Whether most of these texts are names of files that go with entries."""
        found = sum(1 for text in texts if fold(text.rpartition("/")[2]) in self._claimed)
        return 2 * found >= len(texts)

    def _splits(self, text: str) -> Iterable[tuple[str, str, str]]:
        found = set()
        for start in range(len(text)):
            for end in range(len(text), start, -1):
                named = self._menu.find(text[start:end])
                if named is not None:
                    found.add((text[:start], named[0], text[end:]))
        return found


def _form_of(hows: Counter[str], site: Site) -> str:
    if not hows:
        return ""
    if hows["path"] or hows["file"]:
        return "{path}"
    return "{stem}" if hows["stem"] > hows["entry"] and not site.is_key else _bare_form(hows)


def _bare_form(hows: Counter[str]) -> str:
    return "{stem}" if hows["stem"] > hows["entry"] else "{entry}"


def _tokens(chain: Chain) -> list[str]:
    tokens = []
    while chain[0] is not None:
        tokens.append(chain[1])
        chain = chain[0]
    return tokens


def make_rules(
    menu: MenuGuess, reads: Sequence[Read], labels: Collection[Site]
) -> tuple[tuple[RuleGuess, ...], tuple[Read, ...]]:
    """The rules, and sites that name entries and get none.

    Args:
        labels: sites of shown names: a person's words, no references.
    """
    wanted = [_in_list_of_paths(read) for read in reads if read.hits and read.site not in labels]
    doubles = _find_doubles(menu, wanted)
    taken = [read for read in wanted if _is_sure(read) and read not in doubles]
    files = {id(read.site.shape) for read in taken}
    taken += [
        read
        for read in wanted
        if read not in taken
        and read not in doubles
        and _is_single(read)
        and (id(read.site.shape) in files or _speaks(read))
    ]
    rules: dict[tuple[str, str | None, str | None], RuleGuess] = {}
    for read in taken:
        rule = _make_rule(menu, read)
        if rule is not None:
            rules.setdefault((rule.file, rule.at, rule.form), rule)
    left = [read for read in wanted if read not in taken]
    return tuple(rules.values()), tuple(left)


def _find_doubles(menu: MenuGuess, reads: Sequence[Read]) -> list[Read]:
    """Texts that say the name of an entry once more in a record that says it already.

    They may be its shown name, which nobody changed so far: no rule is made, they are listed.
    """
    found: list[Read] = []
    for read in reads:
        if read.site.is_key or not read.site.is_open or read.form not in ("{entry}", "{stem}"):
            continue
        if menu.kind == "files" and read.form == "{entry}":
            continue  # nobody is shown a suffix
        mine = {record_chain(read.site, hit.chain): hit.keys for hit in read.hits}
        # Fields are met last first: the one that stands first in its record is taken for the id.
        later = reads[[one is read for one in reads].index(True) + 1 :]
        if any(_says_the_same(read, mine, one, later) for one in reads):
            found.append(read)
    return found


def _says_the_same(
    read: Read, mine: Mapping[int, tuple[Key, ...]], other: Read, later: Sequence[Read]
) -> bool:
    """Whether another site in the same records, a key or a field before it, names the same entries."""
    if other is read or other.site.shape is not read.site.shape or other.form == "{path}":
        return False
    if other.site.is_key:
        start = record_of(read.site)[0]
        if other.site.tokens != read.site.tokens[:start]:
            return False
        theirs = {id(hit.chain): hit.keys for hit in other.hits}
    else:
        same = record_of(other.site)[0] == record_of(read.site)[0] and other in later
        if not same or other.form not in ("{entry}", "{stem}"):
            return False
        theirs = {record_chain(other.site, hit.chain): hit.keys for hit in other.hits}
    return bool(mine) and all(theirs.get(record) == keys for record, keys in mine.items())


def _in_list_of_paths(read: Read) -> Read:
    """A name alone in a list that otherwise holds paths is a path too: from the menu's own folder on."""
    is_bare = read.site.shape.format == "lines" and read.form == "{entry}"
    if is_bare and read.reach > 0.2 and read.reach + read.share >= _SHARE:
        return replace(read, form="{path}", reach=read.reach + read.share)
    return read


def _is_sure(read: Read) -> bool:
    """Whether a site speaks for itself."""
    site, count = read.site, len(read.entries)
    if read.form == "{path}":
        if site.shape.format == "shell":
            return True
        if site.shape.format == "lines":
            # A list may name entries of several menus; prose leads nowhere for the most part.
            return max(read.reach, read.share) >= _SHARE
        return len(read.hits) >= _PATH_SHARE * len(site.samples)
    if site.shape.format == "shell" and (site.tokens[0] == WORDS or count < 3 or read.share < 0.8):
        return False
    if site.tokens[:1] == (LINES,) and not site.shape.is_plain and count < 3:
        return False
    if not site.is_open and len(site.shape.manifests) < 2:
        return False
    if count < 2 or len(read.hits) < _SHARE * len(site.samples):
        return count == 1 and _is_lone(read)
    if not site.is_key and not any(_is_telling(hit.text) for hit in read.hits):
        # Common words alone (`blue`, `start`): entries only where nearly each text names another one.
        return read.share >= 0.9 and count >= max(3, 0.6 * len(site.samples))
    return True


def _is_lone(read: Read) -> bool:
    """A list with one text in it, which names an entry by a name that is no common word."""
    return len(read.site.samples) == 1 == len(read.hits) and _is_telling(read.hits[0].text)


def _is_single(read: Read) -> bool:
    """A setting that names one entry by its exact name."""
    if read.site.is_key or read.form not in ("{entry}", "{stem}") or read.site.tokens[0] in (WORDS, LINES):
        return False
    if len(read.hits) < _SHARE * len(read.site.samples):
        return False
    return _is_telling(read.hits[0].text) or _SPEAKING.search(read.site.tokens[-1]) is not None


def _speaks(read: Read) -> bool:
    return _SPEAKING.search(read.site.tokens[-1]) is not None


def _is_telling(text: str) -> bool:
    """Whether a name is more than a common word or a number in a setting."""
    return len(text) > 2 and not (text.islower() and text.isascii() and text.isalpha()) and not text.isdigit()


def _make_rule(menu: MenuGuess, read: Read) -> RuleGuess | None:
    site = read.site
    by_path = read.form == "{path}"
    confidence = min(0.99, 0.5 + 0.05 * len(read.entries) + 0.3 * read.share)
    file = f"{site.shape.volume}:{site.shape.pattern if by_path else file_pattern(menu, site)}"
    if site.shape.format == "shell" and by_path:
        return RuleGuess(read, file, None, "{path}", confidence)
    if site.shape.format == "lines":
        return RuleGuess(read, file, None, read.form, confidence)
    if site.is_key:
        at = render(menu, site, last=read.form)
        return None if at is None else RuleGuess(read, file, at, None, confidence)
    at = render(menu, site)
    return None if at is None else RuleGuess(read, file, at, read.form, confidence)


def file_pattern(menu: MenuGuess, site: Site) -> str:
    """The shape's pattern, with `{parent}` where its files are one for each menu."""
    parents = menu.parents
    if not parents or site.shape.is_plain:
        return site.shape.pattern
    parts = site.shape.pattern.split("/")
    paths = [manifest.path.split("/") for manifest in site.shape.manifests]
    for place, part in enumerate(parts):
        if part == "*" and all(fold(path[place]) in parents for path in paths):
            return "/".join((*parts[:place], "{parent}", *parts[place + 1 :]))
        if part.startswith("*.") and all(fold(path[place].rpartition(".")[0]) in parents for path in paths):
            return "/".join((*parts[:place], "{parent}" + part[1:], *parts[place + 1 :]))
    return site.shape.pattern


def render(menu: MenuGuess, site: Site, last: str | None = None, entry_at: int | None = None) -> str | None:
    """The selector of a site; None where a literal key cannot be written in one.

    Args:
        last: what the last open token is called (`{entry}`), where its keys name entries.
        entry_at: the number of the token that names the entry.
    """
    taken: set[str] = set()
    tokens = []
    for place, token in enumerate(site.tokens):
        if MARK not in token:
            if "{" in token or "}" in token:
                return None
            tokens.append(token)
            continue
        if last is not None and place == len(site.tokens) - 1:
            name = last[1:-1]
        elif entry_at == place:
            name = last[1:-1] if last else "entry"
        else:
            name = _placeholder(menu, site, place, taken)
        taken.add(name)
        tokens.append(token.replace(MARK, f"{{{name}}}"))
    if tokens and tokens[0] in (WORDS, LINES):
        return f"/{tokens[0]}"
    return "".join("/" + token.replace("~", "~0").replace("/", "~1") for token in tokens)


def _placeholder(menu: MenuGuess, site: Site, place: int, taken: set[str]) -> str:
    length = len(site.tokens)
    seen = {token_at(chain, place, length) for chain, _ in site.samples[:200]}
    if menu.parents and all(fold(token) in menu.parents for token in seen):
        return "parent"
    names = _ROW_NAMES if all(token.isdigit() for token in seen) else _KEY_NAMES
    return next((name for name in names if name not in taken), f"more_{'x' * len(taken)}")


def record_of(site: Site) -> tuple[int, int]:
    """How many tokens lead to the record that a site stands in, and how many stand below it."""
    opened = [place for place, token in enumerate(site.tokens) if MARK in token]
    start = opened[-1] + 1 if opened else 0
    return start, len(site.tokens) - start


def record_chain(site: Site, chain: Chain) -> int:
    """What tells one record of a shape from another."""
    return id(climb(chain, record_of(site)[1]))
