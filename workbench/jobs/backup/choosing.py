"""Which files of a card go into a backup: what the profile names, or all; and what stays out, with why.

Saved games and other companions always go along. Large media go only if asked for; so do files that look
secret, which are found when they are read.
"""

from __future__ import annotations

from collections.abc import Iterator

from workbench.card.globs import Glob, translate
from workbench.card.paths import VolumePath
from workbench.card.profile import FilePattern, Profile
from workbench.card.tree import Tree
from workbench.errors import CardwrightError
from workbench.jobs.litter import find_litter
from workbench.jobs.secret_files import SECRET_HEAD, find_secret
from workbench.typed import Protocol, cast
from workbench.values import dataclass

LARGE = 16 * 1024 * 1024
"""Bytes; what the profile does not name and is larger counts as media."""


@dataclass(frozen=True, slots=True)
class Scope:
    """What is wanted."""

    everything: bool = False
    """Also what the profile does not name."""
    with_media: bool = False
    """Also large files that it does not name."""
    with_secrets: bool = False
    without: tuple[str, ...] = ()
    """Globs of `ROLE/PATH` that stay out."""

    @property
    def word(self) -> str:
        return ("all-with-media" if self.with_media else "all") if self.everything else "named"


@dataclass(frozen=True, slots=True)
class Chosen:
    """The files of a backup, before they are read."""

    files: tuple[tuple[str, str], ...]
    """Volume and path."""
    folders: tuple[tuple[str, str], ...]
    """Folders with nothing in them."""
    left_out: tuple[tuple[str, str, str], ...]
    """Volume, path and why."""


class _Walked(Protocol):
    def walk_folders(self, volume: str) -> dict[str, list[tuple[str, bool]]]: ...


def choose_files(tree: Tree, profile: Profile, scope: Scope) -> Chosen:
    """The files, by volume and folder, each volume walked once."""
    patterns = [] if scope.everything else _list_named(profile)
    globs = {
        role: [translate(one.path, fold=True) for one in patterns if one.volume == role and not one.is_plain]
        for role in tree.roles()
    }
    plain = {(one.volume, one.path.lower()) for one in patterns if one.is_plain}
    without = [translate(one.strip("/"), fold=True) for one in _spread(scope.without)]
    files: list[tuple[str, str]] = []
    folders: list[tuple[str, str]] = []
    left_out: list[tuple[str, str, str]] = []
    for role in tree.roles():
        for folder, listing in cast(_Walked, tree).walk_folders(role).items():
            prefix = f"{folder}/" if folder else ""
            names = {name for name, is_folder in listing if not is_folder}
            fitting = [one for one in globs[role] if one.match_folder(folder) is not None]
            if not listing and folder and scope.everything:
                folders.append((role, folder))
            for name, is_folder in listing:
                if is_folder:
                    continue
                path = prefix + name
                is_wanted = scope.everything or (role, path.lower()) in plain
                if not is_wanted and not any(_fits(one, folder, name) for one in fitting):
                    continue
                why = _find_why(role, path, name, names, without)
                if why:
                    left_out.append((role, path, why))
                    continue
                files.append((role, path))
    return Chosen(tuple(files), tuple(folders), tuple(left_out))


def look_into(tree: Tree, profile: Profile, scope: Scope, chosen: Chosen) -> Chosen:
    """What is left of it once the files are looked at, for a list of what would be saved."""
    files: list[tuple[str, str]] = []
    left_out = list(chosen.left_out)
    for role, path in chosen.files:
        at = VolumePath(role, path)
        try:
            item = tree.stat(at)
            why = "" if scope.with_secrets else find_secret(path, tree.read(at, SECRET_HEAD))
        except CardwrightError:
            files.append((role, path))
            continue
        size = item.size if item is not None else 0
        if not why and is_unasked_media(profile, scope, role, path, size):
            why = f"is large ({size:,} bytes) and not named by the profile"
        if why:
            left_out.append((role, path, why))
        else:
            files.append((role, path))
    return Chosen(tuple(files), chosen.folders, tuple(left_out))


def is_unasked_media(profile: Profile, scope: Scope, role: str, path: str, size: int) -> bool:
    """Whether a file stays out because it is large and nobody named it."""
    is_asked = size <= LARGE or scope.with_media or not scope.everything
    return not is_asked and not is_named(profile, role, path)


def is_named(profile: Profile, role: str, path: str) -> bool:
    """Whether the profile names a file."""
    return any(
        one.volume == role and translate(one.path, fold=True).match(path) is not None
        for one in _list_named(profile)
    )


def _fits(glob: Glob, folder: str, name: str) -> bool:
    bindings = glob.match_folder(folder)
    return bindings is not None and glob.match_name(name, bindings) is not None


def _find_why(role: str, path: str, name: str, names: set[str], without: list[Glob]) -> str:
    if without and any(one.match(f"{role}/{path}") is not None for one in without):
        return "left out as asked"
    if name[0] in "._TtDd" or "$" in path or "__" in path or " Volume " in path:
        word = find_litter(path, True, b"", lambda beside: beside.rpartition("/")[2] in names)
        return word and f"is {word}"
    return ""


def _spread(patterns: tuple[str, ...]) -> Iterator[str]:
    for pattern in patterns:
        yield pattern
        yield pattern.rstrip("/") + "/**/*"


def _list_named(profile: Profile) -> list[FilePattern]:
    """Every file that the profile names: manifests, scripts, pictures, companions, splashes, animations."""
    found: list[FilePattern] = []
    for menu in profile.menus:
        found += [one.file for one in menu.references]
        found += [one.path for one in menu.pictures]
        for companion in menu.companions:
            found += [companion, FilePattern(companion.volume, companion.path + "/**/*")]
        found += [menu.label.file] if menu.label is not None else []
    found += [one.file for one in profile.splashes]
    rule = profile.animation
    if rule is not None:
        found.append(FilePattern(rule.folder.volume, rule.folder.path + "/**/*"))
        found += [
            one.file
            for one in (rule.settings, rule.sound, rule.chosen, rule.script, rule.label, rule.art)
            if one
        ]
    found += [*profile.device.rewritten]
    for role, volume in profile.volumes.items():
        found += [FilePattern(role, path) for path in volume.identify if not path.endswith("/")]
    return list(dict.fromkeys(found))
