"""Which volume, and which place on it, each part of a pack belongs to.

Known from the pack's own list; else from its top folders, which are roles of volumes, or folders that the
profile knows or the card has. A folder that is wrapped around all that is taken off. What is not plain is
asked, never guessed.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping

from workbench.card.names import fold_name
from workbench.card.paths import VolumePath
from workbench.card.profile import FilePattern, Profile
from workbench.card.tree import Tree
from workbench.jobs.packs.parts import PackQuestion
from workbench.shown import shown
from workbench.values import dataclass

_WRAPPINGS = 3
"""So many folders around everything are looked through."""

ALL = ""
"""In answers: whatever is not answered by its own name."""


@dataclass(frozen=True, slots=True)
class Mapped:
    """Where the parts go."""

    places: Mapping[str, VolumePath]
    """By path in the pack."""
    about: frozenset[str]
    """Texts about the pack itself, at its top."""
    questions: tuple[PackQuestion, ...]


def map_listed(paths: Iterable[str], tree: Tree) -> Mapped:
    """The parts of a pack that was made here: `ROLE/PATH`."""
    places, waiting = {}, Counter[str]()
    for path in paths:
        role, _, rest = path.partition("/")
        if rest and role in tree.roles():
            places[path] = VolumePath(role, rest)
        else:
            waiting[role] += 1
    questions = tuple(
        PackQuestion(role, f"The pack has {shown(role)!r} for a volume that is not here.", (), count)
        for role, count in waiting.items()
    )
    return Mapped(places, frozenset(), questions)


def map_parts(
    paths: Iterable[str], tree: Tree, profile: Profile, answers: Mapping[str, VolumePath]
) -> Mapped:
    """The parts of any pack.

    Args:
        answers: the place of a top folder's content, by the folder's path in the pack; `ALL` for the rest.
    """
    files = list(paths)
    homes = _find_homes(tree, profile)
    roles = {fold_name(role, "fat"): role for role in tree.roles()}
    wrapping = _find_wrapping(files, set(homes) | set(roles), answers)
    inner = {path: path[len(wrapping) :] for path in files}
    tops = Counter(path.partition("/")[0] for path in inner.values())
    is_by_role = _is_by_role(inner.values(), roles, homes)
    places: dict[str, VolumePath] = {}
    about: set[str] = set()
    questions: list[PackQuestion] = []
    for top, count in tops.items():
        mine = [path for path in files if inner[path].partition("/")[0] == top]
        place = answers.get(wrapping + top, answers.get(top))
        folded = fold_name(top, "fat")
        if place is not None:  # an answer says where the folder itself goes, or what is in it
            places |= {path: _below(place, inner[path]) for path in mine}
        elif is_by_role and folded in roles:
            role = roles[folded]
            places |= {path: VolumePath(role, inner[path].partition("/")[2]) for path in mine}
        elif len(homes.get(folded, ())) == 1:
            role = homes[folded][0]
            places |= {path: VolumePath(role, inner[path]) for path in mine}
        elif _is_about(top, mine, wrapping) and ALL not in answers:
            about.update(mine)
        elif ALL in answers:
            places |= {path: _below(answers[ALL], inner[path]) for path in mine}
        else:
            questions.append(_ask(wrapping + top, homes.get(folded, ()), tree, profile, count))
    return Mapped(places, frozenset(about), tuple(questions))


def _below(place: VolumePath, path: str) -> VolumePath:
    return place.child(path)


def _find_homes(tree: Tree, profile: Profile) -> dict[str, list[str]]:
    """The volumes that have each top folder or file, by its folded name: by the profile, else on the card."""
    homes: dict[str, list[str]] = {}

    def note(role: str, name: str) -> None:
        known = homes.setdefault(fold_name(name, "fat"), [])
        if name and role in tree.roles() and role not in known:
            known.append(role)

    for role, rule in profile.volumes.items():
        for path in rule.identify:
            note(role, path.strip("/").partition("/")[0])
    for pattern in list_patterns(profile):
        top = pattern.path.partition("/")[0]
        if not set("*?[{") & set(top):
            note(pattern.volume, top)
    for role in tree.roles():
        for item in tree.list(VolumePath(role, "")):
            note(role, item.name)
    return {name: found for name, found in homes.items() if name and found}


def list_patterns(profile: Profile) -> Iterable[FilePattern]:
    """Every place that a profile names."""
    for menu in profile.menus:
        yield menu.root
        yield from (one.file for one in menu.references)
        yield from (one.path for one in menu.pictures)
        yield from menu.companions
        if menu.label is not None:
            yield menu.label.file
    yield from (one.file for one in profile.splashes)
    if profile.animation is not None:
        yield profile.animation.folder


def _find_wrapping(paths: list[str], known: set[str], answers: Mapping[str, VolumePath]) -> str:
    """The folders around all of it that the card does not know; with their slash."""
    wrapping = ""
    for _ in range(_WRAPPINGS):
        inner = [path[len(wrapping) :] for path in paths]
        tops = {path.partition("/")[0] for path in inner}
        is_one = len(tops) == 1 and all("/" in path for path in inner)
        if not is_one:
            break
        top = tops.pop()
        below = {fold_name(path.split("/")[1], "fat") for path in inner}
        is_known = fold_name(top, "fat") in known or wrapping + top in answers or top in answers
        if is_known or (not below & known and not _is_deep(inner, known)):
            break
        wrapping += top + "/"
    return wrapping


def _is_deep(paths: list[str], known: set[str]) -> bool:
    """Whether one folder more is wrapped around what the card knows."""
    seconds = {path.split("/")[1] for path in paths}
    return len(seconds) == 1 and any(
        fold_name(path.split("/")[2], "fat") in known for path in paths if path.count("/") > 1
    )


def _is_by_role(paths: Iterable[str], roles: Mapping[str, str], homes: Mapping[str, list[str]]) -> bool:
    """Whether the top folders are the roles of volumes, and what is in them fits those volumes."""
    found = [path.split("/") for path in paths]
    tops = {fold_name(parts[0], "fat") for parts in found if len(parts) > 1}
    if not tops or not tops <= set(roles):
        return bool(tops & set(roles)) and not any(top in homes for top in tops & set(roles))
    fitting = sum(
        roles[fold_name(parts[0], "fat")] in homes.get(fold_name(parts[1], "fat"), ())
        for parts in found
        if len(parts) > 1
    )
    return fitting > 0 or not any(top in homes for top in tops)


_ABOUT = ("readme", "read me", "license", "licence", "copying", "changes", "changelog", "credits", "about")
_TEXTS = ("", ".txt", ".md", ".rst", ".nfo", ".html")


def _is_about(top: str, paths: list[str], wrapping: str) -> bool:
    """A text at the top that is about the pack and not for the card."""
    if paths != [wrapping + top]:
        return False
    stem, dot, suffix = top.casefold().rpartition(".")
    stem, suffix = (stem, dot + suffix) if stem else (suffix, "")
    return stem in _ABOUT and suffix in _TEXTS


def _ask(top: str, homes: Iterable[str], tree: Tree, profile: Profile, count: int) -> PackQuestion:
    roots = [VolumePath(role, "") for role in homes]
    menus = [
        VolumePath(menu.root.volume, menu.root.path)
        for menu in profile.menus
        if menu.root.is_plain and menu.root.volume in tree.roles()
    ]
    others = [VolumePath(role, "") for role in tree.roles()]
    choices = tuple(dict.fromkeys((*roots, *menus, *others)))
    why = "is on more than one volume" if len(roots) > 1 else "is not known on this card"
    return PackQuestion(top, f"Where does {shown(top)!r} belong? It {why}.", choices, count)
