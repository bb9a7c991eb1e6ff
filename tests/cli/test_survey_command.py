"""`cardwright survey`: the profile as text, as a file, as JSON; and what can be done with it at once."""

from __future__ import annotations

from pathlib import Path

import practice_cards
import pytest

CARDS = practice_cards.FIXTURES / "cards"


@pytest.mark.parametrize("device", practice_cards.DEVICES)
def test_json_has_profile_evidence_and_questions(device, cardwright):
    """The keys that scripts rely on; nobody at the terminal means open questions, not answers."""
    answer = cardwright("survey", CARDS / device, "--json")
    assert answer.code == 0
    assert answer.json["profile"].count("[[menus]]") >= 1
    assert all(one.keys() >= {"line", "because", "confidence"} for one in answer.json["evidence"])
    assert all(0 <= one["confidence"] <= 1 for one in answer.json["evidence"])
    assert any(question["id"] == "order-1" for question in answer.json["questions"])
    assert all(len(question["choices"]) >= 2 for question in answer.json["questions"])


def test_open_questions_are_listed_with_the_words_that_answer_them(cardwright):
    """On standard error, while the profile alone goes to standard output."""
    answer = cardwright("survey", CARDS / "larkspur")
    assert answer.out.startswith("# larkspur")
    assert "--answer 'order-1=" in answer.err
    chosen = answer.err.split("--answer ")[1].split("'")[1]
    again = cardwright("survey", CARDS / "larkspur", "--answer", chosen, "--json")
    assert [question["id"] for question in again.json["questions"]][-1:] != ["order-1"]


def test_a_profile_that_is_there_is_left_as_it_is(tmp_path, cardwright):
    """-o writes a new file and replaces none."""
    output = tmp_path / "mine.toml"
    assert cardwright("survey", CARDS / "orrery", "-o", output, "--name", "My sky").code == 0
    written = output.read_bytes()
    assert b'name = "My sky"' in written
    assert cardwright("survey", CARDS / "orrery", "-o", output).code == 1
    assert output.read_bytes() == written


@pytest.mark.parametrize(
    ("words", "code"),
    [(("--answer", "order-1"), 2), (("--answer", "order-1=Nothing"), 2), (("--answer", "colour=red"), 2)],
)
def test_answers_that_fit_no_question_are_usage_errors(words, code, cardwright):
    """With the answers that there are."""
    assert cardwright("survey", CARDS / "larkspur", *words).code == code


def test_volumes_may_be_named_one_by_one(tmp_path, cardwright):
    """Two folders are two volumes; one of them alone is a card too; none is an error."""
    both = cardwright("survey", CARDS / "larkspur/data", CARDS / "larkspur/system", "--json")
    assert "[volumes.data]" in both.json["profile"]
    assert "[volumes.system]" in both.json["profile"]
    alone = cardwright("survey", CARDS / "larkspur/data", "--json")
    assert "[volumes.data]" in alone.json["profile"]
    assert cardwright("survey", tmp_path / "no", tmp_path / "such").code == 1


def test_the_written_file_is_a_profile_of_the_card(tmp_path: Path, cardwright):
    """`cards` and the others match it by what identifies the volumes."""
    output = tmp_path / "mine.toml"
    cardwright("survey", CARDS / "fernway", "-o", output)
    menus = cardwright("menu", CARDS / "fernway", "--profile", output, "--json").json["menus"]
    assert {menu["name"].partition("/")[0] for menu in menus} == {"parlour", "parlour-folders"}


@pytest.mark.parametrize("device", practice_cards.DEVICES)
def test_a_profile_is_tried(device, cardwright):
    """On its own card every rule matches; the places under no rule are listed with their lines."""
    profile = practice_cards.profile_path(device)
    answer = cardwright("survey", CARDS / device, "--try", profile, "--json")
    assert answer.code == 0
    assert answer.json["silent"] == []
    assert answer.json["entries"] >= 33
    assert all(one["places"] for one in answer.json["matching"] if ".label" not in one["rule"])
    for mention in answer.json["unruled"]:
        file = CARDS / device / mention["volume"] / mention["path"]
        assert mention["line"] is None or mention["line"] <= file.read_bytes().count(b"\n") + 1


def test_a_rule_that_matches_nothing_is_named_with_its_reason(tmp_path, cardwright):
    """In words, and nothing is written anywhere."""
    text = practice_cards.profile_path("larkspur").read_text(encoding="utf-8")
    profile = tmp_path / "p.toml"
    profile.write_text(text.replace("house/lately.txt", "house/never.txt"), encoding="utf-8")
    answer = cardwright("survey", CARDS / "larkspur", "--try", profile)
    assert answer.code == 0
    assert "house/never.txt {entry}: no such file is there" in answer.out
    assert "Under no rule: data:house/lately.txt, line " in answer.out


def test_volumes_are_given_one_by_one(cardwright):
    """As for a survey; a volume that is not given is said not to be there."""
    profile = practice_cards.profile_path("larkspur")
    both = cardwright(
        "survey", CARDS / "larkspur/data", CARDS / "larkspur/system", "--try", profile, "--json"
    )
    assert both.json["silent"] == []
    one = cardwright("survey", CARDS / "larkspur/data", "--try", profile, "--json")
    assert {silent["because"] for silent in one.json["silent"]} == {"the volume system is not there"}


@pytest.mark.parametrize("words", [["-o", "x.toml"], ["--answer", "rotation=left"], ["--name", "x"]])
def test_trying_takes_nothing_of_a_survey(words, cardwright):
    """What would have no effect is refused."""
    profile = practice_cards.profile_path("larkspur")
    assert cardwright("survey", CARDS / "larkspur", "--try", profile, *words).code == 2


def test_a_profile_of_another_device_is_refused(cardwright):
    """With what it looks for."""
    answer = cardwright("survey", CARDS / "larkspur", "--try", practice_cards.profile_path("orrery"))
    assert answer.code == 1
    assert "nothing was changed" in answer.err
