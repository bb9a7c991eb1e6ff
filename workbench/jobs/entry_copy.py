"""Copies an entry as a new one: its files, its pictures, and the rows that register it.

What names the original goes on naming it; what is in the copy names the copy. Companions are the original's
unless they are asked for.
"""

from __future__ import annotations

from collections.abc import Iterator

from workbench.card.entry_files import COMPANION
from workbench.card.menu import Entry, Menu
from workbench.card.names import check_free, find_collisions
from workbench.card.paths import VolumePath
from workbench.card.profile import Profile
from workbench.card.reference import FileReference, Found, ManifestReferences, Reference
from workbench.card.references import find_references, rewrite
from workbench.card.tree import Tree
from workbench.changes.plan import Conflict, Mention, Plan, Write
from workbench.errors import ManifestError
from workbench.jobs.copied_files import Copier
from workbench.jobs.inner_companions import find_inner_companions
from workbench.jobs.leading import find_place
from workbench.jobs.naming import Naming
from workbench.jobs.registering import Fate, NewEntry, add_row, list_registrations, new_entry
from workbench.jobs.rename import check_new_name, note_doubts, say_blocked
from workbench.jobs.reworking import Reworked
from workbench.jobs.rows import is_bare
from workbench.shown import shown
from workbench.values import replace


def plan_copy(
    tree: Tree,
    profile: Profile,
    menu: Menu,
    entry: Entry,
    new_name: str,
    *,
    label: str | None = None,
    with_companions: bool = False,
) -> Plan:
    """The plan that makes a second entry of one: its files, its pictures, its rows in manifests.

    Args:
        label: what the device shows for the copy, where it shows labels; None for the new name.
        with_companions: also copy saved games, settings and manuals.

    Raises:
        NameRefusedError: the name would not survive on the card, or is taken; with a suggestion.
        EntryError: the entry is no longer there, or the new name has another suffix.
    """
    check_new_name(tree, profile, menu, entry, new_name)
    rule, limit = profile.volumes[entry.at.volume].names, menu.rule.prefix.limit
    check_free(new_name, [item.name for item in tree.list(entry.at.parent)], rule, limit)
    found = find_references(tree, profile, menu, entry)
    new = new_entry(menu, new_name, label)
    copying = _Copying(tree, profile, menu, entry, new, found, with_companions)
    copying.register()
    copying.copy_files()
    plan = Plan(
        title=f"Copy {entry.name} as {new_name}",
        steps=(*copying.copier.steps, *copying.writes),
        unruled=tuple(copying.left_in_copy()),
        conflicts=(*(say_blocked(tree, blocked) for blocked in found.blocked), *copying.conflicts),
        notes=(*copying.notes, *copying.copier.notes, *note_doubts(found, entry.name)),
    )
    return plan.wished(
        "copy",
        entry=entry.name,
        to=new_name,
        menu=menu.id,
        label=label,
        companions=with_companions or None,
    )


class _Copying:
    """Gathers what a copy does."""

    def __init__(
        self,
        tree: Tree,
        profile: Profile,
        menu: Menu,
        entry: Entry,
        new: NewEntry,
        found: Found,
        with_companions: bool,
    ) -> None:
        self._tree = tree
        self._profile = profile
        self._menu = menu
        self._entry = entry
        self._new = new
        self._found = found
        companions = [file for file in found.files if file.kind == COMPANION]
        inner = find_inner_companions(tree, profile, menu, entry)
        self._left = () if with_companions else (*(file.at for file in companions), *inner)
        self._files = [file for file in found.files if with_companions or file.kind != COMPANION]
        self._naming = Naming(tree, profile, menu)
        self._is_labelled = False
        self._lists: list[VolumePath] = []
        self.conflicts: list[Conflict] = []
        self.notes: list[str] = []
        self.writes: list[Write] = []
        names = {file.at: file.renamed(new.pieces[file.piece]).name for file in self._files}
        self.copier = Copier(tree, names, dict(self._rewritten()), self._left)

    def register(self) -> None:
        """Make the entry's rows again, in every manifest that registers it."""
        for found in self._found.manifests:
            if not self._is_inside(found.at):
                self._register_in(found)
        if self._is_labelled:
            self.notes.append(f"The device shows the copy as {shown(self._new.label or '')}.")
        if self._lists:
            listed = ", ".join(map(str, self._lists[:6])) + (" and more" if len(self._lists) > 6 else "")
            self.notes.append(
                f"Lists and settings that name {shown(self._entry.name)} stay as they are: {listed}."
            )

    def _register_in(self, found: ManifestReferences) -> None:
        rows = list_registrations(
            self._profile, found, lambda row: self._naming.is_register(found.document, found.at, row)
        )
        reworked = Reworked(found.document, self._tree.resolve(found.at), self._profile.variables)
        try:
            for row in rows:
                self._is_labelled |= add_row(reworked, found, row, self._new, self._fates(found))
        except ManifestError as error:
            self.conflicts.append(Conflict(found.at, error.line, error.message))
            return
        write = reworked.write()
        if write is not None:
            self.writes.append(write)
        if any(not any(row.holds(one.node.pointer) for row in rows) for one in found.references):
            self._lists.append(found.at)

    def copy_files(self) -> None:
        """Make the copies of the entry and of what goes with it."""
        for source, target in self._list_copies():
            rule = self._profile.volumes[target.volume].names
            beside = [item.name for item in self._tree.list(target.parent)]
            for taken in find_collisions(target.name, beside, rule):
                because = f"{shown(str(source))} would be copied there, but it is taken"
                self.conflicts.append(Conflict(target.with_name(taken), None, because))
            self.copier.copy(source, target)
        if self._left:
            kept = "Saved games, settings and manuals stay with"
            self.notes.append(f"{kept} {shown(self._entry.name)}; they are copied where that is asked for.")
        if self._menu.order == "directory":
            self.notes.append(
                "The device lists a folder in its own order: arrange sets where the copy stands."
            )

    def left_in_copy(self) -> Iterator[Mention]:
        """What names the original in the files of the copy, under no rule."""
        for mention in self._found.mentions:
            target = self.copier.copied.get(mention.at)
            if target is not None:
                yield replace(mention, at=target)

    def _list_copies(self) -> Iterator[tuple[VolumePath, VolumePath]]:
        """Source and target of everything that is not inside something else that is copied."""
        yield self._entry.at, self._entry.at.with_name(self._new.name)
        places = [file.at for file in self._files]
        for file in sorted(self._files, key=lambda file: (file.at.path.count("/"), file.at)):
            if not self._is_inside(file.at) and not any(file.at.is_below(at) for at in places):
                yield file.at, self._target(file)

    def _target(self, file: FileReference) -> VolumePath:
        return file.renamed(self._new.pieces[file.piece])

    def _rewritten(self) -> Iterator[tuple[VolumePath, bytes]]:
        """Manifests inside the entry, as they are in the copy."""
        for found in self._found.manifests:
            if not self._is_inside(found.at):
                continue
            fates = self._fates(found)
            own = tuple(one for number, one in enumerate(found.references) if fates.get(number) != "keep")
            try:
                content, _, _ = rewrite(
                    self._tree,
                    self._profile,
                    replace(found, references=own),
                    self._entry,
                    self._new.name,
                )
            except ManifestError as error:
                self.conflicts.append(Conflict(found.at, error.line, error.message))
                continue
            yield found.at, content

    def _fates(self, found: ManifestReferences) -> dict[int, Fate]:
        """References to companions that are not copied go on naming the original's."""
        return {
            number: "keep"
            for number, reference in enumerate(found.references)
            if self._leads_to_left(found.at, reference)
        }

    def _leads_to_left(self, manifest: VolumePath, reference: Reference) -> bool:
        if not self._left or is_bare(reference):
            return False
        place = find_place(self._tree, self._profile, self._menu, manifest, reference.text)
        return place is not None and any(place == at or place.is_below(at) for at in self._left)

    def _is_inside(self, at: VolumePath) -> bool:
        return at == self._entry.at or at.is_below(self._entry.at)
