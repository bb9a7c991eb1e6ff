"""Finds keys and strings in strict JSON text, by selector or all of them.

The data that the judge made leads the way: members below which nothing could match are passed over at C
speed, so that asking for one name in a long list costs little more than reading the list.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress

from workbench.manifests.document import Value, anything
from workbench.manifests.json_scanner import scanstring
from workbench.manifests.json_walk import INDEX, after_colon, after_comma, after_space, value_end
from workbench.manifests.looking import CouldMatch, find_places
from workbench.manifests.selector import Selector, Token, bind, escape_token
from workbench.typed import NamedTuple
from workbench.values import dataclass

UNGUIDED = object()
"""In place of the data where one key stands twice, so that the data does not tell what the text holds."""


class Text(NamedTuple):
    """One string of the document."""

    pointer: str
    is_key: bool
    text: str
    start: int
    end: int
    """Span with the quotes."""
    bindings: Mapping[str, str]


class Hot:
    """The strings of one text that could match, found once for all selectors that ask."""

    def __init__(self, clean: str) -> None:
        self._clean = clean
        self._found: tuple[CouldMatch, frozenset[str] | None] | None = None

    def find(self, could_match: CouldMatch) -> frozenset[str] | None:
        """Of a text without backslashes; None where it cannot be told."""
        if self._found is None or self._found[0] is not could_match:
            self._found = could_match, _find_strings(self._clean, could_match)
        return self._found[1]


def find_texts(
    clean: str, data: Value, at: Selector, could_match: CouldMatch, hot: Hot | None = None
) -> Iterator[Text]:
    """String values that the selector matches and, where its last token has a placeholder, keys.

    Args:
        data: what the text says, or `UNGUIDED`.
        could_match: false for texts that nobody asks for.
        hot: of the same text, to be kept by whoever asks again.
    """
    start = after_space(clean, 0)
    is_picky = bool(at.tokens) and data is not UNGUIDED and could_match is not anything
    quick = _find_in_data(clean, data, at.tokens, could_match, hot or Hot(clean)) if is_picky else None
    if quick is not None:
        yield from quick
    elif at.tokens:
        yield from _Search(clean, at.tokens, could_match).walk(start, data, 0, "", {})
    elif clean[start] == '"':
        text, end = scanstring(clean, start + 1)
        if could_match(text):
            yield Text("", False, text, start, end, {})


_FEW = 8
"""Texts that are looked for one by one; for more it pays to walk to them."""


def _find_in_data(
    clean: str, data: Value, tokens: tuple[Token, ...], could_match: CouldMatch, known: Hot
) -> list[Text] | None:
    """What `_Search` finds, where each text stands in the document just once: then it is simply searched for.

    None where that does not tell. Without a backslash every text stands there as it is.
    """
    if "\\" in clean:
        return None
    hot = known.find(could_match)
    if hot is not None and not hot:
        return []
    found: list[Text] = []
    waiting: list[tuple[Value, int, str, dict[str, str]]] = [(data, 0, "", {})]
    while waiting and len(found) <= _FEW:
        value, depth, pointer, bindings = waiting.pop()
        is_open = isinstance(value, dict | list)
        for key in _matching_keys(value, tokens, depth, could_match, hot) if is_open else ():
            bound = bind(tokens[depth], str(key), bindings)
            here = f"{pointer}/{escape_token(str(key))}"
            if bound is None:
                continue
            if depth < len(tokens) - 1:
                waiting.append((value[key], depth + 1, here, bound))
                continue
            is_name = isinstance(key, str) and tokens[depth].name is not None
            for text, is_key in ((key, True), (value[key], False)):
                if (is_name or not is_key) and isinstance(text, str) and could_match(text):
                    start = clean.find(f'"{text}"')
                    found.append(Text(here, is_key, text, start, start + len(text) + 2, bound))
            if len(found) > _FEW:  # looking for each of thousands would cost their square
                return None
    if len(found) > _FEW or any(clean.find(f'"{one.text}"', one.end) >= 0 for one in found):
        return None
    return sorted(found, key=lambda one: one.start)


def _find_strings(clean: str, could_match: CouldMatch) -> frozenset[str] | None:
    """The strings of a text without backslashes that could match; None where that cannot be told."""
    places = find_places(could_match, clean)
    if places is None:
        return None
    found: set[str] = set()
    quotes = last = 0
    for place in places:
        quotes, last = quotes + clean.count('"', last, place), place
        if quotes % 2:  # within a string
            found.add(clean[clean.rfind('"', 0, place) + 1 : clean.find('"', place)])
    return frozenset(found)


@dataclass(frozen=True, slots=True)
class _Search:
    clean: str
    tokens: tuple[Token, ...]
    could_match: CouldMatch

    def walk(
        self, index: int, value: Value, depth: int, pointer: str, bindings: dict[str, str]
    ) -> Iterator[Text]:
        """What matches in the object or array at that index; `value` is its data."""
        clean, token = self.clean, self.tokens[depth]
        if clean[index] not in "{[":
            return
        is_guided, is_object, position = value is not UNGUIDED, clean[index] == "{", -1
        wanted = _matching_keys(value, self.tokens, depth, self.could_match) if is_guided else frozenset()
        left = len(wanted)
        key: str | int
        index = after_space(clean, index + 1)
        while clean[index] not in "]}" and (left or not is_guided):
            start = key_end = index
            if is_object:
                key, key_end = scanstring(clean, index + 1)
                index = after_colon(clean, key_end)
            else:
                key = position = position + 1
            if not is_guided or key in wanted:
                left -= 1
                found = bind(token, str(key), bindings)
                if found is not None:
                    below = value[key] if is_guided else UNGUIDED
                    here = f"{pointer}/{escape_token(str(key))}"
                    yield from self._take(key, (start, key_end, index), below, depth, here, found)
            index = after_comma(clean, value_end(clean, index))

    def _take(
        self,
        key: str | int,
        places: tuple[int, int, int],
        below: Value,
        depth: int,
        here: str,
        found: dict[str, str],
    ) -> Iterator[Text]:
        """One member that fits so far; `places` are where its key starts and ends and its value starts."""
        start, key_end, index = places
        if depth < len(self.tokens) - 1:
            yield from self.walk(index, below, depth + 1, here, found)
            return
        if isinstance(key, str) and self.tokens[depth].name is not None and self.could_match(key):
            yield Text(here, True, key, start, key_end, found)
        if self.clean[index] == '"':
            text, end = scanstring(self.clean, index + 1)
            if self.could_match(text):
                yield Text(here, False, text, index, end, found)


def _matching_keys(
    value: Value,
    tokens: tuple[Token, ...],
    depth: int,
    could_match: CouldMatch,
    hot: frozenset[str] | None = None,
) -> frozenset[str | int]:
    """The keys or indices of the members at or below which something could match.

    `hot`: every text that does, where that is known.
    """
    token, is_last = tokens[depth], depth == len(tokens) - 1
    is_row = depth == len(tokens) - 2 and tokens[-1].name is None
    if is_row and hot is not None and token.name is not None and isinstance(value, list):
        return _find_rows(_fields(value, tokens[-1].before), hot)
    pairs: Collection[tuple[str | int, Value]]
    if token.name is None:
        child = _child(value, token.before)
        pairs = (
            [] if child is None else [(int(token.before) if isinstance(value, list) else token.before, child)]
        )
    else:
        pairs = value.items() if isinstance(value, dict) else list(enumerate(value))
    if token.name is None and not is_last and hot is not None:
        return frozenset(key for key, _ in pairs)  # one look further down tells
    if is_row:
        fields = _fields((child for _, child in pairs), tokens[-1].before)
        texts = zip(pairs, fields, strict=True)
        return _hot_keys([(key, text) for (key, _), text in texts if isinstance(text, str)], could_match, hot)
    if not is_last:
        below = ((key, _texts_of(child, tokens, depth + 1)) for key, child in pairs)
        return _hot_keys([(key, text) for key, text in below if text is not None], could_match)
    if token.name is not None and isinstance(value, dict):
        names = [(key, key) for key in value]
        children = [(key, child) for key, child in value.items() if isinstance(child, str)]
        return _hot_keys(names + children, could_match, hot)
    return _hot_keys([(key, child) for key, child in pairs if isinstance(child, str)], could_match, hot)


def _find_rows(fields: list[Value], hot: frozenset[str]) -> frozenset[str | int]:
    """The indices of the fields that are one of these texts; a list looks for each at C speed."""
    found: list[str | int] = []
    for text in hot:
        at = -1
        with suppress(ValueError):
            while True:
                at = fields.index(text, at + 1)
                found.append(at)
    return frozenset(found)


def _hot_keys(
    texts: Sequence[tuple[str | int, str]], could_match: CouldMatch, hot: frozenset[str] | None = None
) -> frozenset[str | int]:
    """The keys whose texts could match; many are asked about at once."""
    if hot is not None:
        return frozenset(key for key, text in texts if text in hot)
    if could_match is anything:
        return frozenset(key for key, _ in texts)
    found: list[str | int] = []
    waiting = [texts]
    while waiting:
        some = waiting.pop()
        if not some or not could_match("\n".join([text for _, text in some])):
            continue
        if len(some) == 1:
            found.append(some[0][0])
        else:
            waiting += some[: len(some) // 2], some[len(some) // 2 :]
    return frozenset(found)


def _texts_of(value: Value, tokens: tuple[Token, ...], depth: int) -> str | None:
    """The texts that the rest of the selector matches by its shape, joined by line ends; None for none."""
    token = tokens[depth]
    if token.name is None and depth == len(tokens) - 1:
        child = _child(value, token.before)
        return child if isinstance(child, str) else None
    found: list[str] = []
    _gather(value, tokens, depth, found)
    return "\n".join(found) if found else None


def _gather(value: Value, tokens: tuple[Token, ...], depth: int, found: list[str]) -> None:
    token, is_last = tokens[depth], depth == len(tokens) - 1
    children: Iterable[Value]
    if token.name is None:
        children = (_child(value, token.before),)
    elif isinstance(value, dict):
        children = value.values()
        if is_last:
            found += value
    else:
        children = value if isinstance(value, list) else ()
    if is_last:
        found += [child for child in children if isinstance(child, str)]
        return
    if depth == len(tokens) - 2 and tokens[-1].name is None:
        fields = _fields(children, tokens[-1].before)
        found += [text for text in fields if isinstance(text, str)]
        return
    for child in children:
        if isinstance(child, dict | list):
            _gather(child, tokens, depth + 1, found)


def _fields(children: Iterable[Value], field: str) -> list[Value]:
    """Rows with a field each are the common form of a long list: spelled out, a third of the time."""
    return [child.get(field) if isinstance(child, dict) else _child(child, field) for child in children]


def _child(value: Value, token: str) -> Value:
    if isinstance(value, dict):
        return value.get(token)
    if isinstance(value, list) and INDEX.fullmatch(token) and int(token[:10]) < len(value):
        return value[int(token)]
    return None


@dataclass(slots=True)
class _Level:
    is_object: bool
    pointer: str
    position: int = 0


def find_all_texts(clean: str) -> Iterator[Text]:
    """Every key and string value, in document order."""
    levels: list[_Level] = []
    index, here = after_space(clean, 0), ""
    while True:
        char = clean[index]
        if char in "{[":
            levels.append(_Level(char == "{", here))
            index += 1
        elif char == '"':
            text, end = scanstring(clean, index + 1)
            yield Text(here, False, text, index, end, _NO_BINDINGS)
            index = end
        else:
            index = value_end(clean, index)
        index = after_space(clean, index)
        while levels and clean[index] in "]}":
            levels.pop()
            index = after_space(clean, index + 1)
        if not levels:
            return
        index = after_comma(clean, index)
        level = levels[-1]
        if level.is_object:
            key, end = scanstring(clean, index + 1)
            here = f"{level.pointer}/{escape_token(key)}"
            yield Text(here, True, key, index, end, _NO_BINDINGS)
            index = after_colon(clean, end)
        else:
            here = f"{level.pointer}/{level.position}"
            level.position += 1


_NO_BINDINGS: dict[str, str] = {}


def find_duplicate(clean: str) -> tuple[str, int, int] | None:
    """The first key that one object holds twice, and where both stand."""
    seen: dict[str, int] = {}
    for text in find_all_texts(clean):
        if text.is_key:
            first = seen.setdefault(text.pointer, text.start)
            if first != text.start:
                return text.text, first, text.start
    return None
