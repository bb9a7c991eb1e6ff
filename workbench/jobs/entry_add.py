"""Adds an empty entry, registered wherever a neighbour is, with that neighbour's start script as its pattern.

Nothing is made up: what a row or a script says comes from one neighbour, with the names replaced, and the
plan says from which. What would lead nowhere is left out; files that have to be there are made empty.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

from workbench.card.globs import matches_any
from workbench.card.menu import Entry, Menu, read_rule_menus
from workbench.card.names import check_free, check_name
from workbench.card.paths import VolumePath
from workbench.card.profile import Profile
from workbench.card.reference import ManifestReferences, Reference
from workbench.card.references import find_references, rewrite
from workbench.card.rewriting import replace_text
from workbench.card.tree import Tree
from workbench.changes.plan import Conflict, MakeFolder, Plan, Step, Write
from workbench.errors import CardError, CardwrightError, EntryError, ManifestError, NameRefusedError
from workbench.jobs.label import plan_label
from workbench.jobs.leading import find_place
from workbench.jobs.naming import Naming
from workbench.jobs.neighbour import choose_neighbour
from workbench.jobs.placing import put_text
from workbench.jobs.registering import Fate, NewEntry, add_row, list_registrations, new_entry
from workbench.jobs.rename import note_doubts, say_blocked
from workbench.jobs.reworking import Reworked
from workbench.jobs.rows import Row, is_bare
from workbench.manifests.document import Document
from workbench.manifests.selector import split_pointer
from workbench.shown import shown
from workbench.values import replace


def plan_add(
    tree: Tree,
    profile: Profile,
    menu: Menu,
    name: str,
    *,
    like: Entry | None = None,
    label: str | None = None,
) -> Plan:
    """The plan that adds an empty entry, registered wherever its neighbours are.

    Args:
        like: the neighbour to follow; None for the one that is most like the others.
        label: what the device shows for it, where it shows labels; None for its name.

    Raises:
        NameRefusedError: the name would not survive on the card, or is taken; with a suggestion.
        EntryError: the menu's folder is not there, or the device would not list that name.
    """
    check_added_name(tree, profile, menu, name)
    naming = Naming(tree, profile, menu)
    neighbour = like or choose_neighbour(naming, with_labels(tree, profile, menu))
    adding = Adding(tree, profile, menu, neighbour, new_entry(menu, name, label), naming)
    if neighbour is None:
        plan = Plan(f"Add {name}", tuple(adding.steps), notes=("The menu has no other entry to follow.",))
        labelled = with_label(tree, profile, menu, plan, new_entry(menu, name, label))
        return labelled.wished("add", entry=name, menu=menu.id, label=label)
    found = find_references(tree, profile, menu, neighbour, mentions=False)
    adding.fill(found.manifests)
    for manifest in found.manifests:
        if not adding.is_inside(manifest.at):
            adding.register(manifest)
    plan = Plan(
        title=f"Add {name}",
        steps=(*adding.steps, *adding.writes),
        conflicts=(*(say_blocked(tree, blocked) for blocked in found.blocked), *adding.conflicts),
        notes=(*adding.say(), *note_doubts(found, neighbour.name)),
    )
    return plan.wished(
        "add", entry=name, menu=menu.id, label=label, like=like.name if like is not None else None
    )


def with_labels(tree: Tree, profile: Profile, menu: Menu) -> Menu:
    """The menu as it says which of its entries have labels."""
    if menu.rule.label is None or any(entry.has_label for entry in menu.entries):
        return menu
    menus = read_rule_menus(tree, profile, menu.rule, labels=True)
    return next((one for one in menus if one.id == menu.id), menu)


def with_label(tree: Tree, profile: Profile, menu: Menu, plan: Plan, new: NewEntry) -> Plan:
    """The first entry of a menu gets its label where labels are kept: more is not known of its rows."""
    after = plan.on(tree)
    menus = read_rule_menus(after, profile, menu.rule, labels=False)
    added = [(one, entry) for one in menus for entry in one.entries if entry.at == menu.root.child(new.name)]
    try:
        labelled = plan_label(after, profile, *added[0], new.label or new.name)
    except CardwrightError:
        return replace(plan, notes=(*plan.notes, "Nothing registers it."))
    return replace(plan.then(labelled), title=plan.title)


def check_added_name(tree: Tree, profile: Profile, menu: Menu, name: str) -> None:
    """Refuse a name that the card could not keep, that is taken, or that the device would not list."""
    if menu.is_missing:
        raise EntryError(
            f"there is no folder {menu.root} on this card, so nothing can be added to the menu "
            f"{shown(menu.id)}; nothing was changed",
            path=str(menu.root),
        )
    rule, limit = profile.volumes[menu.root.volume].names, menu.rule.prefix.limit
    check_name(name, rule, limit)
    check_free(name, [item.name for item in tree.list(menu.root)], rule, limit)
    if matches_any(name, menu.rule.hide, fold=rule == "fat"):
        raise NameRefusedError(
            f"the device hides names such as {shown(name)!r}, so the entry would not be listed; "
            "nothing was changed.",
            path=str(menu.root),
        )
    if menu.rule.entries == "files" and not matches_any(name, menu.rule.match, fold=rule == "fat"):
        suffixes = Counter(entry.name[len(entry.stem) :] for entry in menu.entries)
        usual = suffixes.most_common(1)[0][0] if suffixes else menu.rule.match[0].lstrip("*")
        raise EntryError(
            f"the device lists only files such as {', '.join(menu.rule.match)} in the menu {shown(menu.id)}, "
            f"and {shown(name)!r} is none; nothing was changed. Try {shown(name + usual)!r}.",
            path=str(menu.root),
        )


_EMPTY_FORMATS = ("ini", "keyvalue", "lines", "toml")
"""In these an empty file is well formed."""


class Adding:
    """Gathers what an addition does."""

    def __init__(
        self,
        tree: Tree,
        profile: Profile,
        menu: Menu,
        neighbour: Entry | None,
        new: NewEntry,
        naming: Naming,
    ) -> None:
        self._tree = tree
        self._profile = profile
        self._menu = menu
        self._new = new
        self._naming = naming
        self._at = menu.root.child(new.name)
        self._neighbour = neighbour
        is_folder = menu.rule.entries == "folders"
        self.steps: list[Step] = [MakeFolder(self._at) if is_folder else Write(self._at, b"", None)]
        self._made = {self._at}
        self.writes: list[Write] = []
        self.conflicts: list[Conflict] = []
        self.notes: list[str] = []
        self._is_labelled = False
        self._patterns: list[str] = []
        self._empty: list[str] = []
        self._registered: list[str] = []
        self._dropped: list[str] = []

    def is_inside(self, at: VolumePath) -> bool:
        """Whether a place is the neighbour or in it."""
        return self._neighbour is not None and (at == self._neighbour.at or at.is_below(self._neighbour.at))

    # What is in the entry

    def fill(self, manifests: Sequence[ManifestReferences]) -> None:
        """Make the neighbour's own manifests again, and, empty, the files of its own that they name."""
        inside = {found.at: found for found in manifests if self.is_inside(found.at)}
        if self._menu.rule.entries == "files":
            return
        for at in sorted(self._naming.files()):
            if not self.is_inside(at):
                continue
            content = self._pattern(at, inside.get(at))
            if content is None:
                continue
            item = self._tree.stat(self._tree.resolve(at))
            self._make(self._mapped(at), content, item.mode if item is not None else None)
            self._patterns.append(str(at))
            for document in self._naming.documents(at):
                self._stand_in_for(at, (node.text for node in document.find(None)))

        self._prepare_menu()

    def _prepare_menu(self) -> None:
        """Where the new folder is a menu of its own, make that menu's manifests too, empty."""
        assert self._neighbour is not None
        for rule in self._profile.menus:
            if rule.root.path != f"{self._menu.rule.root.path}/{{parent}}":
                continue
            files = [(one.file, one.format) for one in rule.references]
            files += [(rule.label.file, rule.label.format)] if rule.label is not None else []
            for file, format in files:
                theirs = VolumePath(file.volume, file.path.replace("{parent}", self._neighbour.name))
                is_theirs = file.path.startswith(rule.root.path + "/") and "{entry}" not in file.path
                if format in _EMPTY_FORMATS and is_theirs and self._tree.stat(theirs) is not None:
                    if self._mapped(theirs) not in self._made:
                        self._empty.append(str(self._mapped(theirs)))
                    self._make(self._mapped(theirs), b"", None)

    def _pattern(self, at: VolumePath, found: ManifestReferences | None) -> bytes | None:
        if found is None:
            return self._tree.read(at)
        assert self._neighbour is not None
        try:
            return rewrite(self._tree, self._profile, found, self._neighbour, self._new.name)[0]
        except ManifestError as error:
            self.conflicts.append(Conflict(at, error.line, error.message))
            return None

    def _stand_in_for(self, manifest: VolumePath, texts: Iterable[str]) -> None:
        """Make empty what these texts name in the neighbour."""
        for text in texts:
            place = self._place(manifest, text) if text else None
            if place is not None and self.is_inside(place) and self._mapped(place) not in self._made:
                item = self._tree.stat(self._tree.resolve(place))
                if item is not None and item.kind == "file" and place not in set(self._naming.files()):
                    self._make(self._mapped(place), b"", None)
                    self._empty.append(str(self._mapped(place)))

    def _make(self, at: VolumePath, content: bytes, mode: int | None) -> None:
        if at in self._made:
            return
        folders: list[VolumePath] = []
        folder = at.parent
        while folder not in self._made and folder.is_below(self._at):
            folders.insert(0, folder)
            folder = folder.parent
        self.steps += [MakeFolder(one) for one in folders]
        self._made.update((*folders, at))
        self.steps.append(Write(at, content, None, mode=mode))

    def _mapped(self, at: VolumePath) -> VolumePath:
        """The same place in the new entry."""
        assert self._neighbour is not None
        rest = at.path[len(self._neighbour.at.path) :].lstrip("/")
        return self._at.child(rest) if rest else self._at

    # What registers it

    def register(self, found: ManifestReferences) -> None:
        """Make the neighbour's rows in one manifest again for the new entry."""

        def is_register(row: Row) -> bool:
            return self._naming.is_register(found.document, found.at, row)

        rows = [
            row
            for row in list_registrations(self._profile, found, is_register)
            if row.is_labelled or row.key is None or is_register(row)
        ]
        reworked = Reworked(found.document, self._tree.resolve(found.at), self._profile.variables)
        try:
            for row in rows:
                self._add(reworked, found, row)
        except ManifestError as error:
            self.conflicts.append(Conflict(found.at, error.line, error.message))
            return
        write = reworked.write()
        if write is not None:
            self.writes.append(write)
            self._registered.append(str(found.at))

    def _add(self, reworked: Reworked, found: ManifestReferences, row: Row) -> None:
        assert self._neighbour is not None
        fates: dict[int, Fate] = {}
        for number, reference in enumerate(found.references):
            if row.holds(reference.node.pointer):
                fates[number] = self._fate(found.at, reference)
                self._stand_in_for(found.at, [reference.text])
        others = self._naming.others(found.document, found.at, row, self._neighbour)
        dropped = [found.references[number].node.pointer for number, fate in fates.items() if fate == "drop"]
        self._dropped += [_name_field(row, pointer) for pointer in (*dropped, *others)]
        is_labelled = add_row(reworked, found, row, self._new, fates, others)
        self._is_labelled |= is_labelled
        if not is_labelled and row.key is not None and _holds_words(found.document, row):
            self._put_words(reworked, found, row)

    def _put_words(self, reworked: Reworked, found: ManifestReferences, row: Row) -> None:
        """A row that is nothing but a text says what the entry is called, in another tongue perhaps."""
        is_reference = any(
            one.node.pointer == row.pointer and one.node.role not in ("key", "section")
            for one in found.references
        )
        label = self._new.label
        if not is_reference and label is not None and row.key is not None:
            piece = self._new.pieces["stem" if row.key.name == "stem" else "entry"]
            key = row.key.before + piece + row.key.after
            pointer = row.pointer[: row.pointer.rindex("/") + 1] + key.replace("~", "~0").replace("/", "~1")
            reworked.do(lambda document: put_text(document, pointer, label))

    def _fate(self, manifest: VolumePath, reference: Reference) -> Fate:
        """A field that led somewhere outside the neighbour is left out where it would lead nowhere."""
        place = None if is_bare(reference) else self._place(manifest, reference.text)
        if place is None or self.is_inside(place):
            return "rename"
        start, end, part = replace_text([reference], lambda _: self._new.pieces)
        text = reference.text[:start] + part + reference.text[end:]
        return "rename" if self._place(manifest, text) is not None else "drop"

    def _place(self, manifest: VolumePath, text: str) -> VolumePath | None:
        try:
            return find_place(self._tree, self._profile, self._menu, manifest, text)
        except CardError:
            return None

    def say(self) -> list[str]:
        """What came from where, in sentences."""
        assert self._neighbour is not None
        name = shown(self._neighbour.name)
        notes = [*self.notes]
        if self._registered:
            label = f", shown as {shown(self._new.label or '')}" if self._is_labelled else ""
            notes.append(f"Registered as {name} is, in {', '.join(self._registered)}{label}.")
        else:
            notes.append("No manifest registers the entries of this menu.")
        if self._patterns:
            notes.append(f"Made after {', '.join(map(shown, self._patterns))}, with the names replaced.")
        if self._empty:
            notes.append(f"Empty, for you to fill: {', '.join(map(shown, self._empty))}.")
        if self._menu.rule.entries == "files":
            notes.append(f"{shown(str(self._at))} is an empty file, for you to fill.")
        if self._dropped:
            fields = ", ".join(dict.fromkeys(map(shown, self._dropped)))
            notes.append(f"Not taken over from {name}, since it would lead nowhere or to others: {fields}.")
        kinds = [rule.kind for rule in self._menu.rule.pictures]
        if kinds:
            notes.append(
                f"It has no {' and no '.join(dict.fromkeys(kinds))} yet: put one in from any picture."
            )
        if self._menu.order == "directory":
            notes.append("The device lists a folder in its own order: arrange sets where it stands.")
        return notes


def _holds_words(document: Document, row: Row) -> bool:
    """Whether a row is nothing but a text that says what its entry is called: all such rows say another."""
    value, beside = document.get(row.pointer), document.get(row.pointer[: row.pointer.rindex("/")])
    if not isinstance(value, str) or not any(map(str.isalpha, value)) or not isinstance(beside, dict):
        return False
    texts = [text for text in beside.values() if isinstance(text, str)]
    return len(texts) > 2 and 5 * len(set(texts)) >= 4 * len(texts)


def _name_field(row: Row, pointer: str) -> str:
    """A field of a row in words: `near` for `/catalogue/0/body/3/near/0/#text`."""
    tokens = split_pointer(pointer)[len(row.tokens) :]
    return " ".join(token.lstrip("@") for token in tokens if token != "#text" and not token.isdigit())
