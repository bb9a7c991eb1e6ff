"""The steps that put rendered files in place: only what is not there already, and nothing too many stays."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from pathlib import Path

from workbench.card.animation_rule import AnimationRule
from workbench.card.animations import find_frames, frames_folder, is_file
from workbench.card.paths import VolumePath
from workbench.card.tree import Tree
from workbench.changes.plan import MakeFolder, Prepared, Remove, Step, Write, digest
from workbench.media.render_report import RenderedFile
from workbench.values import dataclass


@dataclass(frozen=True, slots=True)
class Placed:
    """What becomes of the files of one animation."""

    steps: tuple[Step, ...]
    written: int
    kept: int
    """Files that are there already, byte for byte."""
    removed: int


class Folders:
    """Makes each folder that is missing, once."""

    def __init__(self, tree: Tree, made: Collection[VolumePath] = ()) -> None:
        self._tree = tree
        self._made = set(made)

    def make(self, folder: VolumePath) -> list[Step]:
        """The steps that make a folder and those above it."""
        missing: list[VolumePath] = []
        while folder.path and folder not in self._made and self._tree.stat(folder) is None:
            missing.insert(0, folder)
            folder = folder.parent
        self._made.update(missing)
        return [MakeFolder(one) for one in missing]


def write_content(
    tree: Tree, at: VolumePath, content: bytes | Prepared, mode: int | None = None
) -> Write | None:
    """The step that puts content at a place; None where exactly that is there."""
    size, wanted = (
        (content.size, content.sha256) if isinstance(content, Prepared) else (len(content), digest(content))
    )
    item = tree.stat(at) if is_file(tree, at) else None
    if item is None:
        return Write(at, content, None, mode=mode)
    old = tree.read(at)
    before = digest(old)
    if len(old) == size and before == wanted and (mode is None or item.mode & 0o111):
        return None
    return Write(tree.resolve(at), content, before, mode=mode)


def place_frames(
    tree: Tree,
    rule: AnimationRule,
    name: str,
    files: Mapping[str, RenderedFile],
    waiting: Path,
    folders: Folders,
) -> Placed:
    """The steps for all frames: `files` by the name that each has on the card."""
    folder = frames_folder(rule, name)
    steps: list[Step] = folders.make(folder)
    written = kept = 0
    for file_name, file in files.items():
        prepared = Prepared(str(waiting / file.name), file.size, file.sha256)
        write = write_content(tree, folder.child(file_name), prepared)
        if write is None:
            kept += 1
            continue
        written += 1
        steps.append(write)
    fold = tree.names_rule(folder.volume) == "fat"
    wanted = {one.upper() if fold else one for one in files}
    surplus = [
        frame.at
        for frame in find_frames(tree, rule, name)
        if frame.number >= rule.frames.first
        and (frame.at.name.upper() if fold else frame.at.name) not in wanted
    ]
    steps += [Remove(at) for at in surplus]
    return Placed(tuple(steps), written, kept, len(surplus))
