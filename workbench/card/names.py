"""Which names a device can keep, and which two names are one to it. Pure rules on strings.

`fat` is the rule of FAT and exFAT and of the Windows hosts that such a card will meet (Microsoft FAT32
specification 1.03; exFAT specification 7.7.3, table 35; "Naming Files, Paths, and Namespaces");
`exact` takes what any POSIX file system takes.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable

from workbench.errors import NameRefusedError
from workbench.late_pattern import late_pattern
from workbench.shown import shown
from workbench.typed import TYPE_CHECKING

if TYPE_CHECKING:
    from workbench.card.profile import NamesRule

LONGEST = 255
"""UTF-16 units in a FAT or exFAT name; bytes in a name of most POSIX file systems."""

_ILLEGAL = frozenset('"*/:<>?\\|')
_DIGITS = "123456789\u00b9\u00b2\u00b3"
_RESERVED = frozenset(
    [
        "CON",
        "PRN",
        "AUX",
        "NUL",
        "CONIN$",
        "CONOUT$",
        *(kind + digit for kind in ("COM", "LPT") for digit in _DIGITS),
    ]
)
_ODD = late_pattern("[\x00-\x1f/\ud800-\udfff]")
_FALLBACK = "unnamed"


def count_units(text: str) -> int:
    """UTF-16 units: a character above U+FFFF costs two."""
    return len(text) if text.isascii() else len(text) + sum(char > "\uffff" for char in text)


def check_name(name: str, rule: NamesRule, limit: int = LONGEST) -> None:
    """Refuse a new name that would not survive on the card.

    `limit` is the longest name that the device takes, in UTF-16 units.

    Raises:
        NameRefusedError: with the reason, and a legal name close to it as `suggestion`.
    """
    reason = find_fault(name, rule, limit)
    if reason is not None:
        suggestion = suggest_name(name, rule, limit)
        raise NameRefusedError(
            f"the name {shown(name)!r} {reason}; nothing was changed. Try {shown(suggestion)!r}.",
            suggestion=suggestion,
        )


def check_free(name: str, siblings: Iterable[str], rule: NamesRule, limit: int = LONGEST) -> None:
    """Refuse a new name that is legal but, to the device, the same as one beside it.

    Raises:
        NameRefusedError: with the sibling named, and a free legal name as `suggestion`.
    """
    beside = tuple(siblings)
    for taken in find_collisions(name, beside, rule):
        suggestion = suggest_name(name, rule, limit, taken=beside)
        why = (
            "is there already"
            if taken == name
            else f"is the same to the device as {shown(taken)!r}, which is there"
        )
        raise NameRefusedError(
            f"the name {shown(name)!r} {why}; nothing was changed. Try {shown(suggestion)!r}.",
            suggestion=suggestion,
        )


def find_fault(name: str, rule: NamesRule, limit: int = LONGEST) -> str | None:
    """Why the name is refused, as the end of a sentence that starts with it; None where it is legal."""
    return _find_fault_anywhere(name, limit) or (_find_fault_on_fat(name) if rule == "fat" else None)


def fold_name(name: str, rule: NamesRule) -> str:
    """What two names have in common when they are one name to the device.

    `fat` up-cases each character on its own and only up to U+FFFF, as FAT and exFAT do (exFAT 7.2.5.1): no
    case folding, `ß` stays. Both rules take composed and decomposed letters for one, because half the hosts
    that a card meets do.
    """
    if name.isascii():
        return name if rule == "exact" else name.upper()
    composed = unicodedata.normalize("NFC", name)
    if rule == "exact":
        return composed
    if composed.isascii():
        return composed.upper()
    return unicodedata.normalize("NFC", "".join(map(_up, composed)))


def find_collisions(name: str, siblings: Iterable[str], rule: NamesRule) -> tuple[str, ...]:
    """The siblings that are the same name to the device (the name itself among them, if it is there)."""
    folded = fold_name(name, rule)
    return tuple(sibling for sibling in siblings if fold_name(sibling, rule) == folded)


def suggest_name(name: str, rule: NamesRule, limit: int = LONGEST, taken: Iterable[str] = ()) -> str:
    """A legal name close to this one, and not the same as any in `taken`."""
    legal = _make_legal(name, rule, limit)
    folded = {fold_name(other, rule) for other in taken}
    number, candidate = 2, legal
    while fold_name(candidate, rule) in folded:
        candidate = _make_legal(_number(legal, number, limit), rule, limit)
        number += 1
    return candidate


def _find_fault_anywhere(name: str, limit: int) -> str | None:
    if name in ("", ".", ".."):
        return "is empty" if not name else "means a folder, not an entry"
    odd = _ODD.search(name)
    if odd is not None:
        is_text = odd[0] == "/" or odd[0] < " "
        return (
            f"holds {_describe(odd[0])}, which no card can keep"
            if is_text
            else "holds bytes that are no text"
        )
    longest = min(limit, LONGEST)
    if count_units(name) > longest:
        return f"is too long: {count_units(name)} UTF-16 units, and at most {longest} are allowed"
    return None


def _find_fault_on_fat(name: str) -> str | None:
    if not _ILLEGAL.isdisjoint(name):
        char = next(char for char in name if char in _ILLEGAL)
        return f"holds {_describe(char)}, which FAT and exFAT forbid"
    if name[-1] in ". ":
        return f"ends in {_describe(name[-1])}, which FAT drops and Windows cannot open"
    if name[0] == " ":
        return "starts with a space, which FAT ignores"
    if _is_reserved(name):
        return f"is reserved: a Windows computer takes {_stem(name)!r} for a device and cannot open it"
    return None


def _stem(name: str) -> str:
    return name.partition(".")[0].rstrip(" ")


def _is_reserved(name: str) -> bool:
    return _stem(name).upper() in _RESERVED


def _describe(char: str) -> str:
    if char in ". ":
        return "a dot" if char == "." else "a space"
    return f"the control character U+{ord(char):04X}" if char < " " else f"the character {char}"


def _up(char: str) -> str:
    """One character for one: where Python's mapping gives two (`ᾳ`), the simple one is its title case."""
    if char > "\uffff":
        return char
    for other in (char.upper(), char.title()):
        if len(other) == 1:
            return other
    return char


def _make_legal(name: str, rule: NamesRule, limit: int) -> str:
    longest = max(1, min(limit, LONGEST))
    illegal = _ILLEGAL if rule == "fat" else frozenset("/")
    chars = ("-" if char in illegal else "_" if "\ud800" <= char <= "\udfff" else char for char in name)
    legal = _trim("".join(char for char in chars if char >= " "), rule)
    legal = _trim(_cut(legal, longest), rule)
    if rule == "fat" and _is_reserved(legal):
        stem = _stem(legal)
        marked = f"{stem}_{legal[len(stem) :]}"
        legal = marked if count_units(marked) <= longest else _trim(_cut(f"_{legal}", longest), rule)
    return legal if legal not in ("", ".", "..") else _cut(_FALLBACK, longest)


def _trim(name: str, rule: NamesRule) -> str:
    return name.lstrip(" ").rstrip(". ") if rule == "fat" else name


def _cut(name: str, longest: int) -> str:
    """At most so many UTF-16 units, a short suffix kept."""
    if count_units(name) <= longest:
        return name
    stem, dot, suffix = name.rpartition(".")
    tail = dot + suffix if stem and 0 < len(suffix) <= 8 and count_units(suffix) + 2 <= longest else ""
    head = name[: len(name) - len(tail)]
    while count_units(head) + count_units(tail) > longest:
        head = head[:-1]
    return head.rstrip(" .") + tail if tail else head


def _number(name: str, number: int, limit: int) -> str:
    stem, dot, suffix = name.rpartition(".")
    tail = dot + suffix if stem and len(suffix) <= 8 else ""
    head = name[: len(name) - len(tail)]
    mark = f" {number}"
    room = min(limit, LONGEST) - count_units(tail) - len(mark)
    if room < 1:
        return f"{number}{tail}"
    return _cut(head, room).rstrip(" .") + mark + tail
