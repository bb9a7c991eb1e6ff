"""Reads the plainest manifests at once: INI of bare pairs, XML of elements with attributes or one text.

Most that a device writes is of that kind. What is in any way more than that is left to the strict readers, so
that nothing is taken here which they would refuse; a test holds the data equal to theirs.
"""

from __future__ import annotations

from typing import Any

from workbench.late_pattern import late_pattern

_INI_LINE = late_pattern(
    r"(?:\[(?P<section>[^\W_][\w .&+-]*)\]|(?P<key>[^\W_](?:[\w .-]*\w)?)[ \t]*=[ \t]*"
    r"(?P<value>[^\s\"'#;\\=:$%`\[](?:[^\n\"'#;\\$%`]*[^\s\"'#;\\$%`])?)|[#;][^\n]*|)\Z"
)
_ODD_INI = late_pattern(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\ufeff\ufffe\uffff]")
_ODD_XML = late_pattern(rb"<!|&|<\?(?!xml)|[^\n\t\x20-\x7e]")
_XML_HEAD = late_pattern(
    rb"(?:<\?xml version=[\"']1\.0[\"'](?: encoding=[\"'](?:UTF-8|utf-8)[\"'])?\?>)?\s*<[A-Za-z]"
)
_DEEPEST = 50
_BLANK = " \t\n"


def read_quick_ini(raw: bytes) -> dict[str, Any] | None:
    """Sections of pairs; None where any line is more than a bare header, pair or remark."""
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError:
        return None
    text = text.replace("\r\n", "\n")
    if _ODD_INI.search(text):
        return None
    match_line = _INI_LINE.match
    data: dict[str, Any] = {}
    here: dict[str, str] | None = None
    for line in text.split("\n"):
        found = match_line(line)
        if found is None:
            return None
        kind = found.lastgroup
        if kind == "section":
            name = found["section"]
            if name in data or name.upper() == "DEFAULT" or name != name.strip():
                return None
            here = data[name] = {}
        elif kind == "value":
            key = found["key"]
            if here is None or key in here:
                return None
            here[key] = found["value"]
    return data if here is not None and _has_no_twins(data) else None


def _has_no_twins(data: dict[str, Any]) -> bool:
    """Whether no two keys of a section differ by case alone: readers differ about those."""
    return all(len({key.lower() for key in members}) == len(members) for members in data.values())


def read_quick_xml(raw: bytes) -> dict[str, Any] | None:
    """Elements by name and number, `@` attributes and `#text`; None where there is anything else."""
    if _ODD_XML.search(raw) or not _XML_HEAD.match(raw):
        return None
    builder = _Builder()
    return builder.root if builder.parse(raw) else None


class _Builder:
    """Takes what expat tells; gives up at the first text beside elements."""

    def __init__(self) -> None:
        self.root: dict[str, Any] = {}
        self._open: list[dict[str, Any]] = [self.root]
        self._texts: list[str] = []
        self._is_mixed = False

    def parse(self, raw: bytes) -> bool:
        from xml.parsers import expat

        parser = expat.ParserCreate()
        parser.buffer_text = True
        parser.ordered_attributes = True
        parser.StartElementHandler = self._start
        parser.EndElementHandler = self._end
        parser.CharacterDataHandler = self._texts.append
        try:
            parser.Parse(raw, True)
        except expat.ExpatError:
            return False
        _drop_bare(self.root)
        return not self._is_mixed

    def _start(self, name: str, attributes: list[str]) -> None:
        if self._texts:
            self._take_text()
        element = {f"@{attributes[n]}": attributes[n + 1] for n in range(0, len(attributes), 2)}
        self._open[-1].setdefault(name, []).append(element)
        self._open.append(element)
        self._is_mixed |= len(self._open) > _DEEPEST

    def _end(self, _: str) -> None:
        if self._texts:
            self._take_text()
        _drop_bare(self._open.pop())

    def _take_text(self) -> None:
        text = "".join(self._texts).strip(_BLANK)
        self._texts.clear()
        if text:
            self._is_mixed |= "#text" in self._open[-1]
            self._open[-1]["#text"] = text


def _drop_bare(element: dict[str, Any]) -> None:
    """Leave out the last children of a name that hold nothing: they are no places, and no others count on."""
    for name in [name for name, below in element.items() if isinstance(below, list) and not below[-1]]:
        below = element[name]
        while below and not below[-1]:
            below.pop()
        if not below:
            del element[name]
