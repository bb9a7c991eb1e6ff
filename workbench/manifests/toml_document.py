"""TOML manifests. tomllib judges, spans of our own edit; an edit by pointer is given out only if tomllib
reads from it exactly the data that was wished for.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cached_property

from workbench.errors import ManifestError
from workbench.late_pattern import late_pattern
from workbench.manifests.byte_lines import LineTable
from workbench.manifests.document import MAX_DEPTH, Edit, Format, Node, Role, Value, anything, apply_edits
from workbench.manifests.looking import CouldMatch, find_places
from workbench.manifests.plain_data import (
    copy_data,
    has_value,
    is_same,
    value_at,
    with_item,
    with_key,
    with_value,
    without_value,
)
from workbench.manifests.positions import BOM, decode_utf8, malformed, refused
from workbench.manifests.selector import Selector, join_pointer, split_pointer
from workbench.manifests.toml_reader import Path, Place, Reading, read_toml_places
from workbench.manifests.toml_text import bare_again, read_text, replace_in_text
from workbench.typed import TYPE_CHECKING

if TYPE_CHECKING:
    # The layout is made only for what the judge's own places do not answer.
    from workbench.manifests import toml_edits
    from workbench.manifests.toml_layout import Layout
    from workbench.manifests.toml_scan import Entry, Key, Statement

_WHERE = late_pattern(r" \(at (?:line (\d+), column (\d+)|end of document)\)$")


def open_toml(raw: bytes, path: str = "") -> TomlDocument:
    """Judge the bytes and open them.

    Raises:
        ManifestError: malformed TOML 1.0, with line, column and the line's text.
    """
    return TomlDocument(raw, path, _judge(raw, path))


class TomlDocument:
    """A well-formed TOML document. Pointers go through tables of every form, and through arrays."""

    format: Format = "toml"

    def __init__(self, raw: bytes, path: str, read: Reading) -> None:
        self.raw = raw
        self._path = path
        self._data = read.data
        self._places = read.places if raw.isascii() else None
        """Where the judge itself found each key and text: nothing needs to be scanned then, nor compared."""
        self._table = LineTable(raw)
        self._is_checked = False

    def find(self, at: Selector | None) -> Iterator[Node]:
        """Keys wherever they are written, and strings."""
        if self._places is not None:
            yield from self._find_places(self._places, at)
            return
        yield from self._find_in(self._layout.statements, at)

    def find_matching(
        self, at: Selector | None, could_match: CouldMatch, keys: bool | None = None
    ) -> Iterator[Node]:
        """What `find` yields, without the texts that could not match; see `opening.find_matching`."""
        if self._places is not None:
            return self._find_places(self._hot_places(self._places, could_match), at, keys)
        found = self._find_in(self._hot_statements(could_match), at)
        return (node for node in found if could_match(node.text))

    def _hot_statements(self, could_match: CouldMatch) -> Iterable[Statement]:
        """The statements in which a text could match: without escapes every text stands there as it is."""
        statements = self._layout.statements
        is_plain = self.raw.isascii() and b"\\" not in self.raw
        places = find_places(could_match, self.raw.decode()) if is_plain else None
        if places is None:
            return statements
        starts = [one.start for one in statements]
        hot = dict.fromkeys(bisect_right(starts, place) - 1 for place in places)
        return [statements[index] for index in hot if index >= 0]

    def _hot_places(self, all_places: list[Place], could_match: CouldMatch) -> list[Place]:
        """Those whose text could match."""
        if could_match is anything:
            return all_places
        hits = find_places(could_match, self.raw.decode())
        if hits is None:
            return [one for one in all_places if could_match(one[2])]
        starts = [start for _, _, _, start, _ in all_places]
        hot = dict.fromkeys(bisect_right(starts, hit) - 1 for hit in hits)
        near = [all_places[index] for index in hot if index >= 0]
        return [one for one in near if could_match(one[2])]

    def _find_places(
        self, places: Iterable[Place], at: Selector | None, keys: bool | None = None
    ) -> Iterator[Node]:
        tokens = at.tokens if at is not None else ()
        size, last = len(tokens), None
        if tokens and tokens[-1].name is None:
            last = tokens[-1].before
        number = self._table.number
        for path, is_key, text, start, end in places:
            if at is not None and (len(path) != size or (last is not None and path[-1] != last)):
                continue
            if keys is not None and keys != is_key:
                continue
            bindings = at.match(path) if at is not None else {}
            if bindings is not None:
                role: Role = "key" if is_key else "value"
                yield Node(join_pointer(path), role, text, start, end, number(start), bindings)

    def _find_in(self, statements: Iterable[Statement], at: Selector | None) -> Iterator[Node]:
        from workbench.manifests.toml_scan import Header, entries_below

        for statement in statements:
            if isinstance(statement, Header):
                yield from self._key_nodes(statement.keys, at)
            else:
                for entry in entries_below(statement.entry):
                    yield from self._entry_nodes(entry, at)

    def get(self, pointer: str) -> Value:
        value = self._value(pointer)
        return copy_data(value) if isinstance(value, dict | list) else value

    def line_of(self, pointer: str) -> int:
        path = split_pointer(pointer)
        self._value(pointer)
        if path in self._layout.entries:
            return self._table.number(self._layout.entries[path].start)
        places = [self._layout.statements[index].start for index in self._layout.under(path)]
        return self._table.number(min(places)) if path and places else 1

    def replace_part(self, node: Node, start: int, end: int, text: str) -> Edit | None:
        self.check_editable()
        token = self.raw[node.start : node.end]
        bare = bare_again(token, start, end, text) if node.role == "key" else None
        if bare is not None:
            return Edit(node.start, node.end, bare)
        return replace_in_text(token, node.start, start, end, text)

    def set(self, pointer: str, value: Value) -> Sequence[Edit]:
        path = split_pointer(pointer)
        if is_same(self._value(pointer), value):
            return ()
        self._check_layout()
        from workbench.manifests import toml_edits

        edits = toml_edits.set_value(self._layout, path, value, self._refuser(pointer))
        return self._checked(edits, with_value(self._data, path, value))

    def insert(self, pointer: str, value: Value) -> Sequence[Edit]:
        from workbench.manifests import toml_edits

        path = split_pointer(pointer)
        self._check_layout()
        parent = self._value(join_pointer(path[:-1])) if path else None
        if isinstance(parent, list):
            self._refuse_index(pointer, path[-1], len(parent))
            edits = toml_edits.insert_item(self._layout, path, value, len(parent), self._refuser(None))
            return self._checked(edits, with_item(self._data, path, value))
        if not isinstance(parent, dict):
            raise self._refuse(None, f"{pointer!r} is no place for a new member", "name a key of a table")
        if path[-1] in parent:
            raise self._refuse(pointer, f"{pointer!r} is there already", "set it instead")
        edits = toml_edits.insert_key(self._layout, path, value, parent)
        return self._checked(edits, with_value(self._data, path, value))

    def delete(self, pointer: str) -> Sequence[Edit]:
        path = split_pointer(pointer)
        self._value(pointer)
        if not path:
            raise self._refuse(None, "the whole document cannot be deleted", "name a member of it")
        self._check_layout()
        from workbench.manifests import toml_edits

        edits = toml_edits.delete_value(self._layout, path)
        return self._checked(edits, self._without(path))

    def rename_key(self, pointer: str, key: str) -> Sequence[Edit]:
        path = split_pointer(pointer)
        self._value(pointer)
        parent = self._value(join_pointer(path[:-1])) if path else None
        if not isinstance(parent, dict):
            raise self._refuse(None, f"{pointer!r} has no key", "name a member of a table")
        if key in parent and key != path[-1]:
            raise self._refuse(pointer, f"the key {key!r} is there already", "choose another key")
        self._check_layout()
        from workbench.manifests import toml_edits

        return self._checked(toml_edits.rename_key(self._layout, path, key), with_key(self._data, path, key))

    def check_editable(self) -> None:
        """Compare what the spans hold with what tomllib read, once; the judge's own spans need no such look.

        Raises:
            ManifestError: they differ.
        """
        if self._places is None:
            self._check_layout()

    def _check_layout(self) -> None:
        """As above, before the layout is worked with.

        What comes of that is compared as a whole (`_checked`): of a file that was read as plain, enough.
        """
        if self._places is None and not self._is_checked and not self._is_told_apart():
            raise self._refuse(None, "its parts could not be told apart safely", "edit it by hand")
        self._is_checked = True

    def _is_told_apart(self) -> bool:
        return dict(_leaves_of(self._layout)) == dict(_texts_of(self._data))

    @cached_property
    def _layout(self) -> Layout:
        from workbench.manifests.toml_layout import Layout
        from workbench.manifests.toml_scan import scan_toml

        try:
            return Layout(self.raw, scan_toml(self.raw))
        except ValueError as error:
            problem = f"its parts could not be told apart ({error})"
            raise self._refuse(None, problem, "edit it by hand") from error
        except RecursionError as error:
            raise _too_deep(self._path) from error

    def _entry_nodes(self, entry: Entry, at: Selector | None) -> Iterator[Node]:
        bindings = _match(at, entry.path)
        for key in entry.keys:
            bound = bindings if key is entry.keys[-1] else _match(at, key.path)
            if bound is not None:
                yield self._node("key", key.path, key.text, (key.start, key.end), bound)
        if bindings is not None and entry.kind == "string":
            text = read_text(self.raw[entry.start : entry.end])
            yield self._node("value", entry.path, text, (entry.start, entry.end), bindings)

    def _key_nodes(self, keys: list[Key], at: Selector | None) -> Iterator[Node]:
        for key in keys:
            bindings = _match(at, key.path)
            if bindings is not None:
                yield self._node("key", key.path, key.text, (key.start, key.end), bindings)

    def _node(
        self, role: str, path: Path, text: str, span: tuple[int, int], bindings: Mapping[str, str]
    ) -> Node:
        line = self._table.number(span[0])
        return Node(join_pointer(path), role, text, *span, line, bindings)  # type: ignore[arg-type]

    def _value(self, pointer: str) -> Value:
        try:
            return value_at(self._data, split_pointer(pointer))
        except KeyError:
            raise self._refuse(None, f"there is nothing at {pointer!r}", "look at what it holds") from None

    def _without(self, path: Path) -> Value:
        """The data without a member; a table that only its headers below made goes with the last of them."""
        data = without_value(self._data, path)
        while (path := path[:-1]) and not value_at(data, path):
            if path in self._layout.entries or self._layout.table_of(path) is not None:
                break
            data = without_value(data, path)
        return data

    def _checked(self, edits: list[Edit], wanted: Value) -> tuple[Edit, ...]:
        """The edits, if tomllib reads the wanted data from what they make."""
        after = apply_edits(self.raw, edits)
        try:
            is_right = is_same(_judge(after, self._path).data, wanted)
        except ManifestError:
            is_right = False
        if not is_right:
            raise self._refuse(None, "this edit would change more than was asked for", "edit it by hand")
        return tuple(edits)

    def _refuse_index(self, pointer: str, token: str, count: int) -> None:
        if token != "-" and not (re.fullmatch(r"0|[1-9][0-9]{0,8}", token) and int(token) <= count):
            problem = f"{pointer!r} is no place in a list of {count}"
            raise self._refuse(None, problem, "give an index in it, or '-' for its end")

    def _refuse(self, pointer: str | None, problem: str, advice: str) -> ManifestError:
        line = self.line_of(pointer) if pointer and has_value(self._data, split_pointer(pointer)) else None
        return refused(self._path, line, problem, advice)

    def _refuser(self, pointer: str | None) -> toml_edits.Refuse:
        return lambda problem, advice: self._refuse(pointer, problem, advice)


def _match(at: Selector | None, path: Path) -> Mapping[str, str] | None:
    """The selector's bindings for a path; most paths are turned away by their length or last token."""
    if at is None:
        return {}
    if len(at.tokens) != len(path):
        return None
    last = at.tokens[-1] if path else None
    if last and last.name is None and last.before != path[-1]:
        return None
    return at.match(path)


def _judge(raw: bytes, path: str) -> Reading:
    """What tomllib reads.

    Raises:
        ManifestError: it refuses, or the nesting is deeper than `MAX_DEPTH`.
    """
    text, _ = decode_utf8(raw, path)
    if raw.startswith(BOM):
        raise malformed(path, text, 0, "the file starts with a byte order mark, which TOML does not know")
    try:
        return read_toml_places(text)
    except RecursionError as error:
        raise _too_deep(path) from error
    except ValueError as error:
        import tomllib

        if not isinstance(
            error, tomllib.TOMLDecodeError
        ):  # Python's own limit on digits, or a date that is none
            raise refused(path, None, f"a value in it is none ({error})", "correct it by hand") from error
        said = _WHERE.search(str(error))
        problem = _WHERE.sub("", str(error))
        raise malformed(path, text, _index(text, said), problem[:1].lower() + problem[1:]) from error


def _index(text: str, said: re.Match[str] | None) -> int:
    """The character that tomllib means; it counts lines at LF."""
    if said is None or said[1] is None:
        return len(text)
    lines = text.split("\n")
    return min(sum(len(line) + 1 for line in lines[: int(said[1]) - 1]) + int(said[2]) - 1, len(text))


def _too_deep(path: str) -> ManifestError:
    problem = f"it is nested deeper than {MAX_DEPTH} levels, or nearly, and is not taken as a manifest"
    return refused(path, None, problem, "look at what wrote it")


def _leaves_of(layout: Layout) -> Iterator[tuple[Path, str | None]]:
    """Path and text (None where it is no string) of every value that holds no others, by the spans."""
    for entry in layout.entries.values():
        if entry.kind == "string":
            yield entry.path, read_text(layout.raw[entry.start : entry.end])
        elif not entry.children:
            yield entry.path, None
    places = [*(header.path for header in layout.headers), *layout.entries]
    filled = {path[:size] for path in places for size in range(len(path))}
    for header in layout.headers:
        if header.path not in filled:
            yield header.path, None


def _texts_of(data: Value) -> Iterator[tuple[Path, str | None]]:
    """The same by the data."""
    waiting: list[tuple[Path, Value]] = [((), data)]
    while waiting:
        path, value = waiting.pop()
        if isinstance(value, dict) and (value or not path):
            waiting += (((*path, key), item) for key, item in value.items())
        elif isinstance(value, list) and value:
            waiting += (((*path, str(index)), item) for index, item in enumerate(value))
        else:
            yield path, value if isinstance(value, str) else None
