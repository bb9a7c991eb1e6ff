"""POSIX shell scripts: words and assignments, edited in the quoting they stand in.

Opening judges nothing but that the bytes are text: a script with an error opens, `find` is silent about the
lines that the error touches, and every edit asks the judge first (`sh -n`, once, where there is an `sh`) and
raises where it refuses the script. `check_editable` asks it at any time.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import cached_property

from workbench.errors import ManifestError
from workbench.late_pattern import late_pattern
from workbench.manifests.byte_lines import (
    LineTable,
    decode,
    encode,
    newline_of,
    refuse_binary,
    refuse_controls,
    refuse_mixed,
    skip_bom,
    split_lines,
)
from workbench.manifests.document import Edit, Format, Node, Value, apply_edits
from workbench.manifests.positions import refused
from workbench.manifests.selector import Selector, split_pointer
from workbench.manifests.shell_judge import judge_script
from workbench.manifests.shell_script import (
    Assignment,
    Place,
    Script,
    error_lines,
    is_word_start,
    read_script,
)
from workbench.manifests.shell_word import LONGEST, Word, quote_value, read_word, replace_chars

_WORD = "#word"
_NAME = late_pattern(r"[A-Za-z_][A-Za-z0-9_]*")
_SIMPLE = late_pattern(
    rb"(?:([A-Za-z0-9_./,:@%+=^-]+)|\"([^\"\\$`]*)\"|'([^']*)')(?=[ \t\n;&|()<>]|\r?\n|\Z)"
)
"""A word that means itself, or is one quoted stretch."""
_SAFE = late_pattern(r"[A-Za-z0-9_./,:@%+-]*")
_ONLY_COMMENT = late_pattern(rb"[ \t]*(?:#[^\n]*)?\r?(?:\n|\Z)")


def open_shell(raw: bytes, path: str = "", variables: Mapping[str, str] | None = None) -> ShellDocument:
    """Open a script; `variables` are values that the device gives to names the script does not set itself.

    Raises:
        ManifestError: it is no text.
    """
    refuse_binary(raw, path)
    return ShellDocument(raw, path, variables or {})


class ShellDocument:
    """A script. Data: `/NAME` the value of an assignment, `/#word/N` the N-th word, from 0."""

    format: Format = "shell"

    def __init__(self, raw: bytes, path: str, variables: Mapping[str, str]) -> None:
        self.raw = raw
        self._path = path
        self._variables = variables
        self._table = LineTable(raw)
        self._verdict: ManifestError | None = None
        self._is_judged = False

    def find(self, at: Selector | None) -> Iterator[Node]:
        wanted = self._wanted(at)
        for is_word, index in self._order:
            bindings = wanted(is_word, index)
            if bindings is not None and (node := self._node(is_word, index, bindings)):
                yield node

    def get(self, pointer: str) -> Value:
        tokens = split_pointer(pointer)
        if not tokens:
            return {found.name: self._value(found) for found in self._script.assignments}
        if tokens[0] == _WORD:
            if len(tokens) == 1:
                return [self._word_text(place) for place in self._script.words]
            return self._word_text(self._place(pointer, tokens))
        return self._value(self._found(pointer)[-1])

    def line_of(self, pointer: str) -> int:
        tokens = split_pointer(pointer)
        if tokens[:1] in ((), (_WORD,)):
            return self._table.number(self._place(pointer, tokens).start) if len(tokens) == 2 else 1
        return self._table.number(self._found(pointer)[-1].start)

    @property
    def has_doubts(self) -> bool:
        """Whether the grammar sees an error; the shell may still take the script."""
        return bool(self._script.errors)

    def check_editable(self) -> None:
        """Ask `sh -n`, or the tree where there is no `sh`, once.

        Raises:
            ManifestError: the script is malformed.
        """
        if not self._is_judged:
            self._verdict = judge_script(self.raw, self._path, self._script)
            self._is_judged = True
        if self._verdict:
            raise self._verdict

    def replace_part(self, node: Node, start: int, end: int, text: str) -> Edit | None:
        refuse_controls(text, self._path, node.line, "a word of a script")
        refuse_mixed(self.raw, text, self._path, node.line)
        is_value = node.role == "assignment"
        index: int = node.detail
        one: Assignment | Place = self._script.assignments[index] if is_value else self._script.words[index]
        word = self._read(one)
        if word is None:
            return None
        self.check_editable()
        return self._replace(word, start, end, text, one)

    def set(self, pointer: str, value: Value) -> Sequence[Edit]:
        tokens = split_pointer(pointer)
        if tokens[:1] == (_WORD,):
            one: Assignment | Place = self._place(pointer, tokens)
        else:
            one = self._only(pointer)
        text = self._text(value, self._table.number(one.start))
        self.check_editable()
        word = self._read(one)
        if word is None:
            raise self._refuse(
                one.start, "this is more than plain words here can hold", "edit the line by hand"
            )
        edit = self._replace(word, 0, len(word.text), text, one)
        if edit is None:
            written = self.raw[word.start : word.end]
            like = written if written[:1] in (b"'", b'"') else b'"'
            edit = Edit(word.start, word.end, quote_value(text, like))
        return self._checked((edit,))

    def insert(self, pointer: str, value: Value) -> Sequence[Edit]:
        name = self._new_name(pointer)
        self.check_editable()
        at, like, indent = self._insertion_place()
        line = indent + encode(name) + b"=" + quote_value(self._text(value, None), like)
        newline = newline_of(self.raw)
        is_open = at == len(self.raw) > skip_bom(self.raw) and not self.raw.endswith(b"\n")
        return self._checked((Edit(at, at, newline + line if is_open else line + newline),))

    def delete(self, pointer: str) -> Sequence[Edit]:
        found = self._only(pointer)
        self.check_editable()
        start, stop = self._whole_line(found)
        lines = split_lines(self.raw[:start])
        while len(lines) > 1 and self.raw[lines[-1].start : lines[-1].end].lstrip(b" \t")[:1] == b"#":
            start = lines.pop().start
        return self._checked((Edit(start, stop, b""),))

    def rename_key(self, pointer: str, key: str) -> Sequence[Edit]:
        found = self._only(pointer)
        self._new_name("/" + key.replace("~", "~0").replace("/", "~1"))
        self.check_editable()
        old = encode(found.name)
        if found.name in self._script.changed:
            raise self._refuse(found.start, f"{found.name} is also set by a command", "rename it by hand")
        names = (span for span in self._script.names if self.raw[span[0] : span[1]] == old)
        return self._checked(tuple(Edit(start, end, encode(key)) for start, end in dict.fromkeys(names)))

    # Reading

    @cached_property
    def _script(self) -> Script:
        return read_script(self.raw)

    @cached_property
    def _order(self) -> list[tuple[bool, int]]:
        """Words and assignments as they stand, without those on a line with an error."""
        script = self._script
        starts = [(place.start, True, index) for index, place in enumerate(script.words)]
        starts += [(found.start, False, index) for index, found in enumerate(script.assignments)]
        starts.sort()
        for start, end in error_lines(self.raw, script):
            starts = [one for one in starts if not start <= one[0] < end]
        return [(is_word, index) for _, is_word, index in starts]

    def _wanted(self, at: Selector | None) -> Callable[[bool, int], Mapping[str, str] | None]:
        if at is None:
            return lambda _is_word, _index: {}
        tokens = at.tokens
        if tokens and tokens[0].name is None and tokens[0].before == _WORD:
            if len(tokens) == 1:
                return lambda is_word, _index: {} if is_word else None
            return lambda is_word, index: at.match((_WORD, str(index))) if is_word else None
        assignments = self._script.assignments
        return lambda is_word, index: None if is_word else at.match((assignments[index].name,))

    def _node(self, is_word: bool, index: int, bindings: Mapping[str, str]) -> Node | None:
        script = self._script
        one: Assignment | Place = script.words[index] if is_word else script.assignments[index]
        pointer = f"/{_WORD}/{index}" if isinstance(one, Place) else f"/{one.name}"
        start = one.start if isinstance(one, Place) else one.value
        simple = _SIMPLE.match(self.raw, start)
        if simple and not one.in_backticks and is_word_start(self.raw, one.start):
            text, end = decode(simple[simple.lastindex or 0]), simple.end()
        elif word := self._read(one):
            text, end = word.text, word.end
        else:
            return None
        line = self._table.number(start)
        role = "word" if is_word else "assignment"
        return Node(pointer, role, text, start, end, line, bindings, index)  # type: ignore[arg-type]

    def _read(self, one: Place | Assignment) -> Word | None:
        """The word or value there, with what is known of variables put in."""
        if not is_word_start(self.raw, one.start):
            return None
        known = self._known_at(one.start)
        if isinstance(one, Assignment):
            return read_word(
                self.raw, one.value, self._script.opaque, known, is_value=True, in_backticks=one.in_backticks
            )
        return read_word(self.raw, one.start, self._script.opaque, known, in_backticks=one.in_backticks)

    def _known_at(self, offset: int) -> Callable[[str], str | None]:
        def known(name: str) -> str | None:
            start, text = self._constants.get(name, (offset, ""))
            return text if start < offset else self._variables.get(name)

        return known

    @cached_property
    def _constants(self) -> dict[str, tuple[int, str]]:
        """Name → where it is set and to what, of variables set once, always, and to a constant."""
        script = self._script
        counts: dict[str, int] = {}
        for found in script.assignments:
            counts[found.name] = counts.get(found.name, 0) + 1
        constants: dict[str, tuple[int, str]] = {}

        def known(name: str) -> str | None:
            return constants[name][1] if name in constants else self._variables.get(name)

        for found in script.assignments:
            if counts[found.name] > 1 or not found.is_calm or found.name in script.changed:
                continue
            word = read_word(self.raw, found.value, script.opaque, known, is_value=True)
            if word and word.is_constant and len(word.text) <= LONGEST:
                constants[found.name] = (found.start, word.text)
        return constants

    def _value(self, found: Assignment) -> str:
        word = self._read(found)
        if word:
            return word.text
        return decode(self.raw[found.value :].partition(b"\n")[0].rstrip(b"\r"))

    def _word_text(self, place: Place) -> str | None:
        word = self._read(place)
        return word.text if word else None

    def _place(self, pointer: str, tokens: tuple[str, ...]) -> Place:
        if len(tokens) == 2 and tokens[1].isdecimal() and int(tokens[1]) < len(self._script.words):
            return self._script.words[int(tokens[1])]
        raise refused(
            self._path, None, f"there is no word {pointer!r}", "list what is there with get '/#word'"
        )

    def _found(self, pointer: str) -> list[Assignment]:
        tokens = split_pointer(pointer)
        found = [one for one in self._script.assignments if tokens == (one.name,)]
        if not found:
            problem = f"nothing is assigned at {pointer!r}"
            raise refused(self._path, None, problem, "list what is there with get ''")
        return found

    # Writing

    def _replace(self, word: Word, start: int, end: int, text: str, one: Place | Assignment) -> Edit | None:
        if one.in_backticks and not _SAFE.fullmatch(text):
            return None  # backslashes and quotes mean something else again in there
        is_value = isinstance(one, Assignment)
        place = replace_chars(self.raw, word, start, end, text, is_value=is_value)
        if place is None:
            return None
        edit, before = Edit(*place), word.text[:start]
        if start and word.chars[start - 1].context == "given" and word.chars[start - 1].start == edit.start:
            before = re.sub(r"\$(\w+)\Z", r"${\1}", before)  # an unknown variable that now needs its braces
        wanted = (word.text[:start] + text + word.text[end:], before + text + word.text[end:])
        return edit if self._read_after(edit, one) in wanted else None

    def _read_after(self, edit: Edit, one: Place | Assignment) -> str | None:
        """The text of the word as it is read once the edit is made."""
        grown = len(edit.new) - (edit.end - edit.start)
        opaque = {
            start + grown * (start >= edit.end): end + grown * (end >= edit.end)
            for start, end in self._script.opaque.items()
        }
        is_value = isinstance(one, Assignment)
        again = read_word(
            apply_edits(self.raw, (edit,)),
            one.value if isinstance(one, Assignment) else one.start,
            opaque,
            self._known_at(one.start),
            is_value=is_value,
            in_backticks=one.in_backticks,
        )
        return again.text if again else None

    def _checked(self, edits: tuple[Edit, ...]) -> tuple[Edit, ...]:
        """The edits, if the shell still takes the script that they make."""
        after = apply_edits(self.raw, edits)
        if error := judge_script(after, self._path, read_script(after)):
            problem = "the edit would leave a script that the shell refuses"
            raise refused(self._path, error.line, problem, "edit the line by hand") from error
        return edits

    def _only(self, pointer: str) -> Assignment:
        found = self._found(pointer)
        if len(found) > 1:
            lines = " and ".join(str(self._table.number(one.start)) for one in found)
            problem = f"{found[0].name} is assigned more than once (lines {lines})"
            raise refused(self._path, self._table.number(found[1].start), problem, "edit the line by hand")
        return found[0]

    def _new_name(self, pointer: str) -> str:
        tokens = split_pointer(pointer)
        if len(tokens) != 1 or not _NAME.fullmatch(tokens[0]):
            problem = f"{pointer!r} is no name for a variable"
            raise refused(self._path, None, problem, "use letters, digits and '_', no digit first")
        if any(found.name == tokens[0] for found in self._script.assignments):
            raise refused(self._path, None, f"{tokens[0]} is assigned already", "set it instead")
        return tokens[0]

    def _text(self, value: Value, line: int | None) -> str:
        if isinstance(value, bool) or not isinstance(value, str | int | float):
            raise refused(self._path, line, "a variable holds a text, nothing else", "give a text")
        text = str(value)
        refuse_controls(text, self._path, line, "a word of a script")
        refuse_mixed(self.raw, text, self._path, line)
        return text

    def _whole_line(self, found: Assignment) -> tuple[int, int]:
        """The line of an assignment that stands alone on it."""
        start = self.raw.rfind(b"\n", 0, found.start) + 1
        word = self._read(found)
        before = self.raw[max(start, skip_bom(self.raw)) : found.start].strip()
        rest = _ONLY_COMMENT.match(self.raw, word.end) if word else None
        if rest is None or before not in (b"", b"export", b"readonly"):
            raise self._refuse(found.start, "more than this assignment stands on its line", "edit it by hand")
        return max(start, skip_bom(self.raw)), rest.end()

    def _insertion_place(self) -> tuple[int, bytes, bytes]:
        """Where a new assignment goes, a value to quote it like, and its indentation."""
        for found in reversed(self._script.assignments):
            if not found.is_calm:
                continue
            try:
                start, stop = self._whole_line(found)
            except ManifestError:
                continue
            indent = self.raw[start : found.start].removesuffix(self.raw[start : found.start].lstrip(b" \t"))
            return stop, self.raw[found.value : stop], indent
        at = skip_bom(self.raw)
        for line in split_lines(self.raw):
            if self.raw[line.start : line.start + 1] != b"#":
                break
            at = line.stop
        return at, b"", b""

    def _refuse(self, offset: int, problem: str, advice: str) -> ManifestError:
        return refused(self._path, self._table.number(offset), problem, advice)
