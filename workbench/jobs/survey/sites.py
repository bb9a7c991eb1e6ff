"""Finds the sites of a shape: places that hold a text, with what varies left open.

`/things/*/begin` is one site however many things there are. Which keys are data (names of entries, ids) and
which belong to the format is told from all files of the shape at once.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Any

from workbench.jobs.survey.plain import Plain
from workbench.jobs.survey.shapes import Shape
from workbench.manifests.selector import join_pointer
from workbench.values import dataclass, field

MARK = "\0"
"""Stands in a token for what varies."""

Chain = tuple[Any, str]
"""A place as (the place above it or None, token); the first token is the number of the file."""
Sample = tuple[Chain, str]

_MOST_SAMPLES = 3000
_MOST_NODES = 6000
"""Of more records of one kind every second, third … is looked into."""
_MOST_KEYS = 2000
_DIGITS = re.compile(r"[0-9]+")


@dataclass(frozen=True, slots=True, eq=False)
class Site:
    """One kind of place in the files of a shape."""

    shape: Shape
    tokens: tuple[str, ...]
    is_key: bool
    samples: tuple[Sample, ...] = field(repr=False)
    """A fair share of what stands there."""
    total: int
    """How many texts stand there in what was read."""

    @property
    def is_open(self) -> bool:
        """Whether a part of its path varies: then it holds many texts, not one."""
        return any(MARK in token for token in self.tokens)

    def file_of(self, chain: Chain) -> int:
        """The number of the manifest in the shape."""
        here = chain
        while here[0] is not None:
            here = here[0]
        return int(here[1])

    def pointer_of(self, chain: Chain) -> str:
        """The place as a JSON Pointer."""
        tokens: list[str] = []
        here = chain
        while here[0] is not None:
            tokens.append(here[1])
            here = here[0]
        return join_pointer(tokens[::-1])


def climb(chain: Chain, steps: int) -> Chain:
    """The place that many tokens above."""
    for _ in range(steps):
        chain = chain[0]
    return chain


def token_at(chain: Chain, place: int, length: int) -> str:
    """The token at a place of a path of that length."""
    return climb(chain, length - 1 - place)[1]


_Node = tuple[Chain, Plain]
_Branch = tuple[str, list[_Node]]


def find_sites(shape: Shape, find_home: Callable[[Iterable[str]], int]) -> Iterator[Site]:
    """The sites of a shape.

    Args:
        find_home: how many of some keys are children of one and the same folder of the card.
    """
    roots: list[_Node] = [((None, str(n)), one.data) for n, one in enumerate(shape.manifests)]
    waiting: list[tuple[tuple[str, ...], list[_Node]]] = [((), roots)]
    while waiting:
        tokens, nodes = waiting.pop()
        nodes = nodes[:: max(1, len(nodes) // _MOST_NODES)]
        texts: list[Sample] = []
        lists: list[_Node] = []
        dicts: list[_Node] = []
        for node in nodes:
            value = node[1]
            if isinstance(value, str):
                texts.append(node)
            elif isinstance(value, list):
                lists.append(node)
            elif isinstance(value, dict):
                dicts.append(node)
        if texts and tokens:  # a file that is one text has no place to speak of
            yield _make_site(shape, tokens, False, texts)
        if lists:
            waiting.append(_open_lists(shape, tokens, lists))
        if dicts:
            # The names that a script gives values to are its own.
            is_script = shape.format == "shell"
            branches, keys = _open_dicts(dicts, (lambda _: 0) if is_script else find_home)
            waiting += (((*tokens, token), below) for token, below in branches)
            if keys:
                yield _make_site(shape, (*tokens, MARK), True, keys)


def _make_site(shape: Shape, tokens: tuple[str, ...], is_key: bool, samples: list[Sample]) -> Site:
    total = len(samples)
    step = max(1, total // _MOST_SAMPLES)
    return Site(shape, tokens, is_key, tuple(samples[::step]), total)


def _open_lists(
    shape: Shape, tokens: tuple[str, ...], lists: list[_Node]
) -> tuple[tuple[str, ...], list[_Node]]:
    below = [((chain, str(n)), item) for chain, items in lists for n, item in enumerate(items)]
    # Of XML every element stands in a list of its own name: one that is always alone is no list.
    is_alone = shape.format == "xml" and all(len(items) == 1 for _, items in lists)
    return (*tokens, "0" if is_alone else MARK), below


def _open_dicts(
    dicts: list[_Node], find_home: Callable[[Iterable[str]], int]
) -> tuple[list[_Branch], list[Sample]]:
    """The branches below, and the keys where they are data."""
    counts = Counter(key for _, members in dicts for key in members)
    if not counts:
        return [], []
    keys = list(counts)[:: max(1, len(counts) // _MOST_KEYS)]
    named = find_home(keys)
    if named >= 2 and named >= 0.5 * len(keys):
        return _open_map(dicts)
    if not _is_record(counts, len(dicts)) and _is_map(dicts):
        return _open_map(dicts)
    return _open_record(dicts, counts), []


def _open_map(dicts: list[_Node]) -> tuple[list[_Branch], list[Sample]]:
    """Keys are data, save those whose values are of another kind than most."""
    kinds = Counter(_kind(value) for _, members in dicts for value in members.values())
    usual = kinds.most_common(1)[0][0]
    inside: list[_Node] = []
    keys: list[Sample] = []
    aside: dict[str, list[_Node]] = {}
    for chain, members in dicts:
        for key, value in members.items():
            node = ((chain, key), value)
            if _kind(value) in (usual, "none"):
                inside.append(node)
                keys.append((node[0], key))
            else:
                aside.setdefault(key, []).append(node)
    return [(MARK, inside), *aside.items()], keys


def _open_record(dicts: list[_Node], counts: Counter[str]) -> list[_Branch]:
    """Keys belong to the format, save that numbered ones (`item1`, `item2`) count as one."""
    form_of = {key: _DIGITS.sub(MARK, key, count=1) for key in counts}
    forms = Counter(form_of.values())
    token_of = {key: form if MARK in form and forms[form] > 1 else key for key, form in form_of.items()}
    found: dict[str, list[_Node]] = {token: [] for token in token_of.values()}
    for chain, members in dicts:
        for key, value in members.items():
            found[token_of[key]].append(((chain, key), value))
    return list(found.items())


def _kind(value: Plain) -> str:
    if isinstance(value, dict):
        return "dict"
    if isinstance(value, list):
        return "list"
    return "text" if isinstance(value, str) else "none" if value is None else "number"


def _is_record(counts: Counter[str], instances: int) -> bool:
    """Whether the same keys come again in most of the places."""
    if instances < 2:
        return False
    usual = sum(count for count in counts.values() if 2 * count > instances)
    return usual >= 0.6 * sum(counts.values())


def _is_map(dicts: Sequence[_Node]) -> bool:
    """Whether the values are alike: records with the same keys."""
    children = [value for _, members in dicts for value in members.values()]
    records = [value for value in children if isinstance(value, dict)]
    if len(records) < 2 or len(records) < 0.8 * len(children):
        return False
    counts = Counter(key for record in records for key in record)
    usual = sum(count for count in counts.values() if 2 * count > len(records))
    return bool(counts) and usual >= 0.5 * sum(counts.values())
