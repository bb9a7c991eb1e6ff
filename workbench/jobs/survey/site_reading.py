"""Reads a site as one menu sees it: which of its texts name entries, and in what form."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence

from workbench.jobs.survey.places import Places, fold
from workbench.jobs.survey.roster import Key, MenuGuess
from workbench.jobs.survey.routes import Routes
from workbench.jobs.survey.sites import Chain, Sample, Site
from workbench.values import dataclass, field

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
