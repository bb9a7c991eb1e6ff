"""Registers an entry where another one is: its rows are made again under the new name, in the same style.

Fields that name the old entry name the new one, the label is the new one's, and every wish is judged.
Lists such as favourites and recents are no registration, and neither is what the device writes itself.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Literal

from workbench.card.globs import translate
from workbench.card.menu import Menu
from workbench.card.paths import VolumePath
from workbench.card.profile import Profile
from workbench.card.reference import ManifestReferences, Reference
from workbench.card.rewriting import Pieces, group_by_node, name_pieces, replace_text
from workbench.jobs.label import plain_name
from workbench.jobs.placing import delete_all, has_place, put_text
from workbench.jobs.reworking import Reworked
from workbench.jobs.rows import Row, Tokens, find_rows, shape_of
from workbench.manifests.document import Document, Value
from workbench.manifests.plain_data import has_value, value_at, with_value
from workbench.manifests.selector import join_pointer, split_pointer
from workbench.values import dataclass

Fate = Literal["rename", "keep", "drop"]
"""What becomes of a field in the new row: it names the new entry, says the same, or is left out."""


@dataclass(frozen=True, slots=True)
class NewEntry:
    """The entry that is to be registered."""

    name: str
    pieces: Pieces
    label: str | None
    """What the device shows for it, where rows hold labels; None to leave the label as it is."""
    is_label_wished: bool
    """Whether a person asked for the label: then it is also put where the other row has none."""


def new_entry(menu: Menu, name: str, label: str | None) -> NewEntry:
    """An entry of that name; without a label it shows its name, without prefix and suffix."""
    shown_as = plain_name(menu, name) if label is None else label
    return NewEntry(name, name_pieces(name, menu.rule), shown_as, label is not None)


def is_device_written(profile: Profile, at: VolumePath) -> bool:
    """Whether the device makes or writes back that file itself."""
    own = (*profile.device.derived, *profile.device.rewritten)
    return any(
        one.volume == at.volume and translate(one.path, fold=True).match(at.path) is not None for one in own
    )


def list_registrations(
    profile: Profile, found: ManifestReferences, is_register: Callable[[Row], bool]
) -> tuple[Row, ...]:
    """The entry's rows in a manifest that registers entries, and does not just list some of them.

    A row that has the entry's name as its key, or its label in it, registers; of any other, `is_register`
    says it.
    """
    if found.document.format in ("shell", "lines") or is_device_written(profile, found.at):
        return ()
    return tuple(
        row for row in find_rows(found) if row.key is not None or row.is_labelled or is_register(row)
    )


def add_row(
    reworked: Reworked,
    found: ManifestReferences,
    row: Row,
    new: NewEntry,
    fates: Mapping[int, Fate],
    dropped: Iterable[str] = (),
) -> bool:
    """Make the row again for the new entry; answers whether it has the label in it.

    Args:
        fates: of the references in the row, by their place in `found.references`; renamed where not named.
        dropped: pointers in the row of what else is left out.

    Raises:
        ManifestError: such a row is there already, or the format cannot hold the name.
    """
    tokens = _new_tokens(reworked.document, row, new)
    gone, kept = set(dropped), set()
    for number, reference in enumerate(found.references):
        fate = fates.get(number, "rename")
        if fate == "drop":
            gone.add(reference.node.pointer)
        elif fate == "keep":
            kept.add(number)
    fields = [
        one for number, one in enumerate(found.references) if number not in kept and _is_field(row, one)
    ]
    groups = [group for group in group_by_node(fields) if group[0].node.pointer not in gone]
    value, left = _rename_texts(found.document.get(row.pointer), row, groups, new)
    reworked.do(lambda document: document.insert(_insertion(row, tokens), value))
    for group in left:
        _rename_field(reworked, group, _moved(row, tokens, group[0].node.pointer), new)
    delete_all(reworked, {_moved(row, tokens, pointer) for pointer in gone})
    return _set_label(reworked, found, row, tokens, new)


def _new_tokens(document: Document, row: Row, new: NewEntry) -> Tokens:
    if row.key is not None:
        piece = new.pieces["stem" if row.key.name == "stem" else "entry"]
        return (*row.tokens[:-1], row.key.before + piece + row.key.after)
    return (*row.tokens[:-1], str(len(document.get(join_pointer(row.tokens[:-1])))))


def _insertion(row: Row, tokens: Tokens) -> str:
    return join_pointer(tokens if row.key is not None else (*tokens[:-1], "-"))


def _moved(row: Row, tokens: Tokens, pointer: str) -> str:
    """A place of the old row in the new one."""
    return join_pointer((*tokens, *split_pointer(pointer)[len(row.tokens) :]))


def _is_field(row: Row, reference: Reference) -> bool:
    """Whether it stands in the row, and is not the row's own key."""
    pointer = reference.node.pointer
    is_own_key = pointer == row.pointer and reference.node.role in ("key", "section")
    return row.holds(pointer) and not is_own_key


def _rename_texts(
    value: Value, row: Row, groups: Iterable[Sequence[Reference]], new: NewEntry
) -> tuple[Value, list[Sequence[Reference]]]:
    """The row's value with the new entry in its texts, and what is no text of it: keys, for one.

    Each wish is judged with the whole manifest; a row that says at once what it should needs just one.
    """
    left: list[Sequence[Reference]] = []
    for group in groups:
        path = split_pointer(group[0].node.pointer)[len(row.tokens) :]
        text = value_at(value, path) if has_value(value, path) else None
        if isinstance(text, str) and group[0].node.role not in ("key", "section"):
            value = with_value(value, path, _renamed(group, text, new))
        else:
            left.append(group)
    return value, left


def _renamed(group: Sequence[Reference], there: str, new: NewEntry) -> str:
    """The text of some references, as it is there, with the new entry in it."""
    text = group[0].text
    start, end, part = replace_text(group, lambda _: new.pieces)
    # A text as data and as a node may differ at its ends (white space, a comment): those stay.
    before, _, after = there.partition(text)
    return before + text[:start] + part + text[end:] + after


def _rename_field(reworked: Reworked, group: Sequence[Reference], pointer: str, new: NewEntry) -> None:
    if group[0].node.role in ("key", "section"):
        key = _renamed(group, group[0].text, new)
        reworked.do(lambda document: document.rename_key(pointer, key))
        return
    text = _renamed(group, str(reworked.document.get(pointer)), new)
    reworked.do(lambda document: document.set(pointer, text))


def _set_label(
    reworked: Reworked, found: ManifestReferences, row: Row, tokens: Tokens, new: NewEntry
) -> bool:
    label = found.rule.label
    if label is None or new.label is None or not row.is_labelled:
        return False
    size, text = len(row.shape), new.label
    tail = label.at.tokens[size:]
    if shape_of(label.at.tokens[:size]) != row.shape or any(token.name is not None for token in tail):
        return False
    pointer = join_pointer((*tokens, *(token.before for token in tail)))
    if not new.is_label_wished and not has_place(reworked.document, pointer):
        return False
    reworked.do(lambda document: put_text(document, pointer, text))
    return True
