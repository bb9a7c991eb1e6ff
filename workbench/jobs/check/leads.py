"""What a text under a rule of the profile leads to: an entry or file that is there, or one that is not.

A path is tried as the device would read it: absolute through its mount points, else relative to the
manifest's folder, its volume, and the menus. It counts as leading nowhere only where it is sure what it
means: where it leads into a menu's folder, or to a volume of the card.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from workbench.card.command_words import CommandWord, split_command
from workbench.card.entry import Menu
from workbench.card.names import fold_name
from workbench.card.path_text import PathText, read_path
from workbench.card.paths import VolumePath
from workbench.card.profile import Profile
from workbench.jobs.check.places import Places, join_parts
from workbench.late_pattern import late_pattern
from workbench.typed import Literal

Fate = Literal["there", "case", "gone", "missing", "astray"]
"""There; there in another case; an entry that is not there; a file in an entry, or anywhere else on the card,
that is not there."""

_SPLITTING = late_pattern(r"[\s\"']")
_EXPANDS = late_pattern(r"[$*?\[`]")
_ADDRESS = late_pattern(r"[A-Za-z][A-Za-z0-9+.-]*://")


class Lead(NamedTuple):
    """What became of one text."""

    fate: Fate
    name: str = ""
    """What is not there: an entry's name, or a path; for `case`, the spelling on the card."""
    start: int = -1
    end: int = -1
    """Of `case`: the characters of the text that are spelled otherwise; -1 where they are not in the text."""
    is_sure: bool = True
    """False where it may mean something else: a path that is only taken to start in a menu's folder."""


THERE = Lead("there")


class Leads:
    """The menus of a card, ready to say where paths lead."""

    def __init__(self, profile: Profile, menus: Sequence[Menu], places: Places, roles: Sequence[str]) -> None:
        self._profile = profile
        self._places = places
        self._roles = frozenset(roles)
        self._known: dict[tuple[str, str, str], Lead] = {}
        self._mounts = [
            (tuple(filter(None, rule.device_path.split("/"))), role)
            for role, rule in profile.volumes.items()
            if rule.device_path
        ]
        self._mounts.sort(key=lambda mount: -len(mount[0]))
        roots = {(menu.root.volume, menu.root.path) for menu in menus if not menu.is_missing}
        self._roots = sorted(roots, key=lambda root: -root[1].count("/") - bool(root[1]))
        self._root_set = frozenset(root for root in self._roots if root[1])
        self._menu_volumes = tuple(dict.fromkeys(volume for volume, _ in self._roots))

    def follow(self, text: str, manifest: VolumePath, *, is_script: bool = False) -> Lead:
        """Where a text leads that a rule takes for a path."""
        if is_script and (not text.startswith("/") or _EXPANDS.search(text)):
            return THERE  # in which folder a script runs is not known
        # Manifests say the same paths again and again; where one leads depends on its own folder at most.
        key = text, manifest.volume, "" if text.startswith("/") else manifest.parent.path
        known = self._known.get(key)
        if known is None:
            known = self._known[key] = self._follow(text, manifest)
        return known

    def _follow(self, text: str, manifest: VolumePath) -> Lead:
        if not text.strip() or (_ADDRESS.match(text) and not text.startswith("file:")):
            return THERE
        whole = self._follow_whole(text, manifest)
        if whole.fate in ("there", "case") or not _SPLITTING.search(text):
            return whole
        return self._follow_command(text, manifest, whole)

    def _follow_command(self, text: str, manifest: VolumePath, whole: Lead) -> Lead:
        """A text with blanks or quotes that is no path as a whole: perhaps its words are."""
        words = [word for word in split_command(text) if "/" in word.text]
        is_command = bool(words) and (not text.startswith(words[0].text) or set("\"'") & set(text))
        if not words or not (is_command or self._is_there(words[0], manifest)):
            return whole
        leads = [(word, self._follow_whole(word.text, manifest)) for word in words]
        sure = [lead for word, lead in leads if _is_quoted(word) and lead.fate in ("gone", "missing")]
        return sure[0] if sure else THERE

    def _is_there(self, word: CommandWord, manifest: VolumePath) -> bool:
        return self._follow_whole(word.text, manifest).fate in ("there", "case")

    def _follow_whole(self, text: str, manifest: VolumePath) -> Lead:
        worst: Lead | None = None
        for path in read_path(text, 0, len(text), self._profile.variables):
            if not path.components:
                return THERE
            lead = self._follow_path(path, manifest)
            if lead.fate == "there":
                return lead
            worst = _worse(worst, lead)
        return worst or THERE

    def _follow_path(self, path: PathText, manifest: VolumePath) -> Lead:
        found: Lead | None = None
        for volume, place, base in self._candidates(path, manifest):
            if volume not in self._roles or place is None:
                if path.is_absolute:
                    return THERE  # somewhere on the device that is not here to be looked at
                continue
            spelled = self._places.spell(volume, place)
            if spelled == place or (spelled is not None and self._profile.volumes[volume].names == "fat"):
                return THERE
            if spelled is not None:
                return _other_case(path, place, spelled)
            is_guess = not path.is_absolute and (volume, base) in self._root_set
            found = _worse(found, self._judge_missing(volume, place, path.is_absolute, not is_guess))
        return found or THERE

    def _candidates(self, path: PathText, manifest: VolumePath) -> Iterator[tuple[str, str | None, str]]:
        """Places that the path could mean, the likeliest first, each with the folder it would start in."""
        parts = [component.text for component in path.components]
        if path.is_absolute:
            yield from ((volume, place, "") for volume, place in self._mounted(parts, manifest))
            return
        for volume, base in self._bases(manifest):
            mount = next((mount for mount, role in self._mounts if role == volume), None)
            inner = join_parts((*base, *parts))
            if inner is not None:
                yield volume, inner, "/".join(base)
            elif mount is not None:
                found = self._mounted([*mount, *base, *parts], manifest)
                yield from ((role, place, "") for role, place in found)

    def _bases(self, manifest: VolumePath) -> Iterator[tuple[str, tuple[str, ...]]]:
        yield manifest.volume, tuple(manifest.parent.path.split("/"))
        yield manifest.volume, ()
        yield from ((volume, ()) for volume in self._menu_volumes if volume != manifest.volume)
        yield from ((volume, tuple(root.split("/"))) for volume, root in self._roots)

    def _mounted(self, parts: Sequence[str], manifest: VolumePath) -> Iterator[tuple[str, str | None]]:
        plain = join_parts(parts)
        walked = tuple(plain.split("/")) if plain else ()
        for mount, role in self._mounts:
            if walked[: len(mount)] == mount:
                yield role, "/".join(walked[len(mount) :])
                return
        if self._profile.volumes[manifest.volume].device_path is None:
            yield manifest.volume, plain
        else:
            yield "", None  # somewhere else on the device

    def _judge_missing(self, volume: str, place: str, is_absolute: bool, is_sure: bool) -> Lead:
        for root_volume, root in self._roots:
            if root_volume != volume or not (not root or place.startswith(root + "/")):
                continue
            name = place[len(root) + bool(root) :].split("/")[0]
            entry = f"{root}/{name}" if root else name
            if entry == place or self._places.spell(volume, entry) is None:
                return Lead("gone", name, is_sure=is_sure)
            return Lead("missing", f"{volume}:{place}", is_sure=is_sure)
        return Lead("astray" if is_absolute else "there", f"{volume}:{place}")


def _worse(one: Lead | None, other: Lead) -> Lead:
    """The lead that says more: that an entry is gone before that a file is missing."""
    order = ("missing", "gone", "astray", "there")
    if one is None or order.index(other.fate) < order.index(one.fate):
        return other
    return one


def _is_quoted(word: CommandWord) -> bool:
    return bool(word.quotes) and word.quotes[-1] != " "


def _other_case(path: PathText, place: str, spelled: str) -> Lead:
    """The one component that is spelled otherwise, where it stands in the text."""
    written, real = place.split("/"), spelled.split("/")
    for component, wrong, right in zip(
        reversed(path.components), reversed(written), reversed(real), strict=False
    ):
        if component.text != wrong:
            break
        if wrong != right and component.start >= 0 and fold_name(wrong, "fat") == fold_name(right, "fat"):
            return Lead("case", right, component.start, component.end)
    return Lead("case", real[-1])
