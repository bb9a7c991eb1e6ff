"""Surveys a card: read it once, conclude, ask, take corrections, and write the profile."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import partial

from workbench.card.disk_tree import DiskTree
from workbench.card.profile import Order
from workbench.card.volumes import Card, Volume
from workbench.errors import UsageError
from workbench.jobs.survey.analysis import Analysis, Texts, analyse, find_texts
from workbench.jobs.survey.by_hand import make_menu, with_added
from workbench.jobs.survey.draft import draft_findings
from workbench.jobs.survey.evidence import Witness
from workbench.jobs.survey.findings import Choice, Finding, Line, Mention, Question, Standing, Survey
from workbench.jobs.survey.orders import Pair
from workbench.jobs.survey.reading import Reading, Tell, read_card
from workbench.jobs.survey.site_reading import Read
from workbench.late_pattern import late_pattern
from workbench.order.collation import sort_names
from workbench.shown import shown
from workbench.values import replace

MOST_QUESTIONS = 4
_MOST_MENTIONS = 100
_NO_ROLE = late_pattern(r"[^A-Za-z0-9_-]+")
_TURNS = {"upright": 0, "left": 270, "right": 90}


def read_survey(
    card: Card, *, name: str = "", answers: Mapping[str, str] | None = None, tell: Tell | None = None
) -> Survey:
    """Look at a card and conclude what its layout is.

    Args:
        card: needs no profile; the roles of its volumes become those of the profile.
        name: what to call the device; else the card's own name.
        answers: values of choices by question, as far as they are known.
        tell: told how far it is; what it raises ends the survey.

    Raises:
        CardError: the card is not there.
        UsageError: an answer that no question has.
    """
    card = with_legal_roles(card)
    tree = DiskTree(card)
    if tell is not None:
        tree.watch = partial(_tell_folders, tell)
    reading = read_card(tree, tell=tell)
    tree.watch = None
    if tell is not None:
        tell("comparing what was read", 0, 0)
    texts = find_texts(reading)
    analysis = analyse(reading, texts, {}, tell=tell)
    survey = _conclude(card, name or card.name or "My device", reading, texts, analysis, {}, {})
    return _answer_all(survey, answers or {})


def _tell_folders(tell: Tell, count: int) -> None:
    tell("folders listed", count, 0)


def with_legal_roles(card: Card) -> Card:
    """The same card, its volumes under roles that a profile can name."""
    volumes: dict[str, Volume] = {}
    for role, volume in card.volumes.items():
        plain = _NO_ROLE.sub("-", role).strip("-").lower() or "card"
        legal, number = plain, 2
        while legal in volumes:
            legal, number = f"{plain}-{number}", number + 1
        volumes[legal] = replace(volume, role=legal)
    return replace(card, volumes=volumes, profile=None)


def answer(survey: Survey, question: Question, choice: Choice | str) -> Survey:
    """The survey with one question answered.

    Raises:
        UsageError: the question has no such choice.
    """
    value = choice if isinstance(choice, str) else choice.value
    known = [one.value for one in question.choices]
    if value not in known:
        raise UsageError(
            f"the question {question.id!r} has no answer {shown(value)!r}; "
            f"it has: {', '.join(map(shown, known))}"
        )
    answers = {**survey.answers, question.id: value}
    return _answered(survey, answers)


def add_menu(survey: Survey, root: str) -> Survey:
    """The survey with a menu that a person names: `VOLUME:PATH` of its folder.

    Raises:
        UsageError: there is no such folder, nothing is in it, or it is a menu already.
    """
    made = make_menu(survey, root)
    return _with_added(survey, survey.drafted, made, (*survey.added, *made))


def _with_added(
    survey: Survey, drafted: Sequence[Finding], new: Sequence[Finding], added: Sequence[Finding]
) -> Survey:
    drafted = with_added(drafted, new)
    return replace(survey, added=tuple(added), drafted=drafted, findings=_apply(drafted, survey.edits))


def take_back(survey: Survey) -> Survey:
    """The survey without the answer that was given last; that question is open again."""
    answers = dict(survey.answers)
    if answers:
        answers.popitem()
    return _answered(survey, answers)


def _answered(survey: Survey, answers: Mapping[str, str]) -> Survey:
    analysis = analyse(survey.reading, survey.texts, answers, before=survey.analysis)
    concluded = _conclude(
        survey.card, survey.name, survey.reading, survey.texts, analysis, answers, survey.edits
    )
    return _with_added(concluded, concluded.drafted, survey.added, survey.added)


def take(survey: Survey, finding: Finding) -> Survey:
    """The survey with a finding confirmed."""
    return _edit(survey, finding, "taken", _own_lines(survey, finding))


def drop(survey: Survey, finding: Finding) -> Survey:
    """The survey without a finding's lines in its profile."""
    return _edit(survey, finding, "dropped", _own_lines(survey, finding))


def leave(survey: Survey, finding: Finding) -> Survey:
    """The survey with a finding as the card gave it: neither taken, corrected nor dropped."""
    edits = {key: edit for key, edit in survey.edits.items() if key != finding.id}
    return replace(survey, edits=edits, findings=_apply(survey.drafted, edits))


def _own_lines(survey: Survey, finding: Finding) -> Sequence[Line] | None:
    """The lines that a person put there before; None where they are as they were found."""
    return survey.edits.get(finding.id, ("proposed", None))[1]


def correct(survey: Survey, finding: Finding, values: Mapping[str, object]) -> Survey:
    """The survey with other values in a finding's lines.

    Raises:
        UsageError: the finding has no such line.
    """
    known = {line.key for line in finding.lines}
    for key in values:
        if key not in known:
            raise UsageError(f"{finding.id} has no line {key!r}; it has: {', '.join(sorted(known))}")
    return amend(survey, finding, values)


def amend(
    survey: Survey, finding: Finding, values: Mapping[str, object], why: str = "put there by hand"
) -> Survey:
    """The survey with these values in a finding, under new lines where it has none for them."""
    lines = [Line(line.key, values[line.key], why) if line.key in values else line for line in finding.lines]
    known = {line.key for line in lines}
    lines += [Line(key, value, why) for key, value in values.items() if key not in known]
    return _edit(survey, finding, "corrected", tuple(lines))


def _edit(survey: Survey, finding: Finding, standing: Standing, lines: Sequence[Line] | None) -> Survey:
    edits = {**survey.edits, finding.id: (standing, lines)}
    return replace(survey, edits=edits, findings=_apply(survey.drafted, edits))


def _apply(
    findings: Sequence[Finding], edits: Mapping[str, tuple[Standing, Sequence[Line] | None]]
) -> tuple[Finding, ...]:
    done = []
    for one in findings:
        standing, lines = edits.get(one.id, (one.standing, None))
        sure = 1.0 if standing in ("taken", "corrected") else one.confidence
        kept = one.lines if lines is None else tuple(lines)
        done.append(replace(one, standing=standing, lines=kept, confidence=sure))
    return tuple(done)


def _answer_all(survey: Survey, answers: Mapping[str, str]) -> Survey:
    """The survey with these answers given, in whatever order its questions come."""
    left = dict(answers)
    while left:
        question = next((one for one in survey.questions if one.id in left), None)
        if question is None:
            known = ", ".join(one.id for one in survey.questions) or "none"
            wrong = next(iter(left))
            raise UsageError(f"there is no question {shown(wrong)!r} to answer; open are: {known}")
        survey = answer(survey, question, left.pop(question.id))
    return survey


def _conclude(
    card: Card,
    name: str,
    reading: Reading,
    texts: Texts,
    analysis: Analysis,
    answers: Mapping[str, str],
    edits: Mapping[str, tuple[Standing, Sequence[Line] | None]],
) -> Survey:
    rotate = _TURNS.get(answers.get("rotation", ""), 0)
    findings = draft_findings(name, reading, analysis, rotate, "rotation" in answers)
    questions = tuple(_questions(analysis, answers))[: max(0, MOST_QUESTIONS - len(answers))]
    return Survey(
        card,
        name,
        _apply(findings, edits),
        questions,
        dict(answers),
        tuple(_mentions(reading, analysis)),
        tuple(_notes(reading, analysis)),
        reading.skipped,
        reading,
        texts,
        analysis,
        findings,
        (),
        edits,
    )


def _questions(analysis: Analysis, answers: Mapping[str, str]) -> Iterator[Question]:
    if analysis.doubts and "root" not in answers:
        one, other = analysis.doubts[0]
        yield Question(
            "root",
            f"Which folder does the menu of the device show: {one} or {other}?",
            (Choice(one, one), Choice(other, other)),
            one,
            "which folder is the menu, and which only goes with it",
        )
    panel = analysis.panel
    if panel is not None and panel.width < panel.height and "rotation" not in answers:
        yield _rotation_question()
    if analysis.order.pair is not None:
        yield _order_question(analysis, analysis.order.pair, f"order-{len(analysis.asked) + 1}")


def _rotation_question() -> Question:
    return Question(
        "rotation",
        "Hold the device as you use it. Is its screen taller than wide, or wider than tall?",
        (
            Choice("upright", "taller than wide"),
            Choice("left", "wider; a picture put up as it is has its top at the right"),
            Choice("right", "wider; a picture put up as it is has its top at the left"),
        ),
        "upright",
        "how pictures are turned before they are stored",
    )


def _order_question(analysis: Analysis, pair: Pair, question_id: str) -> Question:
    one, other = _name_entry(analysis, pair, pair.one), _name_entry(analysis, pair, pair.other)
    where = f"In {pair.parent}: which" if pair.parent else "Which"
    first = analysis.order.left[0]
    default = pair.one if _is_first(first, pair) else pair.other
    return Question(
        question_id,
        f"{where} comes first on the device, {one} or {other}?",
        (Choice(pair.one, one), Choice(pair.other, other)),
        default,
        f"how the device sorts: {' or '.join(analysis.order.left)}",
    )


def _is_first(order: Order, pair: Pair) -> bool:
    """Whether that order lists the first of the pair first; `directory` never is the default."""
    return order == "directory" or sort_names((pair.other, pair.one), order)[0] == pair.one


def _name_entry(analysis: Analysis, pair: Pair, name: str) -> str:
    """The entry as the device shows it, with its name where that differs."""
    for one in analysis.menus:
        if one.menu is pair.menu and one.label is not None:
            for key, text, _ in one.label.pairs:
                if one.menu.names[key] == name and pair.menu.homes[key[0]] == pair.parent and text != name:
                    return f"{shown(text.strip())} ({shown(name)})"
    return shown(name)


def _mentions(reading: Reading, analysis: Analysis) -> Iterator[Mention]:
    """Places that name entries under no rule, each once."""
    witness = Witness(reading)
    ruled = {
        (id(rule.read.site), id(hit.chain))
        for one in analysis.menus
        for rule in one.rules
        for hit in rule.read.hits
    }
    seen: set[tuple[int, int]] = set()
    for one in analysis.menus:
        for read in one.left:
            for hit in read.hits:
                mark = id(read.site), id(hit.chain)
                if mark in ruled or mark in seen or len(seen) >= _MOST_MENTIONS:
                    continue
                seen.add(mark)
                found = witness.of_chain(read.site, hit.chain, hit.text)
                because = _why_left(read)
                yield Mention(found.at, found.line, hit.text, because)


def _why_left(read: Read) -> str:
    if read.share == 1.0 and len(read.hits) > 1:
        return "it says the name that stands there already: an id, or a shown name that nobody changed"
    return f"only {len(read.hits)} of {len(read.site.samples)} texts like it name an entry"


def _notes(reading: Reading, analysis: Analysis) -> Iterator[str]:
    if not analysis.menus:
        yield "No folder was found whose content is named elsewhere on the card; give the root by hand."
    for title in analysis.weak:
        if not title.endswith(":"):
            yield f"{shown(title)} was left out as a menu: too little names what lies there."
    for title in analysis.other_motions:
        yield f"{shown(title)} holds numbered pictures, but no setting speaks of them; left out."
    unplaced = [v for v in reading.places.volumes if v not in analysis.routes.mounts]
    if unplaced:
        yield f"Nothing says where the device has {', '.join(map(shown, unplaced))}."
