"""A manifest is a byte string with spans. An edit replaces spans; every other byte stays.

Each format's module gives a `Document`: it judges the bytes once when opened, finds nodes, and answers
wishes with `Edit`s for `apply_edits`. Nothing here reads or writes files.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from types import MappingProxyType

from workbench.manifests.selector import Selector
from workbench.typed import Any, Literal, NamedTuple, Protocol
from workbench.values import dataclass

Format = Literal["json", "toml", "ini", "keyvalue", "shell", "xml", "lines"]

Role = Literal["key", "value", "section", "word", "assignment", "line", "attribute", "text"]

Value = Any
"""Plain data: None, bool, int, float, str, list, dict (dates of TOML stay what tomllib gives)."""

MAX_BYTES = 8 * 1024 * 1024
MAX_DEPTH = 512

_NO_BINDINGS: Mapping[str, str] = MappingProxyType({})


class Edit(NamedTuple):
    """Replace bytes `start:end` of the document it was made for by `new`."""

    start: int
    end: int
    new: bytes


def anything(_text: str) -> bool:
    """As a `could_match`: no text is left out, and nobody needs to ask."""
    return True


def apply_edits(raw: bytes, edits: Iterable[Edit]) -> bytes:
    """The bytes with every edit made.

    Raises:
        ValueError: edits overlap or lie outside.
    """
    pieces: list[bytes] = []
    done = 0
    for edit in sorted(edits):
        if not done <= edit.start <= edit.end <= len(raw):
            raise ValueError(f"edit {edit.start}:{edit.end} overlaps another or lies outside")
        pieces += raw[done : edit.start], edit.new
        done = edit.end
    return b"".join((*pieces, raw[done:]))


class Node(NamedTuple):
    """One place in a document that holds a text: a key, a string, a word, a line …

    A tuple, as an edit is: thousands are made of one manifest.
    """

    pointer: str
    """JSON Pointer (RFC 6901) to the value; for a key, the pointer of its value."""
    role: Role
    text: str
    """Decoded: escapes, entities and quotes undone; shell variables with a known value put in."""
    start: int
    end: int
    """Span in the raw bytes, quotes included."""
    line: int
    """1-based."""
    bindings: Mapping[str, str] = _NO_BINDINGS
    """What the selector's placeholders stood for on the way here."""
    detail: Any = None
    """The format module's own notes for `replace_part`; opaque to everyone else."""


class Document(Protocol):
    """A well-formed manifest of one format."""

    format: Format
    raw: bytes

    def find(self, at: Selector | None) -> Iterator[Node]:
        """The nodes that the selector matches, in document order; with None, every node that holds text."""
        ...

    def get(self, pointer: str) -> Value:
        """The plain data at a pointer; `ManifestError` where there is none."""
        ...

    def line_of(self, pointer: str) -> int:
        """The 1-based line where the value at that pointer starts."""
        ...

    def replace_part(self, node: Node, start: int, end: int, text: str) -> Edit | None:
        """Put `text` in place of characters `start:end` of `node.text`, encoded for exactly that context.

        Bytes outside those characters stay (an escaped slash elsewhere in the string too), save where the
        context's quoting has to change to hold the text. None where the characters do not stand literally
        in the document (they come from a variable).

        Raises:
            ManifestError: the format cannot hold this text there (a newline in a plain line, say).
        """
        ...

    def set(self, pointer: str, value: Value) -> Sequence[Edit]:
        """Edits that make `get(pointer)` equal `value`; the place must exist."""
        ...

    def insert(self, pointer: str, value: Value) -> Sequence[Edit]:
        """Edits that add a member (last token: key, index or `-`), in the style of its neighbours."""
        ...

    def delete(self, pointer: str) -> Sequence[Edit]:
        """Edits that take the member out with its own comment lines and separator."""
        ...

    def rename_key(self, pointer: str, key: str) -> Sequence[Edit]:
        """Edits that give the member at `pointer` another key (a section another name)."""
        ...


@dataclass(frozen=True, slots=True)
class Mend:
    """A proposed repair of a malformed manifest. Never made without consent."""

    reason: str
    """What is wrong and what the repair does, in a sentence."""
    line: int
    edits: tuple[Edit, ...]
