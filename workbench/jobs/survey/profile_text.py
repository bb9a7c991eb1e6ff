"""Writes a survey as a profile: valid, nothing in it that is the same without, every line with its reason."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from workbench.jobs.survey.findings import Finding, Line, Survey
from workbench.shown import shown

_LISTS = (("menus",), ("splash",))
_WIDEST = 110


def profile_text(survey: Survey) -> str:
    """The profile as TOML with comments."""
    import tomlkit

    kept = [one for one in survey.findings if one.standing != "dropped"]
    document = tomlkit.document()
    for sentence in _heading(survey):
        document.add(tomlkit.comment(shown(sentence)))
    _fill(document, [one for one in kept if one.table == ()])
    for table in ("panel", "volumes", "variables"):
        _add_table(document, table, [one for one in kept if one.table[:1] == (table,)])
    _add_menus(document, [one for one in kept if one.table[:1] == ("menus",)])
    splashes = [one for one in kept if one.table == ("splash",)]
    if splashes:
        document.append("splash", _tables(splashes))
    for table in ("animation", "device"):
        _add_table(document, table, [one for one in kept if one.table[:1] == (table,)])
    return tomlkit.dumps(document)


def write_line(finding: Finding) -> str:
    """The finding's lines as one: `file = "data:house/lately.txt", is = "{entry}"`."""
    return ", ".join(f"{line.key} = {write_value(line.value)}" for line in finding.lines)


def _heading(survey: Survey) -> Iterable[str]:
    yield f"{survey.name}: a profile that a survey of a card proposed. Look through it before you trust it."
    yield "Behind each line stands why it is there; a guess is marked with '?'."
    for question in survey.questions:
        yield f"? Not asked yet: {question.words} Until then: {question.default}."


def _add_table(document: Any, name: str, findings: Sequence[Finding]) -> None:
    import tomlkit

    if not findings:
        return
    table = tomlkit.table(is_super_table=all(len(one.table) > 1 for one in findings))
    _fill(table, [one for one in findings if len(one.table) == 1])
    below: dict[str, list[Finding]] = {}
    for one in findings:
        if len(one.table) > 1:
            below.setdefault(one.table[1], []).append(one)
    for key, mine in below.items():
        inner = tomlkit.table()
        _fill(inner, mine)
        table.append(key, inner)
    document.append(name, table)


def _add_menus(document: Any, findings: Sequence[Finding]) -> None:
    import tomlkit

    menus = tomlkit.aot()
    for menu_id in dict.fromkeys(one.table[1] for one in findings):
        mine = [one for one in findings if one.table[1] == menu_id]
        if not any(len(one.table) == 2 and any(line.key == "root" for line in one.lines) for one in mine):
            continue  # a menu without its root is dropped as a whole
        menu = tomlkit.table()
        _fill(menu, [one for one in mine if len(one.table) == 2])
        for part in ("references", "pictures"):
            rules = [one for one in mine if one.table[2:] == (part,)]
            if rules:
                menu.append(part, _tables(rules))
        menus.append(menu)
    if len(menus):
        document.append("menus", menus)


def _tables(findings: Iterable[Finding]) -> Any:
    import tomlkit

    tables = tomlkit.aot()
    for finding in findings:
        table = tomlkit.table()
        _fill(table, [finding])
        tables.append(table)
    return tables


def _fill(table: Any, findings: Iterable[Finding]) -> None:
    import tomlkit

    for finding in findings:
        for line in finding.lines:
            item = _item(line.value)
            why = f"{'? ' if finding.confidence < 0.5 else ''}{shown(line.why)}"
            if len(line.key) + len(write_value(line.value)) + len(why) + 6 <= _WIDEST:
                item.comment(why)
            else:
                table.add(tomlkit.comment(why))
            table.append(line.key, item)


def _item(value: Any) -> Any:
    import tomlkit

    if isinstance(value, dict):
        inline = tomlkit.inline_table()
        for key, inner in value.items():
            inline.append(key, _item(inner))
        return inline
    return tomlkit.item(value)


def write_value(value: Any) -> str:
    """A value as TOML has it, on one line."""
    return str(_item(value).as_string())


def read_value(text: str) -> Any:
    """The value that a person typed as TOML.

    Raises:
        ValueError: it is none; the message says why.
    """
    from workbench.manifests.toml_reader import read_toml

    read = read_toml(f"value = {text}\n")
    if list(read) != ["value"]:
        raise ValueError("one value is wanted")
    return read["value"]


def make_line(key: str, value: Any, why: str) -> Line:
    """A line with a comment that stays on it."""
    return Line(key, value, " ".join(why.split()))
