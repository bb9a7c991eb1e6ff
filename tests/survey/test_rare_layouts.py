"""The survey on cards written by hand, around conventions that the seeded layouts never deal out."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from rare_layouts import RARE, make_rare
from scoring import score_profile
from surveying_layouts import MOST_QUESTIONS, survey_layout

from workbench.jobs.survey import profile_text, read_survey
from workbench.jobs.survey.opening import open_unknown


@pytest.mark.parametrize("name", RARE)
def test_true_profile_of_a_rare_layout_holds(name: str, tmp_path: Path) -> None:
    """What is put down as the truth of each card is all that its own profile finds there."""
    plan = make_rare(name)
    score = score_profile(plan, plan.write(tmp_path / "card"), plan.profile)
    assert (score.recall, score.precision) == (1.0, 1.0), score.details()
    assert score.menus and score.labels and score.splashes, score.details()


@pytest.mark.parametrize("name", RARE)
def test_survey_finds_a_rare_layout(name: str, tmp_path: Path) -> None:
    """Every reference and none invented, with menus, shown names and splashes, in at most four questions."""
    plan = make_rare(name)
    survey = survey_layout(plan, plan.write(tmp_path / "card"))
    score = score_profile(plan, tmp_path / "card", profile_text(survey))
    assert (score.recall, score.precision) == (1.0, 1.0), score.details()
    assert score.menus and score.labels and score.splashes, score.details()
    assert len(survey.answers) <= MOST_QUESTIONS


@pytest.mark.parametrize("text", ["Alder Ferry", 5, None, True, [], ["Alder Ferry"]])
def test_a_manifest_that_is_one_value_is_no_fault(text: object, tmp_path: Path) -> None:
    """A JSON text may be any value (RFC 8259, section 2); such a file has no places to speak of."""
    (tmp_path / "shelf" / "Alder Ferry").mkdir(parents=True)
    (tmp_path / "one.json").write_text(json.dumps(text), encoding="utf-8")
    survey = read_survey(open_unknown([str(tmp_path)]))
    assert "schema = 1" in profile_text(survey)
