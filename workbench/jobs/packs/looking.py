"""Looks into a pack: where each part would go, and what it would meet there. Reads; writes nothing anywhere.

Names are judged before a byte of content is read; content is counted and hashed as it comes.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path

from workbench.card.globs import translate
from workbench.card.paths import VolumePath
from workbench.card.profile import NamesRule, Profile
from workbench.card.tree import Tree
from workbench.host.archives.limits import ArchiveError, Limits
from workbench.host.archives.member import Archive, Member
from workbench.host.archives.opening import open_archive
from workbench.jobs.litter import find_litter
from workbench.jobs.packs.card_fit import CardFit
from workbench.jobs.packs.judging import clean_path, find_clashing_names, find_path_fault
from workbench.jobs.packs.mapping import Mapped, map_listed, map_parts
from workbench.jobs.packs.pack_list import LIST_BYTES, PACK_LIST, PackList, read_pack_list
from workbench.jobs.packs.parts import PackLook, Part, Traces
from workbench.shown import shown
from workbench.values import dataclass, field, replace

_HEAD = 16


@dataclass(frozen=True, slots=True)
class Answers:
    """What the person said about a pack."""

    into: Mapping[str, VolumePath] = field(default_factory=dict)
    """Where top folders go, by their path in the pack; `""` for all that is not plain."""
    without: tuple[str, ...] = ()
    """Globs of paths in the pack that are left out."""
    any_device: bool = False
    """Whether a pack that was made for another device is taken."""


class _NoTraces:
    """A card without a ledger."""

    def name_of(self, at: VolumePath, sha256: str) -> str:
        del at, sha256
        return ""

    def author_of(self, at: VolumePath) -> str:
        del at
        return ""


def look(
    tree: Tree,
    profile: Profile,
    source: Path,
    *,
    answers: Answers | None = None,
    traces: Traces | None = None,
    limits: Limits | None = None,
) -> PackLook:
    """What is in a pack and what would become of it.

    Raises:
        ArchiveError: it cannot be read, is damaged, encrypted through and through, or asks for too much.
        CardwrightError: the pack's own list cannot be read.
    """
    looking = _Looking(tree, profile, source, answers or Answers(), traces or _NoTraces(), limits or Limits())
    return looking.look()


class _Looking:
    def __init__(
        self,
        tree: Tree,
        profile: Profile,
        source: Path,
        answers: Answers,
        traces: Traces,
        limits: Limits,
    ) -> None:
        self._tree = tree
        self._profile = profile
        self._answers = answers
        self._traces = traces
        self._limits = limits
        self._archive = open_archive(source, limits)
        self._fit = CardFit(tree, profile)
        rules = {rule.names for rule in profile.volumes.values()}
        self._rule: NamesRule = "fat" if "fat" in rules else "exact"
        self._hashes: dict[str, str] = {}
        self._heads: dict[str, bytes] = {}
        self._list_bytes = b""

    def look(self) -> PackLook:
        members = [(clean_path(one.path), one) for one in self._archive.members()]
        members = [(path, one) for path, one in members if one.kind != "folder" or path not in ("", ".")]
        names = {path for path, one in members if one.kind == "file"}
        litter = {path for path, one in members if self._is_surely_litter(path, one, names)}
        kept = [(path, one) for path, one in members if path not in litter and not self._is_without(path)]
        faults = self._judge(kept)
        if not faults:
            self._read({path: one for path, one in members if one.kind == "file"})
            litter |= {path for path in self._heads if self._litter_word(path, names)}
        pack = read_pack_list(self._list_bytes, str(self._archive.path)) if self._list_bytes else None
        files = [
            path for path, one in kept if one.kind != "folder" and path not in litter and path not in faults
        ]
        wanted = [path for path in files if pack is None or path != PACK_LIST]
        mapped = self._map(wanted, pack)
        parts = [
            self._describe(path, one, faults, litter, names, mapped, pack)
            for path, one in members
            if one.kind != "folder" or path in faults
        ]
        return PackLook(
            archive=self._archive,
            name=pack.name if pack is not None else _name_of(self._archive.path),
            list=pack,
            sha256="" if self._archive.format == "folder" else _hash_file(self._archive.path),
            parts=tuple(one for one in parts if one.path != PACK_LIST or pack is None),
            questions=mapped.questions,
            notes=tuple(self._note(pack)),
        )

    # Names

    def _is_without(self, path: str) -> bool:
        return any(translate(one, fold=True).match(path) is not None for one in self._without_globs())

    def _without_globs(self) -> Iterator[str]:
        for one in self._answers.without:
            yield one.strip("/")
            yield one.strip("/") + "/**"
            if "/" not in one:
                yield "**/" + one

    def _is_surely_litter(self, path: str, member: Member, names: set[str]) -> bool:
        """By its name alone: such a name may be one that a card could not keep."""
        if member.fault or find_path_fault(path, "exact", self._limits.depth):
            return False
        return bool(find_litter(path, member.kind != "folder", b"", names.__contains__))

    def _litter_word(self, path: str, names: set[str]) -> str:
        return find_litter(path, True, self._heads.get(path, b""), names.__contains__)

    def _judge(self, members: list[tuple[str, Member]]) -> dict[str, str]:
        """The paths that are refused, each with why."""
        faults: dict[str, str] = {}
        for path, member in members:
            fault = member.fault or find_path_fault(path, self._rule, self._limits.depth)
            if fault:
                faults[path] = fault
        sound = [(path, one) for path, one in members if path not in faults]
        return faults | dict(find_clashing_names(sound, self._rule))

    # Content

    def _read(self, members: Mapping[str, Member]) -> None:
        """Hash every file, in one pass."""
        paths = {one.path: path for path, one in members.items()}

        def take(member: Member, pieces: Iterable[bytes]) -> None:
            hashed, head, size = hashlib.sha256(), b"", 0
            path = paths[member.path]
            held: list[bytes] = []
            for piece in pieces:
                hashed.update(piece)
                head = head or piece[:_HEAD]
                size += len(piece)
                if path == PACK_LIST and size <= LIST_BYTES:
                    held.append(piece)
            self._hashes[path] = hashed.hexdigest()
            self._heads[path] = head
            if path == PACK_LIST:
                self._list_bytes = b"".join(held)
            if size != member.size:
                raise ArchiveError(
                    f"{self._archive.path}: {shown(path)!r} holds {size:,} bytes and not the {member.size:,} "
                    "that it claims; nothing was written.",
                    path=str(self._archive.path),
                )

        self._archive.visit(None, take)

    def _map(self, paths: list[str], pack: PackList | None) -> Mapped:
        if pack is not None:
            return map_listed(paths, self._tree)
        return map_parts(paths, self._tree, self._profile, self._answers.into)

    # What would become of each

    def _describe(
        self,
        path: str,
        member: Member,
        faults: Mapping[str, str],
        litter: set[str],
        names: set[str],
        mapped: Mapped,
        pack: PackList | None,
    ) -> Part:
        part = Part(
            path,
            mapped.places.get(path),
            "undecided",
            size=member.size,
            sha256=self._hashes.get(path, ""),
            # A zip made on Windows says nothing of modes; a script is known by its first two bytes.
            is_executable=member.is_executable or self._heads.get(path, b"").startswith(b"#!"),
        )
        if self._is_without(path):
            return replace(part, at=None, standing="left-out")
        if path in faults:
            return replace(part, at=None, standing="refused", because=faults[path])
        if path in litter:
            return replace(part, at=None, standing="litter", because=f"is {self._litter_word(path, names)}")
        if path in mapped.about:
            return replace(part, standing="about", because="is about the pack, not for the card")
        if pack is not None and part.sha256 and pack.files.get(path) != part.sha256:
            return replace(part, standing="refused", because="is not what the pack's own list says")
        return part if part.at is None else self._compare(part, part.at)

    def _compare(self, part: Part, at: VolumePath) -> Part:
        fault = self._fit.find_fault(at)
        if fault:
            return replace(part, standing="refused", because=fault)
        item = self._fit.file_at(at)
        if item is None:
            return replace(part, standing="new")
        before = self._fit.hash_of(item)
        part = replace(part, before=before)
        if before == part.sha256:
            return replace(part, standing="same")
        earlier = self._traces.name_of(at, before)
        if earlier:
            return replace(
                part, standing="changed", because=f"replaces what the pack {shown(earlier)} put there"
            )
        whose = self._traces.author_of(at)
        if whose:
            return replace(part, standing="clash", because=f"was {whose}")
        kind = self._fit.kind_of(at)
        if kind:
            return replace(part, standing="clash", because=f"is {kind}, and differs")
        return replace(part, standing="changed", because="replaces what is there")

    def _note(self, pack: PackList | None) -> Iterator[str]:
        if pack is not None and pack.profile != self._profile.name:
            yield (
                f"The pack was made for {shown(pack.profile)}, and this card is described as "
                f"{shown(self._profile.name)}."
            )


def is_for_other_device(found: PackLook, profile: Profile) -> bool:
    """Whether the pack says that it was made for another device."""
    return found.list is not None and found.list.profile != profile.name


def _name_of(path: Path) -> str:
    name = path.name or path.resolve().name
    for suffix in (".gz", ".xz", ".zst", ".tar", ".tgz", ".txz", ".tzst", ".zip"):
        if name.casefold().endswith(suffix) and len(name) > len(suffix):
            name = name[: -len(suffix)]
    return name


def _hash_file(path: Path) -> str:
    with open(path, "rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def read_part(archive: Archive, part: Part, limit: int) -> bytes | None:
    """A part's bytes; None where there are more than `limit`."""
    held: list[bytes] = []

    def take(_member: Member, pieces: Iterable[bytes]) -> None:
        size = 0
        for piece in pieces:
            size += len(piece)
            if size > limit:
                held.clear()
                return
            held.append(piece)

    paths = [one.path for one in archive.members() if clean_path(one.path) == part.path]
    archive.visit(paths, take)
    return b"".join(held) if held or part.size == 0 else None
