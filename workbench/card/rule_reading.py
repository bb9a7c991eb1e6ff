"""Reads one opened manifest by the rules that hold for it: which texts name an entry, and where in them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping

from workbench.card.command_words import CommandWord, split_command
from workbench.card.entry import Entry
from workbench.card.entry_set import EntrySet
from workbench.card.path_hit import PathHit
from workbench.card.path_rule import PathRule
from workbench.card.path_text import NOWHERE
from workbench.card.paths import VolumePath
from workbench.card.profile import NamesRule, ReferenceRule
from workbench.card.reference import Coding, Piece, Reference
from workbench.card.roster import is_same_name
from workbench.card.text_form import TextForm, key_form, read_form
from workbench.late_pattern import late_pattern
from workbench.manifests.document import Document, Format, Node, Role
from workbench.manifests.opening import find_matching
from workbench.manifests.selector import Selector, split_pointer
from workbench.typed import NamedTuple

RuleWithBindings = tuple[ReferenceRule, Mapping[str, str]]

_KEYS: frozenset[Role] = frozenset(("key", "section"))
_EVERY_LINE = Selector.parse("/#line")
_TEXT_ROLES: dict[Format, frozenset[Role]] = {"shell": frozenset(("word", "assignment"))}
"""Of a rule without `at`: text of a heredoc is no word."""
_SPLITTING = late_pattern(r"[\s\"']")
_COMMENT = late_pattern(r"\s+[;#]")
_NEXT_WORD = late_pattern(r"\s+\w")


class NodeHit(NamedTuple):
    """One place in a manifest that names an entry, or could name several."""

    node: Node
    entries: tuple[Entry, ...]
    kind: str
    start: int
    end: int
    """Characters of the node's text; both `NOWHERE` where the name is not in the text itself."""
    piece: Piece
    before: str = ""
    after: str = ""
    coding: Coding = "plain"

    def reference(self, at: VolumePath) -> Reference:
        """The reference that it is, once there is no doubt about the entry."""
        return Reference(
            at,
            self.node.line,
            self.kind,
            self.node.text,
            self.start,
            self.end,
            self.piece,
            self.node,
            self.coding,
            self.before,
            self.after,
        )


class RuleReader:
    """Reads manifests for the entries of one menu rule."""

    def __init__(self, entries: EntrySet, paths: PathRule, label_files: frozenset[VolumePath]) -> None:
        self._entries = entries
        self._paths = paths
        self._label_files = label_files
        self._forms: dict[int, TextForm] = {}

    def read(
        self,
        document: Document,
        rules: Iterable[RuleWithBindings],
        manifest: VolumePath,
        could_name: Callable[[str], bool],
    ) -> list[NodeHit]:
        """Every hit in document order; a place under several rules counts once, under the first that fits.

        Args:
            could_name: a cheap look at a text, False where it cannot name what is wanted.
        """
        taken: dict[tuple[int, int], list[NodeHit]] = {}
        has_labels = manifest in self._label_files
        for rule, bindings in rules:
            form = self._form(rule)
            read = self._read_value if rule.format in ("ini", "keyvalue") else self._read_node
            for node in _nodes(document, rule, could_name):
                if has_labels and self._is_label(document, node, rule, manifest):
                    continue
                hits = read(node, rule, form, bindings, manifest)
                if hits:
                    here = taken.setdefault((node.start, node.end), hits)
                    if here is not hits:
                        here += [hit for hit in hits if not _overlaps(hit, here)]
        return [hit for span in sorted(taken) for hit in _in_order(taken[span])]

    def _read_value(
        self, node: Node, rule: ReferenceRule, form: TextForm, file: Mapping[str, str], manifest: VolumePath
    ) -> list[NodeHit]:
        """As `_read_node`, of INI or key=value: also the part before what many devices take for a comment."""
        hits = self._read_node(node, rule, form, file, manifest)
        comment = _COMMENT.search(node.text)
        if comment is None or node.role in _KEYS or any(hit.coding != "command" for hit in hits):
            return hits
        before = node._replace(text=node.text[: comment.start()])
        cut = self._read_node(before, rule, form, file, manifest)
        return [hit._replace(node=node) for hit in cut] or hits

    def _read_node(
        self, node: Node, rule: ReferenceRule, form: TextForm, file: Mapping[str, str], manifest: VolumePath
    ) -> list[NodeHit]:
        text, parent = node.text, None
        if form.pattern is None:
            start, end = 0, len(text)
            if not end:
                return []
        else:
            fit = form.match(text)
            if fit is None:
                return []
            start, end, parent = fit.start, fit.end, fit.parent
        is_bare = not (file or rule.names_key or parent)
        bindings = (
            node.bindings if is_bare else _agree(file, node, parent, rule.names_key, self._entries.names)
        )
        if bindings is None:
            return []
        if form.wanted == "path":
            return self._read_path(node, start, end, bindings, manifest)
        found = self._entries.find(form.wanted, text[start:end], bindings)
        return [NodeHit(node, found, node.role, start, end, form.wanted)] if found else []

    def _form(self, rule: ReferenceRule) -> TextForm:
        # By identity: the rules live as long as their menu, and comparing them costs more than the form.
        form = self._forms.get(id(rule))
        if form is None:
            is_key = rule.names_key and rule.at is not None
            form = (
                key_form(rule.at.tokens[-1], self._entries.names)  # type: ignore[union-attr]
                if is_key
                else read_form(rule.is_, self._entries.names)
            )
            self._forms[id(rule)] = form
        return form

    def _read_path(
        self, node: Node, start: int, end: int, bindings: Mapping[str, str], manifest: VolumePath
    ) -> list[NodeHit]:
        hit = self._paths.find(node.text, start, end, manifest)
        if hit is not None:
            return (
                []
                if _is_bare_word(node)
                else self._confirm(node, hit, hit.start, hit.end, hit.coding, bindings)
            )
        if _SPLITTING.search(node.text, start, end):
            return self._read_command(node, start, end, bindings, manifest)
        return []

    def _read_command(
        self, node: Node, first: int, last: int, bindings: Mapping[str, str], manifest: VolumePath
    ) -> list[NodeHit]:
        """Paths among the words of a command that the text holds."""
        hits: list[NodeHit] = []
        command = node.text[first:last]
        for word in split_command(command):
            if "/" not in word.text:
                continue
            hit = self._paths.find(word.text, 0, len(word.text), manifest)
            if hit is None or hit.start < 0 or _may_go_on(command, word, hit):
                continue
            start, end = first + word.starts[hit.start], first + word.ends[hit.end - 1]
            coding: Coding = "percent" if hit.coding == "percent" else "command"
            hits += self._confirm(node, hit, start, end, coding, bindings)
        return hits

    def _confirm(
        self, node: Node, hit: PathHit, start: int, end: int, coding: Coding, bindings: Mapping[str, str]
    ) -> list[NodeHit]:
        entries = self._entries.choose(hit.entries, bindings)
        if not entries:
            return []
        return [NodeHit(node, entries, "path", start, end, hit.piece, hit.before, hit.after, coding)]

    def _is_label(self, document: Document, node: Node, rule: ReferenceRule, manifest: VolumePath) -> bool:
        """Whether the text is what the device shows for an entry: a person's words, not a reference."""
        label = self._entries.rule.label
        if manifest not in self._label_files or label is None or label.format != document.format:
            return False
        if node.role in _KEYS or (rule.at is not None and rule.at.source == label.at.source):
            return False
        return label.at.match(split_pointer(node.pointer)) is not None


def _nodes(document: Document, rule: ReferenceRule, could_name: Callable[[str], bool]) -> Iterator[Node]:
    if rule.at is None:
        at = _EVERY_LINE if document.format == "lines" else None
        roles = _TEXT_ROLES.get(document.format)
        found = find_matching(document, at, could_name)
        return found if roles is None else (node for node in found if node.role in roles)
    found = find_matching(document, rule.at, could_name, keys=rule.names_key)
    return (node for node in found if (node.role in _KEYS) == rule.names_key)


def _in_order(hits: list[NodeHit]) -> list[NodeHit]:
    return hits if len(hits) == 1 else sorted(hits, key=lambda hit: hit.start)


def _agree(
    file: Mapping[str, str], node: Node, parent: str | None, names_key: bool, names: NamesRule
) -> Mapping[str, str] | None:
    """What the placeholders of file, selector and form stand for; None where they contradict each other."""
    bound = dict(node.bindings)
    if names_key:
        bound.pop("entry", None)
        bound.pop("stem", None)
    if parent is not None:
        bound.setdefault("parent", parent)
    if not all(is_same_name(file[name], value, names) for name, value in bound.items() if name in file):
        return None
    return {**file, **bound}


def _is_bare_word(node: Node) -> bool:
    """A word of a script without a slash is a command, an option or a text, not a path.

    An assignment may carry a name into a path: that is found out by trying (`script_probe`).
    """
    return node.role in ("word", "assignment") and "/" not in node.text


def _may_go_on(command: str, word: CommandWord, hit: PathHit) -> bool:
    """Whether an unquoted name may go on after the space that ends the word: `…/Boats 3` is no `Boats`."""
    ends_word = hit.end + len(hit.after) >= len(word.text)
    return ends_word and word.quotes[-1] == " " and _NEXT_WORD.match(command, word.end) is not None


def _overlaps(hit: NodeHit, others: Iterable[NodeHit]) -> bool:
    return any(
        hit.start == other.start == NOWHERE or (hit.start < other.end and other.start < hit.end)
        for other in others
    )
