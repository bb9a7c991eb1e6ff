"""The script that starts an animation: from the profile's template, or after another animation's."""

from __future__ import annotations

from workbench.card.animation_rule import AnimationRule
from workbench.card.animations import Animation, is_file, place
from workbench.card.paths import VolumePath
from workbench.card.tree import Tree
from workbench.changes.plan import Step
from workbench.errors import ManifestError
from workbench.jobs.animate.frame_steps import Folders, write_content
from workbench.jobs.animate.setting import Facts
from workbench.jobs.animate.template import fill_template, put_part
from workbench.manifests.document import Node
from workbench.manifests.opening import open_document
from workbench.shown import shown

_RUNS = 0o755


def plan_script(
    tree: Tree, rule: AnimationRule, facts: Facts, like: Animation | None, folders: Folders
) -> tuple[list[Step], list[str]]:
    """The steps for the script and notes; a script that is there already is left as it is without a template.

    Raises:
        ManifestError: the script cannot hold one of the texts.
    """
    if rule.script is None:
        return [], []
    at = place(rule.script.file, facts.name)
    if rule.script.template is not None:
        content = fill_template(rule.script.template, "shell", facts.words, str(at))
        return _write(tree, at, content, folders), []
    if is_file(tree, at):
        return [], []
    pattern = place(rule.script.file, like.name) if like is not None else None
    if like is None or pattern is None or not is_file(tree, pattern):
        return [], [f"{at} is not made: the profile has no template for it, and no other animation has one."]
    content, numbers = copy_script(tree.read(pattern), like, facts, str(at))
    notes = [f"{at} is made after {pattern}, with the names replaced."]
    if numbers:
        notes.append(
            f"It says {', '.join(numbers)}, which {shown(like.name)} says too: look whether that is right."
        )
    return _write(tree, at, content, folders), notes


def copy_script(raw: bytes, like: Animation, facts: Facts, path: str) -> tuple[bytes, list[str]]:
    """Another animation's script with name, label and author replaced, and the numbers that it also says."""
    swaps = {like.name: facts.name}
    if like.label:
        swaps[like.label] = facts.words["label"]
    if like.author:
        swaps[like.author] = facts.words["author"]
    document = open_document(raw, "shell", path)
    nodes = list(document.find(None))
    numbers = [node.text for node in nodes if node.text in _numbers_of(like)]
    for number, node in reversed(list(enumerate(nodes))):
        for start, end, text in reversed(_find_named(node, swaps)):
            document = open_document(raw, "shell", path)
            here = list(document.find(None))[number]
            if document.replace_part(here, start, end, "x") is not None:
                raw = put_part(document, here, start, end, text, path)
    return raw, list(dict.fromkeys(numbers))


def _find_named(node: Node, swaps: dict[str, str]) -> list[tuple[int, int, str]]:
    """The spans of a word that are one of these texts: the word itself, or one component of its path."""
    if node.text in swaps:
        return [(0, len(node.text), swaps[node.text])]
    found, at = [], 0
    for part in node.text.split("/"):
        if part in swaps and part:
            found.append((at, at + len(part), swaps[part]))
        at += len(part) + 1
    return found


def _numbers_of(like: Animation) -> set[str]:
    known = {str(like.count)} if like.count is not None else set()
    return known | ({like.pace.text} if like.pace is not None else set())


def _write(tree: Tree, at: VolumePath, content: bytes, folders: Folders) -> list[Step]:
    if not content.startswith(b"#!"):
        raise ManifestError(
            f"{at} would not start with '#!'; nothing was changed. Mend its template.", path=str(at)
        )
    write = write_content(tree, at, content, _RUNS)
    return [*folders.make(at.parent), write] if write is not None else []
