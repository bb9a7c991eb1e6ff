"""Registers entries whose files are on the card already, wherever their neighbours are registered.

What a row says comes from one neighbour, as when an entry is added; a field that would lead to a file that
the new entry does not have is left out.
"""

from __future__ import annotations

from workbench.card.menu import Entry, Menu
from workbench.card.paths import VolumePath
from workbench.card.profile import Profile
from workbench.card.reference import Reference
from workbench.card.references import find_references
from workbench.card.tree import Tree
from workbench.changes.plan import Plan
from workbench.jobs.entry_add import Adding, with_label, with_labels
from workbench.jobs.naming import Naming
from workbench.jobs.neighbour import choose_neighbour
from workbench.jobs.registering import Fate, new_entry
from workbench.jobs.rename import say_blocked
from workbench.jobs.rows import is_bare
from workbench.shown import shown
from workbench.values import replace

Likes = dict[tuple[str, tuple[bool, ...]], Entry]
"""The neighbour that suited best, by menu and by which pictures an entry has: for the next one like it."""


def plan_register(
    tree: Tree,
    profile: Profile,
    menu: Menu,
    entry: Entry,
    *,
    label: str | None = None,
    likes: Likes | None = None,
) -> Plan:
    """The plan that makes the rows of an entry which is there and has none; no step where nothing is to do.

    Args:
        menu: as it was without the entry, so that half of its entries are half of the registered ones.
        entry: of the menu as it is on `tree`.
        label: what the device shows for it; None for its name.
        likes: what was found for other entries; added to.
    """
    likes = {} if likes is None else likes
    kind = menu.id, _list_pictures(tree, menu, entry)
    naming = Naming(tree, profile, menu)
    new = new_entry(menu, entry.name, label)
    known = likes.get(kind)
    neighbour = known or choose_neighbour(naming, with_labels(tree, profile, menu))
    if neighbour is None:
        return _first_of_menu(tree, profile, menu, entry, label)
    own = {one.at for one in find_references(tree, profile, menu, entry, mentions=False).manifests}
    others = [one for one in menu.entries if one.at != neighbour.at]
    best: tuple[tuple[int, int], Plan] | None = None
    for like in (neighbour, *others[: _TRIED - 1]):
        if known is not None and best is not None:
            break
        registering = _Registering(tree, profile, menu, like, new, naming)
        found = find_references(tree, profile, menu, like, mentions=False)
        for manifest in found.manifests:
            if manifest.at not in own and not registering.is_inside(manifest.at):
                registering.register(manifest)
        registering.prepare_own_menu()
        plan = Plan(
            f"Register {entry.name}",
            (*registering.steps[1:], *registering.writes),  # the first makes the entry, which is there
            conflicts=(*(say_blocked(tree, blocked) for blocked in found.blocked), *registering.conflicts),
            notes=tuple(registering.tell()),
        )
        fit = registering.fit
        if best is None or (len(plan.steps) >= len(best[1].steps) and fit > best[0]):
            best = fit, plan
            likes[kind] = like
    assert best is not None
    return best[1]


_TRIED = 8
"""Neighbours that are tried as a pattern: the plainest, and a few that may have what the new entry has."""


def _list_pictures(tree: Tree, menu: Menu, entry: Entry) -> tuple[bool, ...]:
    """Whether the entry has each of the pictures that the menu knows."""
    found = []
    for picture in menu.rule.pictures:
        path = picture.path.path.replace("{entry}", entry.name).replace("{stem}", entry.stem)
        path = path.replace("{parent}", menu.parent or "")
        found.append("{" not in path and tree.stat(VolumePath(picture.path.volume, path)) is not None)
    return tuple(found)


def _first_of_menu(tree: Tree, profile: Profile, menu: Menu, entry: Entry, label: str | None) -> Plan:
    """No neighbour shows how: the label is set, where labels are kept."""
    new = new_entry(menu, entry.name, label)
    plan = with_label(tree, profile, menu, Plan("", ()), new)
    return replace(plan, title=f"Register {entry.name}")


class _Registering(Adding):
    """Makes rows and nothing else."""

    leading = 0
    """Fields that lead to something that is there."""
    unsure = 0
    """Fields that lead to nothing, for the neighbour either."""

    @property
    def fit(self) -> tuple[int, int]:
        """How well the neighbour's rows suit the new entry: little left out, much that leads somewhere."""
        return -len(set(self._dropped)) - self.unsure, self.leading

    def _fate(self, manifest: VolumePath, reference: Reference) -> Fate:
        place = self._place(manifest, reference.text)
        if place is not None and self.is_inside(place):
            fate: Fate = "rename" if self._tree.stat(self._mapped(place)) is not None else "drop"
        else:
            fate = super()._fate(manifest, reference)
        self.leading += place is not None and fate == "rename"
        self.unsure += place is None and not is_bare(reference)
        return fate

    def prepare_own_menu(self) -> None:
        """Where the entry is a menu of its own, make that menu's manifests, empty, if they are missing."""
        if self._menu.rule.entries == "folders":
            self._prepare_menu()

    def _make(self, at: VolumePath, content: bytes, mode: int | None) -> None:
        if self._tree.stat(at) is None:
            super()._make(at, content, mode)

    def _stand_in_for(self, manifest: VolumePath, texts: object) -> None:
        """The files are there; none is made up."""

    def tell(self) -> list[str]:
        """What was registered, in a sentence."""
        assert self._neighbour is not None
        if not self._registered:
            return []
        places = ", ".join(self._registered)
        left = ", ".join(dict.fromkeys(map(shown, self._dropped)))
        without = f", without {left}" if left else ""
        name, like = shown(self._new.name), shown(self._neighbour.name)
        return [f"{name} is registered as {like} is, in {places}{without}."]
