"""Removes an entry with everything that names it. Kept by the change, so an undo brings all of it back.

Companions (saved games, settings, manuals) are never removed, and a word of a script is never taken out:
both stay, and the plan says so.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from workbench.card.entry_files import COMPANION
from workbench.card.mention import Mention
from workbench.card.mentions import mention_line
from workbench.card.menu import Entry, Menu
from workbench.card.paths import VolumePath
from workbench.card.profile import Profile
from workbench.card.reference import FileReference, Found, ManifestReferences, Reference
from workbench.card.references import find_references
from workbench.card.rewriting import make_edits, name_pieces
from workbench.card.tree import Tree
from workbench.changes.plan import Conflict, Plan, Remove, Write
from workbench.errors import ManifestError
from workbench.jobs.inner_companions import find_inner_companions
from workbench.jobs.leading import find_place
from workbench.jobs.placing import delete_all
from workbench.jobs.rename import note_doubts, say_blocked
from workbench.jobs.reworking import Reworked
from workbench.jobs.rows import Standing, is_bare, sort_references
from workbench.manifests.document import Document
from workbench.shown import shown


def plan_remove(tree: Tree, profile: Profile, menu: Menu, entry: Entry) -> Plan:
    """The plan that puts an entry away with its pictures and everything that names it; undo brings all back.

    A setting that names it names, from then on, the entry that takes its place in the menu.

    Raises:
        EntryError: it is no longer there.
    """
    found = find_references(tree, profile, menu, entry)
    remover = _Remover(tree, profile, menu, entry, found)
    for manifest in found.manifests:
        remover.clear(manifest)
    removed = remover.removed
    plan = Plan(
        title=f"Remove {entry.name}",
        steps=(*remover.writes, *(Remove(at) for at in removed)),
        unruled=(*(one for one in found.mentions if remover.is_left(one)), *remover.words),
        conflicts=(*(say_blocked(tree, blocked) for blocked in found.blocked), *remover.refused),
        notes=(
            *remover.notes,
            *_note_companions(remover.companions, removed),
            *note_doubts(found, entry.name),
        ),
    )
    return plan.wished("remove", entry=entry.name, menu=menu.id)


class _Remover:
    """Gathers what a removal does."""

    def __init__(self, tree: Tree, profile: Profile, menu: Menu, entry: Entry, found: Found) -> None:
        self._tree = tree
        self._profile = profile
        self._menu = menu
        self._entry = entry
        self._outer = [file.at for file in found.files if file.kind == COMPANION]
        self.companions = [*self._outer, *find_inner_companions(tree, profile, menu, entry)]
        self.removed = _choose_removed(entry, found.files, self.companions)
        self._heir = _find_heir(menu, entry)
        self._lines: dict[VolumePath, tuple[set[str], set[str]]] = {}
        """Of each manifest that is changed, its lines before and after."""
        self.writes: list[Write] = []
        self.words: list[Mention] = []
        self.refused: list[Conflict] = []
        self.notes: list[str] = []

    def clear(self, found: ManifestReferences) -> None:
        """Take out of one manifest what names the entry."""
        if _is_gone(found.at, self.removed):
            return
        at = self._tree.resolve(found.at)
        reworked = Reworked(found.document, at, self._profile.variables)
        standings = [one for one in sort_references(found) if not self._leads_to_companion(found, one)]
        words = [one.reference.node.start for one in standings if one.sort == "word"]
        self.words += dict.fromkeys(mention_line(found.document.raw, found.at, start) for start in words)
        try:
            gone = {one.pointer for one in standings if one.sort in ("row", "item", "field")}
            gone |= self._point_on(found, reworked, [one for one in standings if one.sort == "setting"])
            delete_all(reworked, gone)
        except ManifestError as error:
            self.refused.append(Conflict(found.at, error.line, error.message))
            return
        write = reworked.write()
        if write is not None:
            self.writes.append(write)
            self._lines[found.at] = _lines_of(found.document), _lines_of(reworked.document)

    def is_left(self, mention: Mention) -> bool:
        """Whether a mention is still there afterwards: not in what is put away, not on a line that goes."""
        if _is_gone(mention.at, self.removed):
            return False
        line = mention.text.strip()
        lines = self._lines.get(mention.at)
        return lines is None or line not in lines[0] or line in lines[1]

    def _leads_to_companion(self, found: ManifestReferences, one: Standing) -> bool:
        """Whether the place names a file that stays, and so goes on being right."""
        if one.sort == "row" or not self._outer or is_bare(one.reference):
            return False
        place = find_place(self._tree, self._profile, self._menu, found.at, one.reference.text)
        return place is not None and any(place == at or place.is_below(at) for at in self._outer)

    def _point_on(
        self, found: ManifestReferences, reworked: Reworked, settings: Sequence[Standing]
    ) -> set[str]:
        """Give settings the entry that takes this one's place; answers those that cannot have it."""
        heir, gone, kept = self._heir, set(), []
        for one in settings:
            text = self._heir_text(one.reference)
            if heir is None or text is None or not self._is_as_good(found.at, one.reference, text):
                gone.add(one.pointer)
                continue
            kept.append(one.reference)
            self.notes.append(
                f"{found.at}, line {one.reference.line}, named it as the only one there; it names "
                f"{shown(heir.name)} now, which takes its place in the menu."
            )
        if heir is not None:
            pieces = name_pieces(heir.name, self._menu.rule)
            reworked.do(lambda document: make_edits(kept, document, lambda _: pieces)[0])
        return gone

    def _heir_text(self, reference: Reference) -> str | None:
        if self._heir is None:
            return None
        piece = name_pieces(self._heir.name, self._menu.rule)[reference.piece]
        return reference.text[: reference.start] + piece + reference.text[reference.end :]

    def _is_as_good(self, at: VolumePath, old: Reference, new: str) -> bool:
        """Whether the new text leads somewhere if the old one did."""
        if is_bare(old) or find_place(self._tree, self._profile, self._menu, at, old.text) is None:
            return True
        place = find_place(self._tree, self._profile, self._menu, at, new)
        return place is not None and not _is_gone(place, self.removed)


def _lines_of(document: Document) -> set[str]:
    text = document.raw.decode("utf-8", "replace")
    return {line.strip() for line in text.splitlines()}


def _choose_removed(
    entry: Entry, files: Iterable[FileReference], companions: Sequence[VolumePath]
) -> tuple[VolumePath, ...]:
    """The entry and its pictures, a folder before what is in it; a folder with a companion in it stays."""
    pictures = [
        file.at
        for file in files
        if file.kind != COMPANION and not any(at == file.at or at.is_below(file.at) for at in companions)
    ]
    chosen: list[VolumePath] = []
    for at in sorted((*pictures, entry.at), key=lambda at: at.path.count("/")):
        if not _is_gone(at, chosen):
            chosen.append(at)
    return tuple(chosen)


def _find_heir(menu: Menu, entry: Entry) -> Entry | None:
    """The entry that stands where this one stood: the next one, or the one before the last."""
    places = [other.at for other in menu.entries]
    if entry.at not in places or len(places) < 2:
        return None
    index = places.index(entry.at)
    return menu.entries[index + 1] if index + 1 < len(places) else menu.entries[index - 1]


def _is_gone(at: VolumePath, removed: Iterable[VolumePath]) -> bool:
    return any(at == one or at.is_below(one) for one in removed)


def _note_companions(companions: Sequence[VolumePath], removed: Sequence[VolumePath]) -> list[str]:
    notes = []
    inside = [at for at in companions if _is_gone(at, removed)]
    staying = [at for at in companions if at not in inside]
    if staying:
        names = ", ".join(shown(str(at)) for at in staying[:4])
        more = f" and {len(staying) - 4} more" if len(staying) > 4 else ""
        verb = "stays" if len(staying) == 1 else "stay"
        notes.append(f"{names}{more} {verb}: saved games, settings and manuals are never removed.")
    if inside:
        names = ", ".join(shown(str(at)) for at in inside[:4])
        verb = "lies in it and is" if len(inside) == 1 else "lie in it and are"
        notes.append(f"{names} {verb} put away with it; the change keeps what it puts away.")
    return notes
