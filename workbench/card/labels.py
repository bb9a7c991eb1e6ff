"""What the device shows for its entries, read from the manifests that say so: each is opened once."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from workbench.card.entry import Entry, Menu
from workbench.card.entry_set import EntrySet
from workbench.card.name_index import index_names
from workbench.card.path_rule import PathRule
from workbench.card.paths import VolumePath
from workbench.card.profile import FilePattern, LabelRule, Profile
from workbench.card.ruled_files import find_files
from workbench.card.text_form import read_form
from workbench.card.tree import Tree
from workbench.errors import CardError, ManifestError
from workbench.manifests.document import Document, Node
from workbench.manifests.selector import Selector
from workbench.values import dataclass

Labels = dict[VolumePath, str]


@dataclass(frozen=True, slots=True)
class LabelPlace:
    """Where the label of one entry stands in one manifest, or would stand."""

    at: VolumePath
    document: Document
    node: Node | None
    """None where there is no text yet."""
    pointer: str


def find_label_places(tree: Tree, profile: Profile, menu: Menu, entry: Entry) -> tuple[LabelPlace, ...]:
    """Every place for an entry's label; the device heeds the first that has a text.

    Raises:
        ManifestError: a file that could hold it is malformed.
        CardError: the file is not there.
    """
    from workbench.card.menu import read_rule_menus

    if menu.rule.label is None:
        return ()
    menus = read_rule_menus(tree, profile, menu.rule, labels=False)
    reader = LabelReader(tree, profile, EntrySet(menu.rule, menus, profile))
    return tuple(reader.find_places(menu.rule.label, entry))


class LabelReader:
    """Reads the labels of one menu rule's entries."""

    def __init__(self, tree: Tree, profile: Profile, entries: EntrySet) -> None:
        self._tree = tree
        self._profile = profile
        self._entries = entries
        self._paths = PathRule(tree, profile, entries)
        self.errors: dict[str | None, ManifestError] = {}
        """The first manifest that cannot be read, by what `{parent}` stood for in its path."""

    def read(self, rule: LabelRule) -> Labels:
        """Labels by the entry's place; where several files give one, the first by path counts."""
        labels: Labels = {}
        for at, bindings in self._find_files(rule.file):
            document = self._open(at, rule, bindings)
            if document is not None:
                for entry_at, node in self._read_document(document, rule, bindings, at):
                    labels.setdefault(entry_at, node.text)
        return labels

    def find_places(self, rule: LabelRule, entry: Entry) -> Iterator[LabelPlace]:
        """Where one entry's label stands, or could be put: at most one place in each file, by path.

        Raises:
            ManifestError: a file that could hold it is malformed.
            CardError: a file that the rule names is not there.
        """
        from workbench.manifests.opening import open_document

        for at, bindings in self._find_files(rule.file):
            if not self._entries.agrees(entry, bindings):
                continue
            raw = self._tree.read(at)
            document = open_document(raw, rule.format, str(at), self._profile.variables)
            nodes = self._read_document(document, rule, bindings, at)
            node = next((node for entry_at, node in nodes if entry_at == entry.at), None)
            pointer = node.pointer if node else self._free_pointer(document, rule, bindings, at, entry)
            if pointer is not None:
                yield LabelPlace(at, document, node, pointer)

    def _free_pointer(
        self,
        document: Document,
        rule: LabelRule,
        bindings: Mapping[str, str],
        manifest: VolumePath,
        entry: Entry,
    ) -> str | None:
        """Where the label of an entry that has none would be read."""
        if rule.key is not None:
            for node in document.find(rule.key):
                if entry.at in self._named(node, rule, bindings, manifest):
                    return rule.at.fill({**bindings, **node.bindings})
            return None
        parent = self._entries.parent_of(entry)
        known = {
            "entry": entry.name,
            "stem": entry.stem,
            **({"parent": parent} if parent else {}),
            **bindings,
        }
        for size, token in enumerate(rule.at.tokens, 1):
            if token.name in ("entry", "stem"):
                for node in document.find(Selector(rule.at.source, rule.at.tokens[:size])):
                    if node.role in ("key", "section") and entry.at in self._bound(bindings, node.bindings):
                        known |= node.bindings
        return rule.at.fill(known)

    def _find_files(self, pattern: FilePattern) -> list[tuple[VolumePath, Mapping[str, str]]]:
        if pattern.is_plain:
            return [(VolumePath(pattern.volume, pattern.path), {})]
        names = self._profile.volumes[pattern.volume].names
        return sorted(find_files(index_names(self._tree), pattern, names), key=lambda found: found[0])

    def _open(self, at: VolumePath, rule: LabelRule, bindings: Mapping[str, str]) -> Document | None:
        from workbench.manifests.opening import open_document

        try:
            return open_document(self._tree.read(at), rule.format, str(at), self._profile.variables)
        except CardError:
            # No such file: nothing gives labels there, names are shown.
            return None
        except ManifestError as error:
            self.errors.setdefault(bindings.get("parent"), error)
            return None

    def _read_document(
        self, document: Document, rule: LabelRule, bindings: Mapping[str, str], manifest: VolumePath
    ) -> Iterable[tuple[VolumePath, Node]]:
        texts = (node for node in document.find(rule.at) if node.role not in ("key", "section"))
        if rule.key is None:
            for node in texts:
                for entry_at in self._bound(bindings, node.bindings):
                    yield entry_at, node
            return
        shared = _shared_names(rule.at, rule.key)
        named: dict[tuple[str, ...], list[VolumePath]] = {}
        for node in document.find(rule.key):
            for entry_at in self._named(node, rule, bindings, manifest):
                named.setdefault(_pick(node, shared), []).append(entry_at)
        for node in texts:
            for entry_at in named.get(_pick(node, shared), ()):
                yield entry_at, node

    def _bound(self, file: Mapping[str, str], bound: Mapping[str, str]) -> list[VolumePath]:
        """The entries that the placeholders themselves name."""
        both = {**file, **bound}
        if any(bound.get(name, value) != value for name, value in file.items()):
            return []
        if "entry" in both:
            return [entry.at for entry in self._entries.find("entry", both["entry"], both)]
        if "stem" in both:
            return [entry.at for entry in self._entries.find("stem", both["stem"], both)]
        return []

    def _named(
        self, node: Node, rule: LabelRule, bindings: Mapping[str, str], manifest: VolumePath
    ) -> list[VolumePath]:
        """The entries that a text under the rule's `key` names."""
        form = read_form(rule.is_, self._entries.names)
        fit = form.match(node.text)
        if fit is None:
            return []
        if form.wanted == "path":
            hit = self._paths.find(node.text, fit.start, fit.end, manifest)
            return [entry.at for entry in hit.entries] if hit is not None else []
        both = {**bindings, **node.bindings}
        if fit.parent is not None:
            both["parent"] = fit.parent
        found = self._entries.find(form.wanted, node.text[fit.start : fit.end], both)
        return [entry.at for entry in found]


def _shared_names(one: Selector, other: Selector) -> tuple[str, ...]:
    names = {token.name for token in one.tokens if token.name}
    return tuple(sorted(names & {token.name for token in other.tokens if token.name}))


def _pick(node: Node, names: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(node.bindings.get(name, "") for name in names)
