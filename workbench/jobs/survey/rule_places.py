"""Writes the place of a site as a rule has it: the pattern of its files, the selector within them."""

from __future__ import annotations

from workbench.jobs.survey.places import fold
from workbench.jobs.survey.plain import LINES, WORDS
from workbench.jobs.survey.roster import MenuGuess
from workbench.jobs.survey.sites import MARK, Chain, Site, climb, token_at

_KEY_NAMES = ("key", "field", "part", "piece")
_ROW_NAMES = ("row", "place", "item", "number")


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
