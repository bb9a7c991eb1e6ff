"""What the device shows for its entries, read from the manifests that say so: each is opened once."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

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

Labels = dict[VolumePath, str]


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
                for entry_at, text in self._read_document(document, rule, bindings, at):
                    labels.setdefault(entry_at, text)
        return labels

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
    ) -> Iterable[tuple[VolumePath, str]]:
        texts = (node for node in document.find(rule.at) if node.role not in ("key", "section"))
        if rule.key is None:
            for node in texts:
                for entry_at in self._bound(bindings, node.bindings):
                    yield entry_at, node.text
            return
        shared = _shared_names(rule.at, rule.key)
        named: dict[tuple[str, ...], list[VolumePath]] = {}
        for node in document.find(rule.key):
            for entry_at in self._named(node, rule, bindings, manifest):
                named.setdefault(_pick(node, shared), []).append(entry_at)
        for node in texts:
            for entry_at in named.get(_pick(node, shared), ()):
                yield entry_at, node.text

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
