"""References in scripts: every quoting, variables, and what no edit can reach. Checked by running `sh`."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest
from small_card import MENU, SmallCard, places, rule

ENTRIES = {f"data:shelf/{name}/": "" for name in ("Boats", "Boats 2", "My Kite")}
RULES = MENU + rule("data:shelf/**/begin", "shell", "{path}") + rule("system:start/*.sh", "shell", "{path}")

NASTY = [
    "Plain",
    "Two words",
    "It's",
    'Say "so"',
    "A & B; C",
    "$HOME",
    "`x`",
    "-dash",
    "~home",
    "#9",
    "a\\b",
    "Été (1)",
]


def _run(card: SmallCard, place: str = "system:start/a.sh") -> list[str]:
    """What the script prints, under the shell itself."""
    done = subprocess.run(
        ["sh", str(card.path(place))],
        env={"STORE": "/mnt/store", "PATH": "/usr/bin:/bin"},
        capture_output=True,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.decode().splitlines()


def _script(tmp_path: Path, *lines: str) -> SmallCard:
    return SmallCard(
        tmp_path, {**ENTRIES, "system:start/a.sh": "#!/bin/sh\n" + "\n".join(lines) + "\n"}, RULES
    )


WORDS = [
    "echo_path /mnt/store/shelf/Boats/x",
    "echo_path '/mnt/store/shelf/Boats/x'",
    'echo_path "/mnt/store/shelf/Boats/x"',
    "echo_path /mnt/store/shelf/Bo'at's/x",
    "echo_path $STORE/shelf/Boats/x",
    'echo_path "${STORE}"/shelf/Boats/x',
    'P="/mnt/store/shelf/Boats/x"; echo_path "$P"',
    "D=/mnt/store/shelf; echo_path $D/Boats/x".replace("$D/Boats/x", '"$D/Boats/x"'),
    'N=Boats; echo_path "/mnt/store/shelf/$N/x"',
]


@pytest.mark.parametrize("new", NASTY)
@pytest.mark.parametrize("line", WORDS)
def test_the_shell_sees_the_new_name(tmp_path, line, new):
    """Whatever the quoting, the script passes on the path with the new name (POSIX XCU 2.2)."""
    rules = RULES.replace('names = "fat"', 'names = "exact"')
    text = f"#!/bin/sh\necho_path() {{ printf '%s\\n' \"$1\"; }}\n{line}\n"
    card = SmallCard(tmp_path, {**ENTRIES, "system:start/a.sh": text}, rules, "exact")
    if "echo_path $" in line or "$STORE/" in line:
        assert _run(card) == ["/mnt/store/shelf/Boats/x"]
    card.rename("Boats", new)
    assert _run(card) == [f"/mnt/store/shelf/{new}/x"]


def test_name_split_across_variables_is_a_mention(tmp_path):
    """No single place holds the name: the line is listed and left alone."""
    card = _script(tmp_path, "A=/mnt/store/shelf/Bo", 'printf "%s\\n" "${A}ats/x"')
    before = card.path("system:start/a.sh").read_bytes()
    found = card.rename("Boats", "New")
    assert [(str(one.at), one.line) for one in found.mentions] == [("system:start/a.sh", 3)]
    assert card.path("system:start/a.sh").read_bytes() == before


def test_assignment_that_leads_nowhere_is_a_mention(tmp_path):
    """A variable that merely equals the name is no path; a word of a text is none either."""
    found = _script(tmp_path, "TITLE=Boats", 'echo Boats "$TITLE"').find("Boats")
    assert places(found) == []
    assert [one.line for one in found.mentions] == [2, 3]


def test_heredoc_and_comment_are_mentions(tmp_path):
    """Text of a heredoc and comments are not words."""
    card = _script(tmp_path, "cat <<END", "/mnt/store/shelf/Boats/x", "END", "# /mnt/store/shelf/Boats")
    found = card.find("Boats")
    assert places(found) == []
    assert [one.line for one in found.mentions] == [3, 5]


def test_broken_script_is_left_alone(tmp_path):
    """A script that the shell refuses is not edited: its lines are mentions."""
    found = _script(tmp_path, "echo /mnt/store/shelf/Boats/x", "if true; then").find("Boats")
    assert places(found) == []
    assert [one.line for one in found.mentions] == [2]


def test_command_in_a_string(tmp_path):
    """A command within quotes gets the new name quoted for both."""
    card = _script(tmp_path, 'sh -c "cd /mnt/store/shelf/Boats/x && pwd"')
    card.path("data:shelf/Boats/x").mkdir()
    card.rename("Boats", "Two words")
    text = card.path("system:start/a.sh").read_text().replace("/mnt/store", str(tmp_path / "data"))
    card.path("system:start/a.sh").write_text(text)
    assert _run(card) == [str(tmp_path / "data/shelf/Two words/x")]


def test_script_in_the_entry_is_edited_where_it_is(tmp_path):
    """A script inside the entry names it too."""
    card = SmallCard(tmp_path, {**ENTRIES, "data:shelf/Boats/begin": "cd /mnt/store/shelf/Boats\n"}, RULES)
    card.rename("Boats", "New")
    assert card.path("data:shelf/New/begin").read_text() == "cd /mnt/store/shelf/New\n"


def test_unknown_variable_is_a_mention(tmp_path):
    """Nobody knows where `$HERE` leads."""
    found = _script(tmp_path, 'cd "$HERE/shelf/Boats"').find("Boats")
    assert (places(found), [one.line for one in found.mentions]) == ([], [2])
