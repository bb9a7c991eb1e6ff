"""The survey as a page would use it: questions, corrections, the profile's text, a trial of any profile."""

from __future__ import annotations

from pathlib import Path

import practice_cards
import pytest
from survey_cards import hand_profile, profile_of, survey_files, survey_folder, tree_of

from workbench.card.paths import VolumePath
from workbench.errors import UsageError
from workbench.jobs.survey import (
    Survey,
    amend,
    answer,
    correct,
    drop,
    leave,
    profile_text,
    read_survey,
    take,
    take_back,
    try_profile,
)
from workbench.values import replace

CARDS = practice_cards.FIXTURES / "cards"

TALES = {
    **{f"tales/{name}/go": "#!/bin/sh\n" for name in ("Alpha", "beta", "Gamma 10", "Gamma 9")},
    "set/list.json": '{"tales": ["Alpha", "beta", "Gamma 10", "Gamma 9"], "last": "Gamma 9"}\n',
}


@pytest.fixture
def larkspur() -> Survey:
    """A survey of the practice card, no question answered."""
    return survey_folder(CARDS / "larkspur")


def test_each_finding_says_what_why_and_where(larkspur: Survey) -> None:
    """A line of the profile, a sentence, a confidence, and a file with its line."""
    rule = next(one for one in larkspur.findings if '"/pinned/{row}"' in one.line)
    assert 'file = "data:house/register.json"' in rule.line
    assert "5 of 5" in rule.because
    assert 0.5 < rule.confidence <= 1
    first = rule.evidence[0]
    raw = (CARDS / "larkspur/data/house/register.json").read_text(encoding="utf-8")
    assert first.at == VolumePath("data", "house/register.json")
    assert first.line is not None
    assert '"Boats"' in raw.splitlines()[first.line - 1]


def test_every_evidence_with_a_line_holds_its_words(larkspur: Survey) -> None:
    """The line that is named is the line of the file where the words stand, or their key."""
    for finding in larkspur.findings:
        for one in finding.evidence:
            if one.line is None:
                continue
            raw = (CARDS / "larkspur" / one.at.volume / one.at.path).read_text(encoding="utf-8")
            assert 1 <= one.line <= raw.count("\n") + 1


def test_an_answer_leaves_fewer_orders_and_an_unknown_one_is_refused(tmp_path: Path) -> None:
    """The first question splits the orders; the survey that was asked stays as it was."""
    survey = survey_files(tmp_path, TALES)
    question = survey.questions[-1]
    after = answer(survey, question, question.choices[0])
    assert survey.answers == {}
    assert list(after.answers) == [question.id]
    assert len(after.questions[-1].because if after.questions else "") < len(question.because)
    with pytest.raises(UsageError, match="no answer"):
        answer(survey, question, "Delta")


def test_the_default_is_marked_while_nobody_answered(tmp_path: Path) -> None:
    """The commonest order is taken; the profile says that it was not asked."""
    survey = survey_files(tmp_path, TALES)
    assert profile_of(survey).menus[0].order == "bytes"
    assert 'order = "bytes" # ? not asked yet' in profile_text(survey)


def test_a_dropped_finding_leaves_the_profile_and_a_taken_one_is_sure(larkspur: Survey) -> None:
    """Edits hold through later answers."""
    rule = next(one for one in larkspur.findings if "house/lately.txt" in one.line)
    icon = next(one for one in larkspur.findings if 'kind = "icon"' in one.line)
    edited = take(drop(larkspur, rule), icon)
    question = edited.questions[-1]
    edited = answer(edited, question, question.choices[1])
    assert "house/lately.txt" not in profile_text(edited)
    assert edited.finding(rule.id).standing == "dropped"
    assert edited.finding(icon.id).confidence == 1.0
    assert "house/lately.txt" in profile_text(larkspur)


def test_a_corrected_line_stands_in_the_profile(larkspur: Survey) -> None:
    """The value is the person's; a line that is not there cannot be corrected."""
    panel = larkspur.finding("panel")
    edited = correct(larkspur, panel, {"width": 640, "height": 480})
    assert (profile_of(edited).panel.width, profile_of(edited).panel.height) == (640, 480)
    with pytest.raises(UsageError, match="has no line"):
        correct(larkspur, panel, {"depth": 3})


def test_dropping_a_menu_drops_its_rules(larkspur: Survey) -> None:
    """What is left is a valid profile without that menu."""
    assert profile_of(drop(larkspur, larkspur.finding("menus.shelf"))).menus == ()


@pytest.mark.parametrize("name", practice_cards.DEVICES)
def test_no_rule_of_a_profile_is_silent_on_its_own_card(name: str) -> None:
    """Hand-written or surveyed; what is mentioned under no rule is the same for both."""
    folder = CARDS / name
    hand, found = hand_profile(name), profile_of(survey_folder(folder))
    theirs, mine = try_profile(tree_of(folder, hand), hand), try_profile(tree_of(folder, found), found)
    assert theirs.silent == mine.silent == ()
    assert theirs.entries == mine.entries
    assert [(one.at, one.line) for one in theirs.unruled] == [(one.at, one.line) for one in mine.unruled]


def test_a_rule_that_matches_nothing_is_named() -> None:
    """With the reason: no file, nothing in it, no picture."""
    hand = hand_profile("larkspur")
    rule = hand.menus[0]
    lists = next(one for one in rule.references if one.format == "lines")
    gone = replace(lists, file=replace(lists.file, path="house/earlier.txt"))
    other = replace(lists, is_="x {entry} x")
    icon = replace(rule.pictures[0], path=replace(rule.pictures[0].path, path="house/tiny/{entry}.png"))
    changed = replace(
        hand, menus=(replace(rule, references=(gone, other), pictures=(icon,), label=None, companions=()),)
    )
    trial = try_profile(tree_of(CARDS / "larkspur", hand), changed)
    assert [one.because for one in trial.silent] == [
        "no picture there bears an entry's name",
        "no such file is there",
        "nothing there names an entry",
    ]
    assert any(one.at.path == "house/lately.txt" for one in trial.unruled)


def test_answers_may_be_given_at_once(tmp_path: Path) -> None:
    """As the command line does; an answer to no question is refused with those that are open."""
    first = survey_files(tmp_path, TALES)
    question = first.questions[-1]
    again = read_survey(first.card, answers={question.id: question.choices[0].value})
    assert again.answers == {question.id: question.choices[0].value}
    with pytest.raises(UsageError, match="open are: order-1"):
        read_survey(first.card, answers={"colour": "red"})


def test_the_last_answer_can_be_taken_back(larkspur: Survey) -> None:
    """The question is open again, with what hung on it; corrections stay."""
    panel = larkspur.finding("panel")
    question = larkspur.questions[-1]
    edited = correct(answer(larkspur, question, question.choices[0]), panel, {"width": 640})
    back = take_back(edited)
    assert back.answers == {}
    assert back.questions == larkspur.questions
    assert back.finding("panel").standing == "corrected"
    assert take_back(back).answers == {}


def test_a_finding_can_be_left_as_it_was_found(larkspur: Survey) -> None:
    """After a correction and a drop, the card's own lines stand again; a correction outlives an answer."""
    panel = larkspur.finding("panel")
    edited = take(correct(larkspur, panel, {"width": 640}), panel)
    question = edited.questions[-1]
    assert profile_of(answer(edited, question, question.choices[0])).panel.width == 640
    assert leave(drop(edited, panel), panel).findings == larkspur.findings


def test_a_line_can_be_added_to_a_finding(larkspur: Survey) -> None:
    """What a probe tells of the panel has no line before."""
    turned = amend(larkspur, larkspur.finding("panel"), {"rotate": 180}, "the letter C stood at the top")
    assert profile_of(turned).panel.rotate == 180
    assert "the letter C stood at the top" in profile_text(turned)


def test_whoever_watches_can_stop_the_reading(larkspur: Survey) -> None:
    """It is told of folders listed and read; what it raises comes through."""
    told: list[str] = []
    read_survey(larkspur.card, tell=lambda words, _done, _total: told.append(words))
    assert dict.fromkeys(told) == dict.fromkeys(
        (
            "folders listed",
            "folders read",
            "comparing what was read",
            "places compared with folders",
            "places looked through for names",
        )
    )

    def stop(_words: str, done: int, _total: int) -> None:
        if done == 3:
            raise KeyError("stopped")

    with pytest.raises(KeyError, match="stopped"):
        read_survey(larkspur.card, tell=stop)


@pytest.mark.parametrize("name", practice_cards.DEVICES)
def test_answers_conclude_the_same_whether_or_not_anything_was_kept(name: str) -> None:
    """What an answer does not touch is kept from before it; concluded from the start it is the same."""
    survey = survey_folder(CARDS / name)
    for _ in range(2):
        for question in survey.questions[:1]:
            survey = answer(survey, question, question.choices[-1])
    anew = read_survey(survey.card, name=survey.name, answers=survey.answers)
    assert profile_text(anew) == profile_text(survey)
    assert anew.questions == survey.questions
    assert anew.findings == survey.findings


def test_settings_in_xml_speak_of_an_animation(tmp_path: Path) -> None:
    """Numbers in attributes and in elements' texts count like those of any other format."""
    picture = (practice_cards.FIXTURES / "pictures/moon.png").read_bytes()
    frames: dict[str, str | bytes] = {f"films/dawn/f_{number:03d}.png": picture for number in range(1, 6)}
    play = '<play last="5"><pace fps="12.5"/><by>Someone, 5</by></play>\n'
    survey = survey_files(tmp_path, {**TALES, **frames, "films/dawn/play.xml": play})
    text, rule = profile_text(survey), profile_of(survey).animation
    assert 'folder = "card:films/dawn"' in text
    assert rule is not None and rule.settings is not None
    assert rule.settings.format == "xml" and "/play/0/@last" in text and "/play/0/pace/0/@fps" in text
