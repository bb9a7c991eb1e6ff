"""Rules about pictures of entries: the wrong size, damaged, and those that go with no entry."""

from __future__ import annotations

import struct
from collections.abc import Iterator

from workbench.card.entry_files import COMPANION
from workbench.card.globs import translate
from workbench.card.grounding import ground_pattern
from workbench.card.paths import VolumePath
from workbench.card.profile import FilePattern, MenuRule
from workbench.errors import CardError, MediaError
from workbench.jobs.check.checked_card import CheckedCard
from workbench.jobs.check.finding import Finding
from workbench.jobs.check.remedies import putting_away
from workbench.jobs.check.rule import Rule
from workbench.shown import shown

SIZE = Rule("picture-size", "warning", "is a picture of another size than the device wants")
DAMAGED = Rule("damaged-picture", "warning", "is no picture of the kind that its name says")
ORPHANED = Rule("orphaned-file", "note", "goes with an entry that is not there")
RULES = (SIZE, DAMAGED, ORPHANED)

_HEAD = 64 * 1024
_PNG = b"\x89PNG\r\n\x1a\n"


def find(card: CheckedCard) -> Iterator[Finding]:
    """Rule by rule: the pictures that go with entries, then what is named like one and goes with none."""
    for rule in card.rules:
        yield from _find_wrong_sizes(card, rule)
    claimed = {claim.file.at for rule in card.rules for claim in card.claims_of(rule)}
    for rule in card.rules:
        yield from _find_orphans(card, rule, claimed)


def _find_wrong_sizes(card: CheckedCard, rule: MenuRule) -> Iterator[Finding]:
    wanted = {picture.kind: picture.size for picture in rule.pictures}
    for claim in card.claims_of(rule):
        size = wanted.get(claim.file.kind)
        if size is None or claim.file.kind == COMPANION:
            continue
        at = claim.file.at
        item = card.tree.stat(at)
        if item is None or item.kind != "file":
            continue
        try:
            has = read_size(card.tree.read(at, _HEAD))
        except CardError:
            continue
        except MediaError as error:
            yield DAMAGED.found(at, error.message)
            continue
        if has is not None and has != size:
            message = f"is {has[0]}×{has[1]}, and the device wants {size[0]}×{size[1]}"
            yield SIZE.found(at, message)


def read_size(head: bytes) -> tuple[int, int] | None:
    """Width and height by a picture's first bytes; None for kinds that are not known here.

    Raises:
        MediaError: it is empty or torn.
    """
    if not head:
        raise MediaError("the file is empty")
    if head.startswith(_PNG):
        if len(head) < 24 or head[12:16] != b"IHDR":
            raise MediaError("the PNG is torn: its header is missing")
        width, height = struct.unpack_from(">2I", head, 16)
        return width, height
    if head[:6] in (b"GIF87a", b"GIF89a") and len(head) >= 10:
        return struct.unpack_from("<2H", head, 6)
    if head.startswith((b"BM", b"\xff\xd8\xff")):
        from workbench.media.kind_reader import read_kind

        try:
            kind = read_kind(head)
        except MediaError:
            return None  # its header may lie behind what was read
        return kind.width, kind.height
    return None


def _find_orphans(card: CheckedCard, rule: MenuRule, claimed: set[VolumePath]) -> Iterator[Finding]:
    """Files that a pattern fits and that no entry claims; only patterns that say more than a suffix."""
    entries = {entry.at for menu in card.menus for entry in menu.entries}
    named = [(picture.path, picture.kind) for picture in rule.pictures]
    named += [(pattern, COMPANION) for pattern in rule.companions]
    for pattern, kind in named:
        if pattern.volume not in card.roles or not _is_telling(pattern):
            continue
        fold = card.profile.volumes[pattern.volume].names == "fat"
        glob = translate(ground_pattern(card.index, pattern).path, fold=fold)
        for path, is_folder, bindings in card.index.find(pattern.volume, glob):
            at = VolumePath(pattern.volume, path)
            name = bindings.get("entry") or bindings.get("stem") or ""
            if is_folder or at in entries or at.name.startswith(".") or _is_claimed(at, claimed):
                continue
            if name and not card.is_hidden_entry(rule, name) and not _is_known(card, at):
                remedy = None if kind == COMPANION else putting_away(at)
                message = f"is the {kind} of {shown(name)!r}, which is not in the menu {rule.id}"
                yield ORPHANED.found(at, message, remedy=remedy)


def _is_claimed(at: VolumePath, claimed: set[VolumePath]) -> bool:
    """Whether it goes with an entry, or lies in a folder that does."""
    while at.path:
        if at in claimed:
            return True
        at = at.parent
    return False


def _is_telling(pattern: FilePattern) -> bool:
    """Whether what is named so can only be of an entry: `keep/{entry}.*` takes in anything."""
    last = pattern.path.rpartition("/")[2]
    return not set("*?[") & set(last) and last not in ("{entry}", "{stem}")


def _is_known(card: CheckedCard, at: VolumePath) -> bool:
    """Whether it has a use of its own: a manifest, a splash."""
    if any(manifest.at == at or manifest.real == at for manifest in card.manifests):
        return True
    return any(str(splash.file) == str(at) for splash in card.profile.splashes)
