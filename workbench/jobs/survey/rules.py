"""Makes reference rules of sites that name a menu's entries, and keeps what no rule answers for.

An invented rule would harm a card, a missing one is listed: where little speaks for a rule, none is made.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence

from workbench.jobs.survey.plain import LINES, WORDS
from workbench.jobs.survey.roster import Key, MenuGuess
from workbench.jobs.survey.rule_places import file_pattern, record_chain, record_of, render
from workbench.jobs.survey.site_reading import Read
from workbench.jobs.survey.sites import Site
from workbench.values import dataclass, replace

_SHARE = 0.5
_PATH_SHARE = 0.2
_SPEAKING = re.compile(
    r"last|recent|current|resume|default|start|first|open|active|select|boot|launch|play|entry|item|favou?rite|pin",
    re.IGNORECASE,
)


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
    taken += [r for r in wanted if r not in taken and r not in doubles and _names_whole_menu(menu, r)]
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


def _names_whole_menu(menu: MenuGuess, read: Read) -> bool:
    """Whether every text there names another entry, and together they name all: few, but not by chance."""
    if (
        read.form not in ("{entry}", "{stem}")
        or not read.site.is_open
        or read.site.tokens[0] in (WORDS, LINES)
    ):
        return False
    is_each = len(read.entries) == len(read.hits) == len(read.site.samples) == len(menu.names) > 1
    return is_each and all(_is_telling(hit.text) for hit in read.hits)


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
