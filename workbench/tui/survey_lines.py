"""Findings, their evidence, the menu and the profile as lines of text."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import groupby
from typing import TYPE_CHECKING, Any

from workbench.tui.costs import count_words
from workbench.tui.lines import BLANK, Line, Piece, wrap
from workbench.values import dataclass

if TYPE_CHECKING:
    from workbench.card.entry import Menu
    from workbench.card.mention import Mention as CardMention
    from workbench.card.paths import VolumePath
    from workbench.jobs.survey import Evidence, Finding, Survey, Trial
    from workbench.jobs.survey import Mention as SurveyMention

GUESS = 0.5
"""Under this confidence a finding is called a guess."""
_AROUND = 60
"""Characters of a long line that are shown in front of what is meant."""

_MOST_TOKENS = 3
"""Of a pointer in the list of findings."""

_STANDINGS = {"taken": "taken", "corrected": "corrected", "dropped": "dropped"}


@dataclass(frozen=True, slots=True)
class Seen:
    """A place, with the text of its line."""

    at: VolumePath
    line: int | None
    text: str


# The list of findings


def standing_piece(finding: Finding, *, is_silent: bool) -> list[Piece]:
    """What stands at the right of a finding: how sure it is, or what was made of it."""
    if finding.standing in _STANDINGS:
        return [(_STANDINGS[finding.standing], "muted" if finding.standing == "dropped" else "good")]
    if is_silent:
        return [("! nothing", "problem")]
    return [("? guess", "waiting")] if finding.confidence < GUESS else []


def finding_line(finding: Finding, *, is_silent: bool = False) -> Line:
    """One finding in a line: what it is, and what it says."""
    what, said = describe(finding)
    is_dropped = finding.standing == "dropped"
    return Line.of(
        (f"{what} ", "muted" if is_dropped else "strong"),
        (said, "muted" if is_dropped else "plain"),
        right=standing_piece(finding, is_silent=is_silent),
    )


def describe(finding: Finding) -> tuple[str, str]:
    """What a finding is, and what it says: `menu shelf`, `data:shelf`."""
    values = {line.key: line.value for line in finding.lines}
    table, last = finding.table, finding.id.rpartition(".")[2]
    if table[:1] == ("menus",):
        return _describe_menu(finding, values)
    if table[:1] == ("volumes",):
        return f"volume {table[1]}", _volume_words(values)
    if table == ("variables",):
        return f"variable {next(iter(values), '')}", str(next(iter(values.values()), ""))
    if table == ("splash",):
        return f"splash {values.get('moment', last)}", str(values.get("file", ""))
    if table == ("panel",):
        turn = values.get("rotate", 0)
        size = f"{values.get('width')}×{values.get('height')}"
        return "panel", f"{size}, pictures turned by {turn}°" if turn else size
    if table == ("animation",):
        return "boot animation", str(values.get("folder", ""))
    if table == ():
        return "device", str(values.get("name", ""))
    return finding.id, ", ".join(values)


def _describe_menu(finding: Finding, values: Mapping[str, Any]) -> tuple[str, str]:
    if finding.table[2:] == ("references",):
        return " in", _reference_words(values)
    if finding.table[2:] == ("pictures",):
        size = values.get("size")
        measure = f"{size[0]}×{size[1]} " if isinstance(size, list) and len(size) == 2 else ""
        return f" {values.get('kind', 'picture')}", f"{measure}{values.get('path', '')}"
    if "root" in values:
        return f"menu {values.get('id', '')}", str(values["root"])
    if "label" in values:
        label = values["label"] if isinstance(values["label"], dict) else {}
        return " shown names", _reference_words(label)
    if "companions" in values:
        return " go along", _all_of(values["companions"])
    if "prefix" in values:
        prefix = values["prefix"]
        return " prefix", str(prefix.get("style", "") if isinstance(prefix, dict) else prefix)
    return f" {finding.id.rpartition('.')[2]}", _all_of(values.values())


def _reference_words(values: Mapping[str, Any]) -> str:
    """`/things/{entry} of register.json`: the file by its own name; where every text counts, it alone."""
    file = str(values.get("file", "")).rpartition(":")[2].rpartition("/")[2]
    if "at" not in values:
        return file
    tokens = str(values["at"]).split("/")
    # Of a long way down the end tells rules apart.
    at = "/".join(["…", *tokens[-_MOST_TOKENS:]]) if len(tokens) > _MOST_TOKENS + 1 else str(values["at"])
    return f"{at} of {file}"


def _volume_words(values: Mapping[str, Any]) -> str:
    mount = f"{values['device_path']}: " if "device_path" in values else ""
    return mount + _all_of(values.get("identify", ()))


def _all_of(values: Any) -> str:
    return (
        ", ".join(map(str, values))
        if isinstance(values, Iterable) and not isinstance(values, str)
        else str(values)
    )


# What speaks for one


def finding_lines(
    finding: Finding, seen: Sequence[Seen], width: int, *, silent: str = "", is_surveyed: bool = True
) -> Iterator[Line]:
    """A finding in full: why, the places that speak for it with their text, and its lines of the profile."""
    from workbench.jobs.survey.profile_text import write_value

    for number, part in enumerate(wrap(" ".join(describe(finding)).strip(), width)):
        right = standing_piece(finding, is_silent=bool(silent)) if not number else []
        yield Line.of((part, "strong"), right=right)
    if silent:
        yield from _paragraph(f"! It matches nothing on this card: {silent}.", width, "problem")
    yield from _paragraph(finding.because, width) if finding.because else ()
    if is_surveyed and finding.standing == "proposed":
        yield Line.of((_sureness(finding.confidence), "muted"))
    if seen:
        yield BLANK
        yield Line.of(("seen at" if is_surveyed else "matches, among others, at", "muted"))
        yield from seen_lines(seen)
    yield BLANK
    yield Line.of(("in the profile", "muted"))
    for line in finding.lines:
        yield from (
            Line.of(part) for part in wrap(f"{line.key} = {write_value(line.value)}", width, indent="    ")
        )
        for part in wrap(f"# {line.why}", width - 4) if line.why else ():
            yield Line.of(("    " + part, "muted"))
    for other in finding.alternatives:
        yield from (Line.of((part, "muted")) for part in wrap(f"or: {other}", width, indent="    "))


def _sureness(confidence: float) -> str:
    if confidence < GUESS:
        return f"a guess ({confidence:.0%} sure): look at it"
    return f"{confidence:.0%} sure"


def seen_lines(seen: Iterable[Seen]) -> Iterator[Line]:
    """Places, each with the text of its line below it."""
    for one in seen:
        where = f"{one.at}, line {one.line}" if one.line else str(one.at)
        yield Line.of((where, "place"), target=(one.at, one.line) if one.line else None)
        if one.line and one.text:
            yield Line.of("    ", one.text, target=(one.at, one.line))


def line_text(raw: bytes, evidence: Evidence) -> str:
    """The text of the line that is meant; of a long one, what stands around the words."""
    lines = raw.splitlines()
    if evidence.line is None or evidence.line > len(lines):
        return evidence.words
    text = lines[evidence.line - 1].decode("utf-8", "replace").strip()
    start = text.find(evidence.words)
    return f"… {text[start - _AROUND :]}" if start > 2 * _AROUND else text


def _paragraph(text: str, width: int, tone: str = "plain") -> Iterator[Line]:
    for part in wrap(text, width):
        yield Line(((part, tone),))  # type: ignore[arg-type]


# What else there is to say


def mention_lines(mentions: Sequence[SurveyMention | CardMention], width: int) -> Iterator[Line]:
    """Places that name an entry under no rule, by file."""
    said = (
        "These places name an entry, and no rule of the profile answers for them: a rename would leave "
        "them as they are, and list them."
    )
    yield from _paragraph(said, width)
    for at, group in groupby(mentions, key=lambda one: one.at):
        yield BLANK
        yield Line.of((str(at), "place"))
        because = ""
        for one in group:
            where = f"line {one.line}" if one.line else f"byte {getattr(one, 'offset', None)}"
            text = one.text.strip()[: 3 * _AROUND]
            yield Line.of((f"  {where:<10} ", "muted"), text, target=(at, one.line) if one.line else None)
            because = getattr(one, "because", "")
        for part in wrap(because, width - 4) if because else ():
            yield Line.of(("    " + part, "muted"))


def aside_lines(survey: Survey, width: int) -> Iterator[Line]:
    """What was left out of the profile or not looked into, and why."""
    for note in survey.notes:
        yield from _paragraph(note, width)
    for number, skipped in enumerate(survey.skipped):
        if number or survey.notes:
            yield BLANK
        yield Line.of((str(skipped.at), "place"))
        because = skipped.because.removeprefix(f"{skipped.at}: ")
        yield from (Line.of(("    " + part, "muted")) for part in wrap(because, width - 4))


def menu_lines(menus: Sequence[Menu], width: int) -> Iterator[Line]:
    """The menus as the profile has them read: entries in order, as the device shows them."""
    if not menus:
        yield from _paragraph("The profile names no menu, so the device would be shown with none.", width)
    for number, menu in enumerate(menus):
        if number:
            yield BLANK
        entries = (
            "not on this card" if menu.is_missing else count_words(len(menu.entries), "entry", "entries")
        )
        yield Line.of((menu.id, "strong"), (f"  {entries}, order {menu.order}", "muted"))
        for entry in menu.entries:
            apart = entry.has_label and entry.label != entry.name
            name: list[Piece] = [(entry.name, "muted")] if apart else []
            yield Line.of((f"{entry.position:>4}  ", "muted"), entry.label or entry.name, right=name)


def text_lines(text: str, width: int) -> Iterator[Line]:
    """The profile as it would be written; what is too long for a line goes on below it."""
    for line in text.splitlines():
        for part in wrap(line, width, indent="    "):
            yield Line.of((part, "muted") if line.startswith("#") else part)


def trial_words(trial: Trial) -> str:
    """What a trial came to, in a sentence."""
    said = count_words(trial.entries, "entry is", "entries are")
    silent = (
        f"{count_words(len(trial.silent), 'rule matches', 'rules match')} nothing"
        if trial.silent
        else "every rule matches something"
    )
    unruled = (
        count_words(len(trial.unruled), "place names", "places name") if trial.unruled else "no place names"
    )
    return f"Tried on this card: {said} found; {silent}; {unruled} an entry under no rule."
