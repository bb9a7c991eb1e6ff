"""Makes one plan of a pack: its files, and the registrations that the profile calls for.

Content is taken out of the archive in a second reading, checked against what was looked at, and waits in the
cache; the card is written by the plan alone.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping

from workbench.card.menu import Entry, Menu, read_menus
from workbench.card.names import suggest_name
from workbench.card.paths import VolumePath
from workbench.card.profile import Profile
from workbench.card.tree import Tree
from workbench.changes.plan import Conflict, MakeFolder, Pack, Plan, Prepared, Step, Write
from workbench.errors import CardwrightError
from workbench.host.archives.limits import ArchiveError
from workbench.host.archives.member import Member
from workbench.jobs.entry_register import Likes, plan_register
from workbench.jobs.packs.card_fit import CardFit
from workbench.jobs.packs.judging import clean_path
from workbench.jobs.packs.looking import is_for_other_device
from workbench.jobs.packs.parts import Decision, PackLook, Part
from workbench.shown import shown
from workbench.values import replace

_IN_PLAN = 64 * 1024
"""Bytes of a file that travels in the plan itself; larger ones wait in the cache."""
_IN_ALL_PLAN = 16 * 1024 * 1024

Decisions = Mapping[str, Decision]
"""By path in the pack."""


def plan_add_pack(
    tree: Tree,
    profile: Profile,
    found: PackLook,
    decisions: Decisions | None = None,
    *,
    any_device: bool = False,
) -> Plan:
    """The plan that adds a pack; clashes that nobody decided are its conflicts.

    Raises:
        CardwrightError: parts are refused, or it is not known where they belong; nothing is read or written.
        ArchiveError: the archive is not what it was when it was looked at.
    """
    decisions = decisions or {}
    refuse_unfit(found, profile, any_device=any_device)
    adding = _Adding(tree, profile, found, decisions)
    plan = adding.plan()
    if plan.conflicts:
        return plan
    likes: Likes = {}
    for menu, entry, label in _list_new_entries(tree, plan, profile, found):
        registered = plan_register(plan.on(tree), profile, menu, entry, label=label, likes=likes)
        plan = replace(plan.then(registered), title=plan.title)
        adding.entries.append(str(entry.at))
    if not plan.steps:
        return plan
    told = replace(plan, packs=(adding.describe(len(plan.steps)),))
    return told.wished("pack", file=str(found.source.absolute()))


def refuse_unfit(found: PackLook, profile: Profile, *, any_device: bool = False) -> None:
    """Refuse a pack as a whole, by name, before anything of it is taken.

    Raises:
        CardwrightError: with the first few parts that are refused, or the question that is open.
    """
    refused = found.of("refused")
    if refused:
        names = "; ".join(f"{shown(part.path)!r} {part.because}" for part in refused[:3])
        more = f"; and {len(refused) - 3} more" if len(refused) > 3 else ""
        raise CardwrightError(
            f"the pack {shown(str(found.source))} is refused: {names}{more}. Nothing was written. "
            "Parts can be left out with --without PATH, if the rest is trusted.",
            path=str(found.source),
        )
    if is_for_other_device(found, profile) and not any_device:
        raise CardwrightError(
            f"{found.notes[0]} Nothing was written. If it is right all the same, say --any-device.",
            path=str(found.source),
        )
    if found.questions:
        first = found.questions[0]
        others = len(found.questions) - 1
        more = f" ({others} more question{'s' if others > 1 else ''})" if others else ""
        places = " or ".join(str(place) for place in first.choices[:3])
        raise CardwrightError(
            f"{first.text}{more} Nothing was written. Answer with --into {shown(first.top)}=PLACE"
            f"{f', for example {places},' if places else ''} or leave it out with --without.",
            path=str(found.source),
        )


class _Adding:
    """Gathers the steps of one pack."""

    def __init__(self, tree: Tree, profile: Profile, found: PackLook, decisions: Decisions) -> None:
        self._tree = tree
        self._profile = profile
        self._found = found
        self._decisions = decisions
        self._fit = CardFit(tree, profile)
        self._made: set[VolumePath] = set()
        self._conflicts: list[Conflict] = []
        self._notes: list[str] = []
        self.entries: list[str] = []

    def plan(self) -> Plan:
        wanted: list[tuple[Part, VolumePath, str | None]] = []
        for part in self._found.parts:
            place = self._choose(part)
            if place is not None:
                wanted.append((part, *place))
        title = f"Add the pack {self._found.name}"
        if self._conflicts:
            return Plan(title, (), conflicts=tuple(self._conflicts), notes=tuple(self._tell()))
        contents = _Contents(self._found)
        contents.fetch(part for part, _, _ in wanted)
        steps: list[Step] = []
        for part, at, before in sorted(wanted, key=lambda one: one[1]):
            steps += self._make_folders(at)
            mode = 0o755 if part.is_executable and before is None else None
            steps.append(Write(at, contents.of(part), before, mode=mode))
        return Plan(title, tuple(steps), notes=tuple(self._tell()))

    def describe(self, steps: int) -> Pack:
        """What the ledger will say of it."""
        own = self._found.list
        return Pack(
            self._found.name,
            own.version if own is not None else "",
            own.author if own is not None else "",
            own.licence if own is not None else "",
            self._found.sha256,
            tuple(self.entries),
            steps,
        )

    def _choose(self, part: Part) -> tuple[VolumePath, str | None] | None:
        """Where a part is written, and over which content; None where it is not."""
        if part.at is None:
            return None
        if part.standing == "new":
            return part.at, None
        if part.standing == "changed":
            return part.at, part.before
        if part.standing != "clash":
            return None
        decision = self._decisions.get(part.path)
        if decision is None:
            self._conflicts.append(
                Conflict(
                    part.at, None, f"{part.because}; say whether to keep yours, take the pack's, or both"
                )
            )
            return None
        if decision == "theirs":
            return part.at, part.before
        if decision == "both":
            return self._beside(part.at), None
        self._notes.append(f"{shown(str(part.at))} stays as it is.")
        return None

    def _beside(self, at: VolumePath) -> VolumePath:
        """A free place for the pack's file next to the one that stays."""
        stem, dot, suffix = at.name.rpartition(".")
        head, tail = (stem, dot + suffix) if stem else (at.name, "")
        rule = self._profile.volumes[at.volume].names
        taken = [item.name for item in self._tree.list(at.parent)]
        taken += [one.name for one in self._made if one.parent == at.parent]
        place = at.with_name(suggest_name(f"{head} ({self._found.name}){tail}", rule, taken=taken))
        self._made.add(place)
        self._notes.append(f"{shown(str(at))} stays; the pack's is put beside it as {shown(place.name)}.")
        return place

    def _make_folders(self, at: VolumePath) -> list[Step]:
        folders = [one for one in self._fit.missing_folders(at) if one not in self._made]
        self._made.update(folders)
        return [MakeFolder(one) for one in folders]

    def _tell(self) -> list[str]:
        """What is left out, and why, in sentences."""
        notes = [*self._found.notes, *self._notes]
        words = {
            "same": "{} on the card already, the same",
            "litter": "left out, what a host leaves behind: {}",
            "about": "left out, about the pack: {}",
            "left-out": "left out as you asked: {}",
        }
        for standing, sentence in words.items():
            parts = [part for part in self._found.parts if part.standing == standing]
            names = ", ".join(shown(part.path) for part in parts[:3])
            more = f" and {len(parts) - 3} more" if len(parts) > 3 else ""
            if parts and standing == "same":
                verb = "file is" if len(parts) == 1 else "files are"
                notes.append(sentence.format(f"{len(parts)} {verb}") + ".")
            elif parts:
                notes.append(sentence.format(names + more) + ".")
        return notes


class _Contents:
    """What was taken out of an archive."""

    def __init__(self, found: PackLook) -> None:
        self._found = found
        self._held: dict[str, bytes | Prepared] = {}
        self._in_plan = 0

    def fetch(self, parts: Iterable[Part]) -> None:
        """Take the bytes of these parts, in one reading.

        Raises:
            ArchiveError: they are not what was looked at.
        """
        wanted = {part.path: part for part in parts}
        if not wanted:
            return

        def take(member: Member, pieces: Iterable[bytes]) -> None:
            part = wanted.get(clean_path(member.path))
            if part is None:
                return
            content = self._take(part, pieces)
            sha256 = content.sha256 if isinstance(content, Prepared) else hashlib.sha256(content).hexdigest()
            if sha256 != part.sha256:
                raise ArchiveError(
                    f"{self._found.source} has changed since it was looked at ({shown(part.path)!r}); "
                    "nothing was written.",
                    path=str(self._found.source),
                )
            self._held[part.path] = content

        self._found.archive.visit(None, take)

    def of(self, part: Part) -> bytes | Prepared:
        """A part's bytes.

        Raises:
            ArchiveError: it is not in the archive any more.
        """
        if part.path not in self._held:
            raise ArchiveError(
                f"{shown(part.path)!r} is no longer in {self._found.source}; nothing was written.",
                path=str(self._found.source),
            )
        return self._held[part.path]

    def _take(self, part: Part, pieces: Iterable[bytes]) -> bytes | Prepared:
        if part.size <= _IN_PLAN and self._in_plan + part.size <= _IN_ALL_PLAN:
            self._in_plan += part.size
            return b"".join(pieces)
        from workbench.host.renders import keep_stream

        file, size, sha256 = keep_stream(pieces)
        return Prepared(str(file), size, sha256)


def _list_new_entries(
    tree: Tree, plan: Plan, profile: Profile, found: PackLook
) -> list[tuple[Menu, Entry, str | None]]:
    """The entries that the plan brings, each with its menu as it is without them, and its label."""
    if not plan.steps or not any(menu.root.volume in tree.roles() for menu in profile.menus):
        return []
    before = {menu.id: menu for menu in read_menus(tree, profile, labels=False)}
    known = {entry.at for menu in before.values() for entry in menu.entries}
    labels = {one.at: one.label for one in found.list.entries} if found.list is not None else {}
    new = []
    for menu in read_menus(plan.on(tree), profile, labels=False):
        old = before.get(menu.id, replace(menu, entries=()))
        new += [
            (replace(old, root=menu.root, is_missing=False), entry, labels.get(str(entry.at)))
            for entry in menu.entries
            if entry.at not in known
        ]
    return new


def drop_contents(plan: Plan) -> None:
    """Forget what a plan has waiting in the cache."""
    from workbench.jobs.renders import drop_renders

    drop_renders(plan)


def diff_part(tree: Tree, found: PackLook, part: Part) -> list[str]:
    """How a part differs from the file that is there, line by line; empty where one of them is no text."""
    import difflib

    from workbench.jobs.packs.looking import read_part

    if part.at is None or part.standing not in ("clash", "changed"):
        return []
    theirs = read_part(found.archive, part, _MOST_DIFFED)
    try:
        mine = tree.read(part.at, _MOST_DIFFED + 1)
        if theirs is None or len(mine) > _MOST_DIFFED or b"\0" in theirs + mine:
            return []
        old, new = mine.decode("utf-8").splitlines(), theirs.decode("utf-8").splitlines()
    except (CardwrightError, UnicodeDecodeError):
        return []
    return list(difflib.unified_diff(old, new, f"yours: {part.at}", f"the pack's: {part.path}", lineterm=""))


_MOST_DIFFED = 256 * 1024
"""Bytes; longer texts are not shown line by line."""
