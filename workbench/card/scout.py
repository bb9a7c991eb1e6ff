"""A scout: a child process that walks a card and looks through its files while this one gets ready.

A short command spends most of its time on becoming able to work; meanwhile a second processor can do what
needs no more than a listing and a few byte strings. So the scout is sent before anything else is imported,
with the folder that the person named and nothing more; what it is to look for is told later. It only reads,
and only says what this process would find by itself: where there is none, or it fails, nobody misses
anything but time.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Mapping
from contextlib import suppress

from workbench.card.forked import can_fork, end_child, receive, send, widen
from workbench.card.walking import cut_out, scan
from workbench.typed import TYPE_CHECKING, Any, NoReturn

if TYPE_CHECKING:
    from workbench.card.contents import Contents
    from workbench.card.disk_tree import DiskTree
    from workbench.card.needle import Needle
    from workbench.card.profile import NamesRule, Profile
    from workbench.card.sweep import Folder, Hit
    from workbench.card.tree import Listing
    from workbench.manifests.document import Format


class Scout:
    """Sent ahead for one search of one card; use it as a context, at whose end it is gone.

    Args:
        folder: where the card probably is: the scout begins to walk there.
    """

    def __init__(self, folder: str) -> None:
        self._folder = folder
        self._tree: DiskTree | None = None
        self._wanted: tuple[str, str] | None = None
        self._child = 0
        self._pipe = self._order = -1

    def __enter__(self) -> Scout:
        if can_fork():
            self._start()
        return self

    def __exit__(self, *_: object) -> None:
        if self._tree is not None:
            self._tree.scout = None
        if self._child:
            os.close(self._pipe)
            os.close(self._order)
            end_child(self._child)
            self._child = 0

    def serve(self, tree: DiskTree, profile: Profile) -> None:
        """Tell it which volumes the card has, and which files are ruled: from now on the tree asks it."""
        if self._child:
            self._tree, tree.scout = tree, self
            self._tell((dict(tree.host_roots), _find_endings(profile)))

    def look_for(self, name: str, rule: NamesRule) -> None:
        """Say for which name it shall look through the files; to be said once, after `serve`."""
        self._wanted = name, rule
        if self._child:
            self._tell((name, rule))

    def walks(self) -> Mapping[str, Mapping[str, Listing]] | None:
        """Every name on every volume, as the tree itself would list it; to be asked first, and once."""
        walks: Mapping[str, Mapping[str, Listing]] | None = self._receive()
        return walks

    def ruled(self, name: str, rule: NamesRule) -> tuple[list[Hit], dict[Hit, tuple[Format, ...]]] | None:
        """The files that are called as ruled files are; and the formats in which some of them cannot name it.

        To be asked second. None where it was sent for another name, or came to a bad end.
        """
        found: tuple[list[Hit], dict[Hit, tuple[Format, ...]]] | None
        found = self._receive() if self._wanted == (name, rule) else None
        return found

    def hits(self) -> list[Hit] | None:
        """The other files that hold the name or are too large to tell; to be asked last."""
        hits: list[Hit] | None = self._receive()
        return hits

    def _start(self) -> None:
        (pipe, out), (take, order) = os.pipe(), os.pipe()
        try:
            child = os.fork()
        except OSError:
            for end in (pipe, out, take, order):
                os.close(end)
            return
        if child == 0:
            os.close(order)
            os.close(pipe)
            _report(self._folder, take, out)
        os.close(out)
        os.close(take)
        self._child, self._pipe, self._order = child, pipe, order

    def _tell(self, order: tuple[Any, ...]) -> None:
        with suppress(BrokenPipeError):  # it has failed already: there will be no answer
            send(self._order, order)

    def _receive(self) -> Any:
        """The next thing that the child sends; None where there is no child, or it came to a bad end."""
        return receive(self._pipe) if self._child else None


def _report(folder: str, take: int, out: int) -> NoReturn:
    """In the child: write what was found, and end without any of the parent's own endings."""
    try:
        _search(folder, take, out)
        os._exit(0)
    finally:
        os._exit(1)


def _search(folder: str, take: int, out: int) -> None:
    widen(out)
    root = os.path.realpath(os.path.expanduser(folder))
    walked = scan(root) if os.path.isdir(root) else {}
    # What the search needs is imported while the parent finds out what to search for.
    from workbench.card.contents import Contents
    from workbench.card.needle import Needle
    from workbench.card.sweep import list_texts, make_needles, sweep

    roots, formats = receive(take) or ({}, ())
    walks = {volume: _walk(at, root, walked) for volume, at in roots.items()}
    send(out, walks)
    wanted: tuple[str, NamesRule] | None = receive(take)
    if wanted is None:  # nobody asks any more
        return
    name, rule = wanted
    contents, endings = Contents(roots=roots), tuple({ending for ending, _ in formats})
    folders = [
        (volume, inner, list_texts(listing))
        for volume, listings in walks.items()
        for inner, listing in listings.items()
    ]
    send(out, _look_at_ruled(contents, _keep(folders, endings, True), formats, Needle(name, rule)))
    send(out, list(sweep(contents, _keep(folders, endings, False), make_needles(name))))


def _walk(at: str, root: str, walked: Mapping[str, Listing]) -> Mapping[str, Listing]:
    """One volume's listings: out of the walk that is done, or walked now."""
    if walked and at == root:
        return walked
    inside = at.startswith(f"{root}/")
    return (cut_out(walked, at[len(root) + 1 :]) if inside else None) or scan(at)


def _keep(folders: Iterable[Folder], endings: tuple[str, ...], is_ruled: bool) -> Iterator[Folder]:
    """The files that are called as ruled files are, or those that are not."""
    for volume, folder, names in folders:
        yield volume, folder, [name for name in names if name.endswith(endings) is is_ruled]


def _look_at_ruled(
    contents: Contents, folders: Iterable[Folder], formats: Iterable[tuple[str, Format]], needle: Needle
) -> tuple[list[Hit], dict[Hit, tuple[Format, ...]]]:
    found: list[Hit] = []
    cold: dict[Hit, tuple[Format, ...]] = {}
    for volume, folder, names in folders:
        prefix = f"{folder}/" if folder else ""
        found += [(volume, prefix + name) for name in names]
        for name, raw in contents.read_folder(volume, folder, names):
            known = [one for ending, one in formats if name.endswith(ending)]
            if isinstance(raw, bytes) and not any(needle.could_name(raw, one) for one in known):
                cold[volume, prefix + name] = tuple(known)
    return found, cold


def _find_endings(profile: Profile) -> list[tuple[str, Format]]:
    """How the names of ruled files end, with the format of the rule: what stands behind the last wildcard."""
    rules = [rule for menu in profile.menus for rule in menu.references]
    names = [(rule.file.path.rpartition("/")[2], rule.format) for rule in rules]
    endings = [(name[max(map(name.rfind, "*?]}")) + 1 :], format) for name, format in names]
    return [one for one in dict.fromkeys(endings) if one[0]]
