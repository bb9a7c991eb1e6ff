"""Finds where an entry is mentioned under no rule: listed for the person, never changed.

The name counts as a word of its own, spelled exactly so. Text gives the line, anything else the offset.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from workbench.card.mention import Mention
from workbench.card.needle import Needle
from workbench.card.paths import VolumePath
from workbench.manifests.document import Format

_LONGEST_LINE = 200
_AROUND = 24
_HEAD = 8192


def find_mentions(
    raw: bytes,
    at: VolumePath,
    needle: Needle,
    longer: tuple[bytes, ...],
    *,
    format: Format | None = None,
    covered: Iterable[tuple[int, int]] = (),
) -> Iterator[Mention]:
    """Mentions in one file; one for each line, or for each place in a binary file.

    Args:
        longer: other names that hold this one: where one of them stands, this one is not meant.
        format: how the file is read under the profile's rules, if it is; encoded spellings count then.
        covered: spans that a rule answers for.
    """
    spans = list(covered)
    is_text = _is_text(raw)
    seen: set[int] = set()
    for start, end in needle.find_words(raw, format):
        if any(low <= start and end <= high for low, high in spans) or _is_longer(raw, start, end, longer):
            continue
        if not is_text:
            yield Mention(at, None, _around(raw, start, end), offset=start)
            continue
        first = raw.rfind(b"\n", 0, start) + 1
        if first not in seen:
            seen.add(first)
            yield mention_line(raw, at, start)
    if not is_text:
        yield from _find_wide(raw, at, needle)


def mention_line(raw: bytes, at: VolumePath, start: int) -> Mention:
    """The mention of the line in which byte `start` stands."""
    first = raw.rfind(b"\n", 0, start) + 1
    return Mention(at, raw.count(b"\n", 0, start) + 1, _line_at(raw, first, start))


def find_name_mention(at: VolumePath, needle: Needle, longer: tuple[bytes, ...]) -> Mention | None:
    """A file or folder whose own name holds the entry's as a word."""
    raw = at.name.encode("utf-8", "surrogateescape")
    spans = (span for span in needle.find_words(raw) if not _is_longer(raw, *span, longer))
    return Mention(at, None, at.name) if next(spans, None) is not None else None


def _is_text(raw: bytes) -> bool:
    return b"\0" not in raw[:_HEAD]


def _is_longer(raw: bytes, start: int, end: int, longer: tuple[bytes, ...]) -> bool:
    """Whether another entry's longer name stands around these bytes."""
    return any(
        raw.find(name, max(0, start - len(name)), end + len(name)) >= 0 and _covers(raw, start, end, name)
        for name in longer
    )


def _covers(raw: bytes, start: int, end: int, name: bytes) -> bool:
    at = raw.find(name, max(0, end - len(name)), start + len(name))
    return 0 <= at <= start and end <= at + len(name)


def _find_wide(raw: bytes, at: VolumePath, needle: Needle) -> Iterator[Mention]:
    """The name in UTF-16, as some programs keep text in binary files."""
    wide = needle.wide
    place = raw.find(wide)
    while place >= 0:
        yield Mention(at, None, needle.text, offset=place)
        place = raw.find(wide, place + len(wide))


def _line_at(raw: bytes, first: int, start: int) -> str:
    end = raw.find(b"\n", start)
    line = raw[first : end if end >= 0 else len(raw)].rstrip(b"\r")
    if first == 0:
        line = line.removeprefix(b"\xef\xbb\xbf")
    if len(line) > _LONGEST_LINE:
        line = raw[max(first, start - _LONGEST_LINE // 2) :][:_LONGEST_LINE].partition(b"\n")[0]
    return line.decode("utf-8", "replace").strip()


def _around(raw: bytes, start: int, end: int) -> str:
    """The name with the printable text right around it."""
    before = raw[max(0, start - _AROUND) : start].decode("utf-8", "replace")
    after = raw[end : end + _AROUND].decode("utf-8", "replace")
    low = len(before)
    while low > 0 and _is_plain(before[low - 1]):
        low -= 1
    high = 0
    while high < len(after) and _is_plain(after[high]):
        high += 1
    return f"{before[low:]}{raw[start:end].decode('utf-8', 'replace')}{after[:high]}".strip()


def _is_plain(char: str) -> bool:
    return char.isprintable() and char != "\ufffd"
