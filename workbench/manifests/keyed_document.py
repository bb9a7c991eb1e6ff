"""What INI and key=value documents share: finding and editing members, line by line.

An edit touches one line, or adds or takes whole lines. A key that stands twice can be read, and each of its
places replaced, but a wish by pointer is refused: which one the device heeds is its secret.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import cached_property

from workbench.errors import ManifestError
from workbench.manifests.byte_lines import (
    byte_length,
    encode,
    line_at,
    newline_of,
    refuse_binary,
    refuse_controls,
    refuse_mixed,
    skip_bom,
)
from workbench.manifests.document import Edit, Format, Node, Value, apply_edits
from workbench.manifests.key_lines import KeyLines, Member, Section, read_key, read_key_lines
from workbench.manifests.plain_lines import open_plain
from workbench.manifests.plain_value import BLANKS, replace_in_value, write_value
from workbench.manifests.positions import refused
from workbench.manifests.selector import Selector, join_pointer, split_pointer

_FEW = 16
"""Members that are looked up one by one; for more it pays to read them all."""


class KeyedDocument:
    """Members on lines; the two formats add what is their own."""

    format: Format
    is_ini: bool
    _asked = 0

    def __init__(self, raw: bytes, path: str) -> None:
        refuse_binary(raw, path)
        self.raw = raw
        self._path = path
        self._plain = open_plain(raw, is_ini=self.is_ini)
        if self._plain is None:
            _ = self._found  # judges

    @cached_property
    def _found(self) -> KeyLines:
        return read_key_lines(self.raw, self._path, is_ini=self.is_ini)

    @cached_property
    def _by_path(self) -> dict[tuple[str, ...], list[Member]]:
        found: dict[tuple[str, ...], list[Member]] = {}
        for member in self._found.members:
            found.setdefault(member.path, []).append(member)
        return found

    def find(self, at: Selector | None) -> Iterator[Node]:
        for one in self._in_order():
            yield from self._nodes(one, at)

    def find_matching(self, at: Selector | None, could_match: Callable[[str], bool]) -> Iterator[Node]:
        """What `find` yields, without the texts that could not match; see `opening.find_matching`."""
        found = self._in_order() if self._plain is None else self._plain.find(could_match)
        for one in found:
            for node in self._nodes(one, at):
                if could_match(node.text):
                    yield node

    def get(self, pointer: str) -> Value:
        tokens = split_pointer(pointer)
        if not tokens:
            return {member.key: member.value.text if member.value else None for member in self._found.members}
        value = self._members(pointer, tokens)[-1].value
        return value.text if value else None

    def line_of(self, pointer: str) -> int:
        tokens = split_pointer(pointer)
        return self._members(pointer, tokens)[-1].first + 1 if tokens else 1

    def replace_part(self, node: Node, start: int, end: int, text: str) -> Edit | None:
        member: Member = node.detail
        self._refuse_text(text, node.line)
        self.check_editable()
        if node.role == "key":
            return self._replace_key(member, node.text[:start] + text + node.text[end:], start, end, text)
        if member.pieces:
            return self._replace_in_piece(member, start, end, text)
        assert member.value is not None
        edit = replace_in_value(member.value, start, end, text)
        if edit is None:
            raise self._cannot_hold(node.text[:start] + text + node.text[end:], node.line)
        return edit

    def set(self, pointer: str, value: Value) -> Sequence[Edit]:
        member = self._only(pointer)
        self.check_editable()
        line = member.first + 1
        if value is None:
            if member.value is None:
                return ()
            raise refused(self._path, line, "a value cannot be nothing", "give a text, or delete the key")
        written = self._written(value, member.value.quote if member.value else b"", line)
        if member.value is None:
            return (Edit(member.key_end, member.key_end, self._separator() + written),)
        start, end = member.value.start, member.value.end
        if (
            start == end
            and self.raw[start - 1 : start] in (b"=", b":")
            and self.raw[start - 2 : start - 1] == b" "
        ):
            written = b" " + written if written else b""
        return (Edit(start, end, written),)

    def insert(self, pointer: str, value: Value) -> Sequence[Edit]:
        path = self._new_path(pointer)
        self.check_editable()
        siblings = [member for member in self._found.members if member.path[:-1] == path[:-1]]
        line = self._line(path[-1], value, siblings[-1] if siblings else None)
        return (self._add_lines(siblings[-1].stop if siblings else self._first_place(path), line),)

    def delete(self, pointer: str) -> Sequence[Edit]:
        member = self._only(pointer)
        self.check_editable()
        return (self._without(self._own_start(member.first), member.stop),)

    def rename_key(self, pointer: str, key: str) -> Sequence[Edit]:
        member = self._only(pointer)
        self.check_editable()
        self._new_path(join_pointer((*member.path[:-1], key)))
        return (self._replace_key(member, key, 0, len(member.key), key),)

    # What each format says for itself

    def check_editable(self) -> None:
        """Raise `ManifestError` where the file's judge reads something else here."""

    def _first_place(self, path: tuple[str, ...]) -> int:  # noqa: ARG002 - INI looks at it
        """Where the first member of a group goes."""
        return len(self.raw)

    # Shared

    def _in_order(self) -> Iterable[Section | Member]:
        return sorted((*self._found.sections, *self._found.members), key=lambda one: one.start)

    def _nodes(self, one: Section | Member, at: Selector | None) -> Iterator[Node]:
        path = (one.name,) if isinstance(one, Section) else one.path
        bindings = {} if at is None else at.match(path)
        if bindings is None:
            return
        pointer, line = join_pointer(path), one.first + 1
        if isinstance(one, Section):
            yield Node(pointer, "section", one.name, one.name_start, one.name_end, line, bindings, one)
            return
        yield Node(pointer, "key", one.key, one.key_start, one.key_end, line, bindings, one)
        if value := one.value:
            yield Node(pointer, "value", value.text, value.start, value.end, line, bindings, one)

    def _members(self, pointer: str, tokens: tuple[str, ...]) -> list[Member]:
        self._asked += 1
        if self._plain is not None and self._asked <= _FEW:
            found = self._plain.members_at(tokens)
        else:
            found = self._by_path.get(tokens, [])
        if not found:
            raise refused(
                self._path, None, f"there is nothing at {pointer!r}", "list what is there with get ''"
            )
        return found

    def _only(self, pointer: str) -> Member:
        found = self._members(pointer, split_pointer(pointer))
        if len(found) > 1:
            lines = " and ".join(str(member.first + 1) for member in found)
            problem = f"the key {found[0].key!r} stands more than once (lines {lines})"
            raise refused(self._path, found[1].first + 1, problem, "take one of them out by hand first")
        return found[0]

    def _new_path(self, pointer: str) -> tuple[str, ...]:
        tokens = split_pointer(pointer)
        if any(member.path == tokens for member in self._found.members):
            raise refused(self._path, None, f"{pointer!r} is there already", "set it instead")
        if len(tokens) != (2 if self.is_ini else 1):
            raise refused(
                self._path, None, f"{pointer!r} is no place for a key here", "see get '' for the form"
            )
        return tokens

    def _replace_key(self, member: Member, key: str, start: int, end: int, text: str) -> Edit:
        self._refuse_text(text, member.first + 1)
        at = member.key_start + byte_length(member.key[:start])
        edit = Edit(at, at + byte_length(member.key[start:end]), encode(text))
        line = line_at(self.raw, member.start)
        grown = len(edit.new) - (edit.end - edit.start)
        after = apply_edits(self.raw, (edit,))[line.start : line.end + grown]
        self._refuse_key(key, after, member.first + 1)
        return edit

    def _refuse_key(self, key: str, line: bytes, number: int | None) -> None:
        """A key must read back the same from its line."""
        span = read_key(line, is_ini=self.is_ini)
        if span is None or line[span[0] : span[1]] != encode(key):
            raise self._cannot_hold(key, number)

    def _cannot_hold(self, text: str, line: int | None) -> ManifestError:
        problem = f"{text!r} cannot stand there: it would be read as something else"
        return refused(self._path, line, problem, "choose another text")

    def _refuse_text(self, text: str, line: int | None) -> None:
        refuse_controls(text, self._path, line, "a line")
        refuse_mixed(self.raw, text, self._path, line)

    def _replace_in_piece(self, member: Member, start: int, end: int, text: str) -> Edit | None:
        """An edit within one line of a continued value."""
        assert member.value is not None
        for piece in member.pieces:
            shown = self.raw[piece.start : piece.end].decode("utf-8", "surrogateescape")
            if not piece.offset <= start <= end <= piece.offset + len(shown):
                continue
            start, end = start - piece.offset, end - piece.offset
            line = encode(shown[:start] + text + shown[end:])
            if not line or line != line.strip(BLANKS) or line[:1] in (b"#", b";"):
                raise self._cannot_hold(text, member.first + 1)
            at = piece.start + byte_length(shown[:start])
            return Edit(at, at + byte_length(shown[start:end]), encode(text))
        return None

    def _written(self, value: Value, quote: bytes, line: int | None) -> bytes:
        if isinstance(value, bool):
            value = "true" if value else "false"
        if not isinstance(value, str | int | float):
            raise refused(self._path, line, "a key here holds a text, nothing else", "give a text")
        text = str(value)
        self._refuse_text(text, line)
        written = write_value(text, quote)
        if written is None:
            raise self._cannot_hold(text, line)
        return written

    def _line(self, key: str, value: Value, like: Member | None) -> bytes:
        """A new member's line, without its ending, spaced and quoted like another."""
        if value is None and self.is_ini:
            line = encode(key)
        else:
            quote = like.value.quote if like and like.value else b""
            line = encode(key) + self._separator(like) + self._written(value, quote, None)
        self._refuse_text(key, None)
        self._refuse_key(key, line, None)
        return (self.raw[like.start : like.key_start] if like else b"") + line

    def _separator(self, like: Member | None = None) -> bytes:
        """What stands between key and value: as in that member, else as in most of the file."""
        members = [like] if like and like.value else [one for one in self._found.members if one.value]
        used = [self.raw[one.key_end : one.value.start] for one in members if one.value]
        usual = [separator for separator in used if b"\n" not in separator]
        return max(set(usual), key=usual.count) if usual else (b" = " if self.is_ini else b"=")

    def _add_lines(self, at: int, lines: bytes) -> Edit:
        newline = newline_of(self.raw)
        is_open = at == len(self.raw) > skip_bom(self.raw) and not self.raw.endswith(b"\n")
        return Edit(at, at, newline + lines if is_open else lines + newline)

    def _own_start(self, row: int) -> int:
        """Where the lines of a member or section start: at the comments right above it.

        Comments that open the file are the file's.
        """
        first = row
        while first and first - 1 in self._found.comments:
            first -= 1
        return self._found.lines[row if first == 0 else first].start

    def _without(self, start: int, stop: int) -> Edit:
        """Take lines out; a file without a final line ending keeps none."""
        if stop == len(self.raw) and not self.raw.endswith(b"\n"):
            start = next((line.end for line in self._found.lines if line.stop == start), start)
        return Edit(start, stop, b"")
