"""Finds the words and assignments of a shell script. tree-sitter-bash says where they are; heredoc bodies and
comments hold none. The walk is iterative: no script is too deep for it.

The grammar is bash's and forgiving, so a place is only reported where no error of the tree touches its line.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from typing import TYPE_CHECKING, NamedTuple

from workbench.late_pattern import late_pattern
from workbench.manifests.byte_lines import decode
from workbench.values import dataclass, field

if TYPE_CHECKING:
    from tree_sitter import Node as TreeNode
    from tree_sitter import Parser, Tree


def _kinds(names: str) -> frozenset[str]:
    return frozenset(names.split())


_WORDS = _kinds(
    "word string raw_string concatenation simple_expansion expansion number command_substitution "
    "arithmetic_expansion extglob_pattern brace_expression ansi_c_string translated_string"
)
_OPAQUE = _kinds(
    "simple_expansion expansion command_substitution arithmetic_expansion process_substitution "
    "ansi_c_string translated_string"
)
_SKIPPED = _kinds(
    "comment heredoc_start heredoc_body heredoc_end herestring_redirect regex process_substitution "
    "arithmetic_expansion array subscript c_style_for_statement file_descriptor"
)
_NOTED = _WORDS | _SKIPPED | _kinds("variable_assignment variable_name ERROR")
_CALM = frozenset({"program", "variable_assignments", "declaration_command"})
"""Kinds whose assignments are carried out whenever the script gets there."""
_CHANGERS = frozenset({b"read", b"getopts", b"unset", b"eval", b"readarray", b"mapfile"})
_LOCAL = frozenset({b"local", b"declare", b"typeset", b"unset", b"for", b"select"})
_DEFAULT = late_pattern(rb"\$\{([A-Za-z_][A-Za-z0-9_]*):?=")
_EXPANDS = late_pattern(rb"[$`]|[<>]\(")
_NAME = late_pattern(rb"[A-Za-z_][A-Za-z0-9_]*")
_BEFORE_WORD = b" \t\r\n;&|()<>`"


class Place(NamedTuple):
    """Where a word starts."""

    start: int
    is_command: bool = False
    in_backticks: bool = False


class Assignment(NamedTuple):
    name: str
    start: int
    """Of the name; the value starts after its `=`."""
    value: int
    is_calm: bool
    """Whether it always takes place: at top level, and not for one command alone (`A=1 run`)."""
    in_backticks: bool = False


@dataclass(slots=True)
class Script:
    """What a walk over the tree found, in document order."""

    words: list[Place] = field(default_factory=list)
    assignments: list[Assignment] = field(default_factory=list)
    opaque: dict[int, int] = field(default_factory=dict)
    """Start to end of everything that expands."""
    changed: set[str] = field(default_factory=set)
    """Variables that something other than an assignment changes (`read`, `for`, `unset` …)."""
    names: list[tuple[int, int]] = field(default_factory=list)
    """Spans where a variable is named."""
    errors: list[tuple[int, int]] = field(default_factory=list)
    """Spans that the grammar could not read."""


@cache
def _parser() -> Parser:
    import tree_sitter
    import tree_sitter_bash

    return tree_sitter.Parser(tree_sitter.Language(tree_sitter_bash.language()))


def read_script(raw: bytes) -> Script:
    """Words, assignments and what is in their way."""
    tree: Tree = _parser().parse(raw)
    script = Script()
    if tree.root_node.has_error:
        script.errors += _missing(tree.root_node)
    waiting = [(tree.root_node, False)]
    while waiting:
        root, in_backticks = waiting.pop()
        waiting += _Walk(raw, script, in_backticks).over(root)
    script.words.sort(key=lambda place: place.start)
    script.assignments.sort(key=lambda found: found.start)
    _note_changed(raw, script)
    return script


def _missing(root: TreeNode) -> Iterator[tuple[int, int]]:
    """Where the grammar had to think up a token to go on."""
    waiting = [root]
    while waiting:
        node = waiting.pop()
        if node.is_missing:
            yield node.start_byte, node.end_byte
        elif node.has_error:
            waiting += node.children


class _Walk:
    """One walk below one node; substitutions within words are handed back, to be walked for themselves."""

    def __init__(self, raw: bytes, script: Script, in_backticks: bool) -> None:
        self._raw = raw
        self._script = script
        self._in_backticks = in_backticks
        self._nested: list[tuple[TreeNode, bool]] = []

    def over(self, root: TreeNode) -> list[tuple[TreeNode, bool]]:
        cursor = root.walk()
        kinds = [root.type]
        if not cursor.goto_first_child():
            return self._nested
        while True:
            node = cursor.node
            assert node is not None
            kind = node.type
            if (kind not in _NOTED or self._note(node, kind, kinds)) and cursor.goto_first_child():
                kinds.append(kind)
                continue
            while not cursor.goto_next_sibling():
                cursor.goto_parent()
                kinds.pop()
                if not kinds:
                    return self._nested

    def _note(self, node: TreeNode, kind: str, kinds: list[str]) -> bool:
        """Take notes of a node; whether its children are to be visited."""
        if kind in _WORDS:
            self._take_word(node, kinds[-1])
        elif kind == "variable_assignment":
            self._take_assignment(node, kinds)
        elif kind == "variable_name":
            self._take_name(node, kinds[-1])
        elif kind == "ERROR":
            self._script.errors.append((node.start_byte, node.end_byte))
        else:
            if kind == "process_substitution":
                self._script.opaque[node.start_byte] = node.end_byte
            self._look_inside(node, is_text=True)
        return False

    def _take_word(self, node: TreeNode, parent: str) -> None:
        start = _true_start(self._raw, node.start_byte)
        if parent != "function_definition" and is_word_start(self._raw, start):
            self._script.words.append(Place(start, parent == "command_name", self._in_backticks))
        self._look_inside(node)

    def _take_assignment(self, node: TreeNode, kinds: list[str]) -> None:
        name = node.child_by_field_name("name")
        value = node.child_by_field_name("value")
        if name is None or name.type != "variable_name" or (value is not None and value.type == "array"):
            if name is not None:
                self._script.changed.add(decode(_first_name(self._raw, name.start_byte)))
            return
        if not _NAME.fullmatch(self._raw, name.start_byte, name.end_byte):  # `1a=b` is a command
            self._take_word(node, kinds[-1])
            return
        self._script.names.append((name.start_byte, name.end_byte))
        is_calm = (
            all(kind in _CALM for kind in kinds) and self._raw[name.end_byte : name.end_byte + 1] == b"="
        )
        text = decode(self._raw[name.start_byte : name.end_byte])
        start = name.end_byte + 1
        self._script.assignments.append(Assignment(text, name.start_byte, start, is_calm, self._in_backticks))
        if value is not None:
            self._look_inside(value)

    def _take_name(self, node: TreeNode, parent: str) -> None:
        span = (node.start_byte, node.end_byte)
        self._script.names.append(span)
        if parent in ("for_statement", "unset_command", "declaration_command"):
            line = self._raw[: node.start_byte].rpartition(b"\n")[2].split()
            if parent != "declaration_command" or _LOCAL & set(line):
                self._script.changed.add(decode(self._raw[span[0] : span[1]]))

    def _look_inside(self, node: TreeNode, *, is_text: bool = False) -> None:
        """Note what expands within a word; what a substitution runs is walked later, save within a text."""
        if not _EXPANDS.search(self._raw, node.start_byte, node.end_byte):
            return
        waiting = [node]
        while waiting:
            one = waiting.pop()
            kind = one.type
            if kind in _OPAQUE:
                self._script.opaque.setdefault(one.start_byte, one.end_byte)
            if kind == "variable_name":
                self._script.names.append((one.start_byte, one.end_byte))
            elif kind == "command_substitution" and not is_text:
                is_old = self._raw[one.start_byte : one.start_byte + 1] == b"`"
                self._nested.append((one, self._in_backticks or is_old))
            elif kind == "ERROR" or one.is_missing:
                self._script.errors.append((one.start_byte, one.end_byte))
            else:
                waiting += one.children


def _first_name(raw: bytes, start: int) -> bytes:
    found = _NAME.match(raw, start)
    return found[0] if found else b""


def _note_changed(raw: bytes, script: Script) -> None:
    """Variables that a command of the shell's own, a default or arithmetic may set."""
    is_changer = False
    for place in script.words:
        word = raw[place.start : place.start + 80]
        if place.is_command:
            is_changer = bool((found := _NAME.match(word)) and found[0] in _CHANGERS)
        elif is_changer:
            script.changed |= {decode(name) for name in _NAME.findall(word.partition(b"\n")[0])}
    script.changed |= {decode(found[1]) for found in _DEFAULT.finditer(raw)}
    for found in re.finditer(rb"\$\(\((.*?)\)\)", raw, re.DOTALL):
        if re.search(rb"\+\+|--|(?<![=!<>])=(?!=)", found[1]):
            script.changed |= {decode(name) for name in _NAME.findall(found[1])}


def _true_start(raw: bytes, start: int) -> int:
    """Where a word really starts: the grammar passes over escaped blanks at its front.

    It also makes two words of `'a'\\$b"c"`; what it takes for the second starts no word.
    """
    while start > 1 and raw[start - 1] in _BEFORE_WORD and not is_word_start(raw, start):
        start -= 2
    return start


def is_word_start(raw: bytes, start: int) -> bool:
    """Whether a word can start here: the byte before ends whatever stood there, and is not escaped."""
    if start == 0 or raw[start - 1] not in _BEFORE_WORD:
        return start == 0
    if start < 2 or raw[start - 2] != 0x5C:
        return True
    before = raw[max(0, start - 64) : start - 1]
    return (len(before) - len(before.rstrip(b"\\"))) % 2 == 0


def error_lines(raw: bytes, script: Script) -> Iterator[tuple[int, int]]:
    """Byte spans of the whole lines that errors touch."""
    for start, end in script.errors:
        stop = raw.find(b"\n", max(start, end - 1))
        yield raw.rfind(b"\n", 0, start) + 1, len(raw) if stop < 0 else stop + 1
