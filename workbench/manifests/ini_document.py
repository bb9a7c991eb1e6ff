"""INI files. Keys before the first section belong to the section `""`, so their pointers start with `//`.

Python's configparser judges, at its most permissive: before the first edit its reading is compared.
"""

from __future__ import annotations

from collections.abc import Sequence

from workbench.errors import ManifestError
from workbench.manifests.byte_lines import byte_length, encode, line_at, skip_bom
from workbench.manifests.document import Edit, Format, Node, Value, apply_edits
from workbench.manifests.key_lines import Member, Section, read_header
from workbench.manifests.keyed_document import KeyedDocument
from workbench.manifests.plain_value import BLANKS
from workbench.manifests.positions import refused
from workbench.manifests.selector import join_pointer, split_pointer
from workbench.typed import TYPE_CHECKING

if TYPE_CHECKING:
    from workbench.manifests.ini_judge import Written


def open_ini(raw: bytes, path: str = "") -> IniDocument:
    """Open an INI file.

    Raises:
        ManifestError: a section's header is not closed, a key is missing, or a line continues nothing.
    """
    return IniDocument(raw, path)


class IniDocument(KeyedDocument):
    """Data: `/section` a mapping, `/section/key` a string, or None for a key that stands alone."""

    format: Format = "ini"
    is_ini = True
    _is_judged = False

    def get(self, pointer: str) -> Value:
        tokens = split_pointer(pointer)
        if len(tokens) == 2:
            return super().get(pointer)
        data: dict[str, dict[str, str | None]] = {one.name: {} for one in self._found.sections}
        for member in self._found.members:
            text = member.value.text if member.value else None
            data.setdefault(member.path[0], {})[member.key] = text
        if not tokens:
            return data
        if len(tokens) == 1 and tokens[0] in data:
            return data[tokens[0]]
        raise refused(self._path, None, f"there is nothing at {pointer!r}", "list what is there with get ''")

    def line_of(self, pointer: str) -> int:
        tokens = split_pointer(pointer)
        return self._sections(pointer)[-1].first + 1 if len(tokens) == 1 else super().line_of(pointer)

    def replace_part(self, node: Node, start: int, end: int, text: str) -> Edit | None:
        if node.role != "section":
            return super().replace_part(node, start, end, text)
        self.check_editable()
        return self._replace_name(node.detail, start, end, text)

    def set(self, pointer: str, value: Value) -> Sequence[Edit]:
        if len(split_pointer(pointer)) < 2:
            raise refused(self._path, None, "a section is not set as a whole", "set its keys one by one")
        return super().set(pointer, value)

    def insert(self, pointer: str, value: Value) -> Sequence[Edit]:
        tokens = split_pointer(pointer)
        return self._add_section(tokens[0], value) if len(tokens) == 1 else super().insert(pointer, value)

    def delete(self, pointer: str) -> Sequence[Edit]:
        if len(split_pointer(pointer)) != 1:
            return super().delete(pointer)
        self.check_editable()
        section = self._only_section(pointer)
        after = [one.first for one in self._found.sections if one.first > section.first]
        start = self._own_start(section.first)
        if after:
            return (self._without(start, self._own_start(after[0])),)
        above = next((line.start for line in self._found.lines if line.stop == start), None)
        if above is not None and not self._ends_blank() and not self.raw[above:start].strip(b" \t\r\n"):
            # The blank line that only set the last section off from the one before.
            start = above
        return (self._without(start, len(self.raw)),)

    def rename_key(self, pointer: str, key: str) -> Sequence[Edit]:
        if len(split_pointer(pointer)) != 1:
            return super().rename_key(pointer, key)
        self.check_editable()
        section = self._only_section(pointer)
        self._refuse_old_section(key)
        return (self._replace_name(section, 0, len(section.name), key),)

    def _sections(self, pointer: str) -> list[Section]:
        tokens = split_pointer(pointer)
        found = [section for section in self._found.sections if tokens == (section.name,)]
        if not found:
            raise refused(self._path, None, f"there is no section {pointer!r}", "list them with get ''")
        return found

    def _only(self, pointer: str) -> Member:
        found = self._members(pointer, split_pointer(pointer))
        headers = sorted({self._header_row(member) for member in found})
        if len(headers) > 1:
            section, key = found[0].path[0], found[0].key
            lines = " and ".join(str(row + 1) for row in headers)
            rows = " and ".join(str(member.first + 1) for member in found)
            problem = (
                f"the section {section!r} stands more than once (lines {lines}), with {key!r} on lines {rows}"
            )
            advice = "the device may read either; join the sections by hand first, with one line for each key"
            raise refused(self._path, headers[1] + 1, problem, advice)
        return super()._only(pointer)

    def _header_row(self, member: Member) -> int:
        """The line of the header that a member stands under; -1 before the first."""
        before = [one.first for one in self._found.sections if one.first < member.first]
        return before[-1] if before else -1

    def _only_section(self, pointer: str) -> Section:
        found = self._sections(pointer)
        if len(found) > 1:
            lines = " and ".join(str(section.first + 1) for section in found)
            problem = f"the section {found[0].name!r} stands more than once (lines {lines})"
            advice = "put the keys of both under one header by hand first"
            raise refused(self._path, found[1].first + 1, problem, advice)
        return found[0]

    def _replace_name(self, section: Section, start: int, end: int, text: str) -> Edit:
        number = section.first + 1
        self._refuse_text(text, number)
        at = section.name_start + byte_length(section.name[:start])
        edit = Edit(at, at + byte_length(section.name[start:end]), encode(text))
        line = line_at(self.raw, section.start)
        after = apply_edits(self.raw[: line.end], (edit,))[line.start :]
        self._refuse_name(section.name[:start] + text + section.name[end:], after, number)
        return edit

    def _refuse_name(self, name: str, line: bytes, number: int | None) -> None:
        """A section's name must read back the same from its header."""
        span = read_header(line)
        if span is None or line[span[0] : span[1]] != encode(name):
            raise self._cannot_hold(name, number)

    def _refuse_old_section(self, name: str) -> None:
        if any(section.name == name for section in self._found.sections):
            raise refused(self._path, None, f"there is a section {name!r} already", "choose another name")

    def _add_section(self, name: str, value: Value) -> Sequence[Edit]:
        """A new section at the end, a blank line before it where the others have one."""
        if not isinstance(value, dict):
            raise refused(self._path, None, "a section holds keys with values", "give a mapping")
        self.check_editable()
        self._refuse_old_section(name)
        self._refuse_text(name, None)
        header = b"[" + encode(name) + b"]"
        self._refuse_name(name, header, None)
        like = next((one for one in reversed(self._found.members) if one.path[0]), None)
        lines = [header, *(self._line(key, text, like) for key, text in value.items())]
        if self._found.lines and self._has_gaps() and not self._ends_blank():
            lines.insert(0, b"")
        if self._has_blank_end():
            lines.append(b"")
        newline = b"\r\n" if b"\r\n" in self.raw else b"\n"
        return (self._add_lines(len(self.raw), newline.join(lines)),)

    def _has_gaps(self) -> bool:
        rows = [self._own_row(section.first) for section in self._found.sections]
        later = [row for row in rows if row]
        return not later or any(self._is_blank(row - 1) for row in later)

    def _own_row(self, row: int) -> int:
        while row and row - 1 in self._found.comments:
            row -= 1
        return row

    def _is_blank(self, row: int) -> bool:
        line = self._found.lines[row]
        return not self.raw[line.start : line.end].strip(BLANKS)

    def _has_blank_end(self) -> bool:
        """Whether the file ends in an empty line after its last section: then it goes on doing so."""
        return bool(self._found.sections) and self.raw.endswith(b"\n") and self._ends_blank()

    def _ends_blank(self) -> bool:
        return self._is_blank(len(self._found.lines) - 1)

    def _first_place(self, path: tuple[str, ...]) -> int:
        """After its section's header; without a section, before everything but the file's own comments."""
        if path[0] == "":
            rows = self._found.comments
            first = next(row for row in range(len(self._found.lines) + 1) if row not in rows)
            is_free = first < len(self._found.lines) and self._is_blank(first)
            return self._found.lines[first].start if is_free else skip_bom(self.raw)
        return self._only_section(join_pointer(path[:1])).stop

    def check_editable(self) -> None:
        if self._plain is not None:
            return  # configparser is known to agree there
        if not self._is_judged:
            self._is_judged = True
            from workbench.manifests.ini_judge import judge_ini

            self._verdict = judge_ini(self._flat(), self._written_values(), self._path)
        if self._verdict:
            raise self._verdict

    _verdict: ManifestError | None = None

    def _flat(self) -> bytes:
        """The file with settled indentation: none for members and headers, a blank where a value goes on."""
        rows = {section.first: b"" for section in self._found.sections}
        rows |= {member.first: b"" for member in self._found.members}
        spans = enumerate(self._found.lines)
        return b"".join(
            rows.get(row, b" ") + self.raw[one.start : one.stop].lstrip(b" \t\x0b\x0c") for row, one in spans
        )

    def _written_values(self) -> Written:
        """Section → key → value as written, quotes and what follows them included; the last one counts."""
        data: Written = {one.name: {} for one in self._found.sections}
        for member in self._found.members:
            data.setdefault(member.path[0], {})[member.key] = self._as_written(member)
        return data

    def _as_written(self, member: Member) -> bytes | None:
        if member.value is None:
            return None
        if member.pieces:
            return b"\n".join(self.raw[piece.start : piece.end] for piece in member.pieces)
        return self.raw[member.value.start : self._found.lines[member.last].end].rstrip(BLANKS)
