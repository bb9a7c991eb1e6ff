"""Gives files their old content back, or takes a change's own edits out of what they have become."""

from __future__ import annotations

from collections.abc import Mapping

from workbench.card.paths import VolumePath
from workbench.changes.fingerprint import name_content, take_fingerprint
from workbench.changes.ground import Ground
from workbench.changes.kept import read_kept
from workbench.changes.overlay import Node
from workbench.changes.plan import digest
from workbench.changes.planned_tree import read_content
from workbench.changes.since import Since, is_inside_kept
from workbench.changes.steps import Prepared, Remove, Write
from workbench.changes.take_back import take_back_edits
from workbench.changes.touched import Touched
from workbench.errors import ManifestError
from workbench.manifests.document import Edit, apply_edits


class OldContents:
    """The contents that one change wrote, taken back."""

    def __init__(self, since: Since, grounds: Mapping[str, Ground]) -> None:
        self.since = since
        self.record = since.record
        self.grounds = grounds

    def is_in_ledger(self, thing: Touched) -> bool:
        """Whether what replaced it was taken away, alone or with a folder, and may come back first."""
        place = self.since.place(self.since.node(thing.replaced_by or thing.id))
        return place is None or place.is_in_ledger

    def is_only_made(self, thing: Touched) -> bool:
        """Whether it is a file that was not there before, in any form."""
        return thing.is_new and thing.kind == "file" and thing.replaces is None

    def take_away(self, thing: Touched) -> bool:
        """A file that the change made goes, if it is as it was made; False where it must come back first."""
        node = self.since.node(thing.id)
        place = self.since.place(node)
        if node is None or place is None:
            return True
        if place.is_in_ledger:
            return not is_inside_kept(place)
        if self._fingerprint(node) == thing.fingerprint:
            self.since.do(Remove(place))
        else:
            self.since.refuse(place, thing, "was changed since, and this change made it")
        return True

    def give_back(self, thing: Touched) -> None:
        """A file that the change wrote over gets its old content, or loses the change's own edits."""
        assert thing.replaced_by is not None
        written = self.record.thing(thing.replaced_by)
        node = self.since.node(written.id)
        place = self.since.place(node)
        if node is None or place is None or place.is_in_ledger:
            self._write_anew(thing, written)
            return
        now = self._read(node)
        if self._fingerprint(node) == written.fingerprint:
            self._write_old(thing, written, node, place, now)
            return
        for step in self._take_back(thing, written, place, now) or ():
            self.since.do(step)

    def _write_old(self, thing: Touched, written: Touched, node: Node, place: VolumePath, now: bytes) -> None:
        assert thing.metadata is not None
        mode = thing.metadata.mode if node.item is None or node.item.mode != thing.metadata.mode else None
        if mode is None and thing.fingerprint == written.fingerprint:
            return
        edits: tuple[Edit, ...] = ()
        if len(written.edits) == 1 and thing.copy == "pack":
            old = self._kept_bytes(thing)
            edits = take_back_edits(old, now, now, written.edits[0]) or ()
            if apply_edits(now, edits) != old:
                edits = ()
        self.since.do(Write(place, self._old_content(thing), digest(now), edits, mode))

    def _write_anew(self, thing: Touched, written: Touched) -> None:
        """What it was replaced by is gone: by this change itself, or by a later one."""
        home = self.since.home(thing)
        folder = self.since.place(home[0]) if home is not None else None
        own = written.final is not None and self.record.place(
            thing.volume, written.final, at_end=True
        ).path.startswith(self.record.folder + "/")
        if not own or home is None or folder is None or self.since.overlay.child(*home) is not None:
            start = self.record.place(thing.volume, thing.visited[0], at_end=False)
            self.since.refuse(start, written, "was moved, replaced or removed since")
            return
        assert thing.metadata is not None
        self.since.do(Write(folder.child(home[1]), self._old_content(thing), None, (), thing.metadata.mode))

    def _take_back(
        self, thing: Touched, written: Touched, place: VolumePath, now: bytes
    ) -> list[Write] | None:
        """Writes that undo each level of edits, last first; None (and a conflict) where one has no place."""
        if not written.edits or not all(written.edits) or thing.copy != "pack":
            self.since.refuse(place, written, "was changed since, in more than this change's own places")
            return None
        levels = [self._kept_bytes(thing)]
        for edits in written.edits:
            levels.append(apply_edits(levels[-1], edits))
        writes: list[Write] = []
        start = now
        for before, after, edits in reversed(list(zip(levels, levels[1:], written.edits, strict=False))):
            taken = take_back_edits(before, after, now, edits)
            if taken is None:
                self.since.refuse(
                    place, written, "was changed since, in the very places that this change edited"
                )
                return None
            new = apply_edits(now, taken)
            writes.append(Write(place, new, digest(now), taken))
            now = new
        if _is_sound(place.name, start) and not _is_sound(place.name, now):
            self.since.refuse(place, written, "was changed since, and would be malformed without this change")
            return None
        return writes

    def _old_content(self, thing: Touched) -> bytes | Prepared:
        if thing.copy == "pack":
            return self._kept_bytes(thing)
        ground = self.grounds[thing.volume]
        file = ground.root / self.record.folder / "kept" / str(thing.id)
        kind, size, sha256 = thing.fingerprint.split(":")
        if kind != "file":
            sha256 = digest(file.read_bytes())
        return Prepared(str(file), int(size), sha256)

    def _kept_bytes(self, thing: Touched) -> bytes:
        return read_kept(self.grounds[thing.volume], self.record, thing)

    def _fingerprint(self, node: Node) -> str | None:
        if node.content is not None:
            content = read_content(node.content, None)
            return name_content(len(content), digest(content))
        assert node.origin is not None
        return take_fingerprint(self.grounds[node.volume], node.origin.path)

    def _read(self, node: Node) -> bytes:
        if node.content is not None:
            return read_content(node.content, None)
        assert node.origin is not None
        return self.since.tree.read(node.origin)


def _is_sound(name: str, raw: bytes) -> bool:
    """Whether a manifest is well formed; what is none counts as sound."""
    from workbench.manifests.detection import detect_format
    from workbench.manifests.opening import open_document

    kind = detect_format(name, raw)
    if kind is None:
        return True
    try:
        open_document(raw, kind, name)
    except ManifestError:
        return False
    return True
