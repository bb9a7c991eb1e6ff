"""`cardwright survey FOLDER… [-o PROFILE]`: propose a profile for a card that nobody described."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from workbench.cli.output import say, say_json, warn
from workbench.errors import CardwrightError, UsageError

if TYPE_CHECKING:
    from workbench.jobs.survey import Evidence, Question, Survey, Trial


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "folders",
        metavar="FOLDER",
        nargs="+",
        help="the volumes, a folder that holds them, or a card's label",
    )
    parser.add_argument("-o", "--output", metavar="PROFILE", help="write the profile to this new file")
    parser.add_argument("--name", help="what to call the device (default: the card's name)")
    parser.add_argument(
        "--answer",
        metavar="QUESTION=CHOICE",
        action="append",
        default=[],
        help="answer a question by its id; may be given more than once",
    )
    parser.add_argument(
        "--try",
        dest="tried",
        metavar="PROFILE",
        help="survey nothing: lay this profile over the card, and list what it misses",
    )
    parser.add_argument("--json", action="store_true", help="print JSON")


def run(args: argparse.Namespace) -> int:
    if args.tried is not None:
        return _try(args)
    from workbench.jobs.survey import profile_text, read_survey
    from workbench.jobs.survey.opening import open_unknown

    output = _check_output(args.output)
    card = open_unknown(args.folders)
    for note in card.notes:
        warn(note)
    survey = read_survey(card, name=args.name or "", answers=_answers(args.answer))
    if not args.json and sys.stdin.isatty():
        survey = _ask_all(survey)
    text = profile_text(survey)
    _check_profile(text)
    if output is not None:
        _write(output, text)
    if args.json:
        say_json(_shape(survey, text))
        return 0
    _say_doubts(survey)
    if output is None:
        _print_profile(text)
    else:
        say(f"The profile is in {output}. Try it: cardwright menu {args.folders[0]} --profile {output}")
    return 0


def _try(args: argparse.Namespace) -> int:
    """Lay a profile over the card: which rules match nothing, which names stand under no rule."""
    if args.output or args.name or args.answer:
        raise UsageError("--try surveys nothing, so it takes no --output, --name or --answer")
    from workbench.card.disk_tree import DiskTree
    from workbench.card.profile_reader import read_profile
    from workbench.jobs.survey import try_profile
    from workbench.jobs.survey.opening import open_for_trial

    profile = read_profile(Path(args.tried))
    card = open_for_trial(args.folders, profile)
    for note in card.notes:
        warn(note)
    trial = try_profile(DiskTree(card), profile)
    if args.json:
        say_json(_trial_shape(trial))
    else:
        _say_trial(profile.name, trial)
    return 0


def _say_trial(name: str, trial: Trial) -> None:
    say(
        f"{name}: {trial.entries} entr{'y' if trial.entries == 1 else 'ies'}, {len(trial.heard)} rules match."
    )
    for silent in trial.silent:
        say(f"Matches nothing: {silent.rule}: {silent.because}")
    for mention in trial.unruled:
        at = f"line {mention.line}" if mention.line else f"byte {mention.offset}"
        say(f"Under no rule: {mention.at}, {at}: {mention.text.strip()[:100]}")
    if trial.is_clean:
        say("Every rule matches something, and no other place names an entry.")


def _trial_shape(trial: Trial) -> dict[str, Any]:
    return {
        "entries": trial.entries,
        "silent": [{"rule": one.rule, "because": one.because} for one in trial.silent],
        "matching": [
            {"rule": one.rule, "places": [_place_shape(place) for place in one.evidence]}
            for one in trial.heard
        ],
        "unruled": [
            {"volume": one.at.volume, "path": one.at.path, "line": one.line, "text": one.text}
            for one in trial.unruled
        ],
    }


def _answers(words: list[str]) -> dict[str, str]:
    answers = {}
    for word in words:
        question, equals, choice = word.partition("=")
        if not equals or not question:
            raise UsageError(f"--answer takes QUESTION=CHOICE, not {word!r}")
        answers[question] = choice
    return answers


def _check_output(name: str | None) -> Path | None:
    if name is None:
        return None
    output = Path(name)
    if output.exists() or output.is_symlink():
        raise CardwrightError(
            f"{name} is there already and was left as it is. Name another file, or move that one away.",
            path=name,
        )
    return output


def _write(output: Path, text: str) -> None:
    from workbench.host.safe_write import write_safely

    write_safely(output, text.encode(), mode=0o644)


def _check_profile(text: str) -> None:
    """What is proposed has to load."""
    from workbench.card.profile_reader import parse_profile

    parse_profile(text.encode(), Path("the surveyed profile"))


def _print_profile(text: str) -> None:
    """As it is into a file or pipe; made harmless where a person looks at it."""
    if sys.stdout.isatty():
        say(text.rstrip("\n"))
    else:
        sys.stdout.write(text)


# Questions


def _ask_all(survey: Survey) -> Survey:
    """Ask one question after the other; an empty answer leaves it open and takes the default."""
    from workbench.jobs.survey import answer

    left_open: set[str] = set()
    while True:
        question = next((one for one in survey.questions if one.id not in left_open), None)
        if question is None:
            return survey
        choice = _ask(question)
        if choice is None:
            left_open.add(question.id)
        else:
            survey = answer(survey, question, choice)


def _ask(question: Question) -> str | None:
    warn(question.words)
    for number, choice in enumerate(question.choices, 1):
        warn(f"  {number}  {choice.words}")
    while True:
        print("Number, or Enter if you cannot tell: ", end="", file=sys.stderr, flush=True)
        try:
            text = input().strip()
        except EOFError:
            return None
        if not text:
            return None
        if text.isascii() and text.isdigit() and 1 <= int(text) <= len(question.choices):
            return question.choices[int(text) - 1].value
        warn(f"A number from 1 to {len(question.choices)} is wanted.")


def _say_doubts(survey: Survey) -> None:
    """What was not asked, what was left out, what could not be read: on standard error."""
    for question in survey.questions:
        choices = " or ".join(f"--answer {_quoted(f'{question.id}={one.value}')}" for one in question.choices)
        warn(f"Open: {question.words} Taken until then: {question.default}. Answer with {choices}")
    for note in survey.notes:
        warn(note)
    for skipped in survey.skipped:
        warn(f"Left aside: {skipped.at}: {skipped.because}")
    if survey.unruled:
        warn("Named here too, under no rule of the profile:")
    for mention in survey.unruled[:20]:
        line = f", line {mention.line}" if mention.line else ""
        warn(f"  {mention.at}{line}: {mention.text[:100]}")
    if len(survey.unruled) > 20:
        warn(f"  and {len(survey.unruled) - 20} more; see --json")


def _quoted(word: str) -> str:
    import shlex

    return shlex.quote(word)


# JSON


def _shape(survey: Survey, text: str) -> dict[str, Any]:
    return {
        "profile": text,
        "evidence": [
            {
                "line": one.line,
                "because": one.because,
                "confidence": round(one.confidence, 2),
                "id": one.id,
                "alternatives": list(one.alternatives),
                "places": [_place_shape(place) for place in one.evidence],
            }
            for one in survey.findings
        ],
        "questions": [
            {
                "id": one.id,
                "question": one.words,
                "choices": [{"value": choice.value, "words": choice.words} for choice in one.choices],
                "default": one.default,
                "decides": one.because,
            }
            for one in survey.questions
        ],
        "unruled": [
            {"volume": one.at.volume, "path": one.at.path, "line": one.line, "text": one.text}
            for one in survey.unruled
        ],
        "notes": list(survey.notes),
        "skipped": [
            {"volume": one.at.volume, "path": one.at.path, "because": one.because} for one in survey.skipped
        ],
    }


def _place_shape(place: Evidence) -> dict[str, Any]:
    return {"volume": place.at.volume, "path": place.at.path, "line": place.line, "words": place.words}
