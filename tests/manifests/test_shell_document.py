"""Shell edits are checked by running `sh` on the edited script (POSIX XCU 2; dash where the host has it)."""

from __future__ import annotations

import re
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbench.errors import ManifestError
from workbench.manifests.document import apply_edits
from workbench.manifests.selector import Selector
from workbench.manifests.shell_document import ShellDocument, open_shell
from workbench.manifests.shell_script import read_script
from workbench.manifests.shell_word import LONGEST

needs_sh = pytest.mark.skipif(shutil.which("sh") is None, reason="no sh on this host")


def ran(script: bytes) -> list[bytes]:
    """What the script prints, one word between NULs."""
    done = subprocess.run(["sh"], input=script, capture_output=True, check=True, env={"HOME": "/h"})
    assert done.stderr == b""
    return done.stdout.split(b"\0")[:-1]


def printing(word: str) -> bytes:
    return b"printf '%s\\0' " + word.encode() + b"\n"


def replaced(script: bytes, old: str, new: str) -> bytes:
    """The script with `old` as `new` in the first text that holds it literally."""
    document = open_shell(script)
    for node in document.find(None):
        start = node.text.find(old)
        edit = document.replace_part(node, start, start + len(old), new) if start >= 0 else None
        if edit is not None:
            return apply_edits(script, [edit])
    raise AssertionError(f"{old} stands nowhere in {script!r}")


CONTEXTS = [
    "Boats",
    "/x/Boats/run",
    "'Boats'",
    "'/x/Boats/run'",
    '"Boats"',
    '"/x/Boats/run"',
    '/x/"Boats"/run',
    "/x/Bo'at's/run",
    "'/x/Bo'\"ats\"/run",
    '/x/Bo"at"s/run',
    '"$Q/Boats/run"',
    '"${Q}Boats"',
    "a\\ b/Boats\\ c",
    '"cost$/Boats"',
    '"back\\Boats"',
    '"$Q"Boats"$Q"',
    "--dir=/x/Boats",
    "./Boats/*",
    "~/Boats",
    '"$(printf %s Boats)"',
    "\"$(printf %s '/x/Boats')\"",
    "Bo\\\nats",
    '"/x/Bo\\\nats/y"',
]

NASTY = [
    "New", "Fast Boats", "it's", 'say "hi"', "$HOME", "${Q}", "$(ls)", "`ls`", "a&b", "a;b", "a\\b", "b\\",
    "Bööte", "船", "-n", "~", "~root", "#1", "!x", "*", "?", "[a]", "{a,b}", "a=b", "<x>", "(y)", "a|b", "%s",
    "if", "done", "2", " lead", "trail ", "''", '""', "$", "a$", "\ttab", "😀", "\\", "x'$y\"z`",
]  # fmt: skip


def assert_names_reach(before: bytes, names: list[str]) -> None:
    """Each name in place of `Boats` comes out of the script, and nothing else of its output changes."""
    scripts = [replaced(before, "Boats", name) for name in names]
    plain = ran(before)
    assert ran(b"".join(scripts)) == [
        part.replace(b"Boats", name.encode()) for name in names for part in plain
    ]


@needs_sh
@pytest.mark.parametrize("word", CONTEXTS)
def test_a_replaced_name_reaches_the_command_as_it_is(word: str) -> None:
    """Whatever the quoting around it, the command gets the new name and the rest of the word untouched."""
    assert_names_reach(b"Q=/q\n" + printing(word), NASTY)


@needs_sh
@settings(deadline=None, max_examples=60)
@given(
    word=st.sampled_from(CONTEXTS),
    names=st.lists(
        st.text(st.sampled_from(" '\"$`&;\\#~-*?[]{}()<>|!=%^,:@aZ0_é船"), min_size=1, max_size=6),
        min_size=1,
        max_size=8,
    ),
)
def test_any_name_survives_any_quoting(word: str, names: list[str]) -> None:
    """Names made of what a shell obeys are data in every context."""
    assert_names_reach(b"Q=/q\n" + printing(word), names)


@needs_sh
@pytest.mark.parametrize(
    "value", ["Boats", "'Boats'", '"Boats"', '"$Q/Boats"', "$Q/Boats", "/x:Boats", 'B"oat"s', ""]
)
def test_a_replaced_name_in_an_assignment_is_its_value(value: str) -> None:
    """Assignments neither split nor glob (POSIX XCU 2.9.1), so their values need less quoting, but some."""
    before = b"Q='/q r'\nexport Q\nA=" + value.encode() + b"\n" + printing('"$A"')
    if value:
        assert_names_reach(before, NASTY)
    for name in NASTY:
        document = open_shell(before)
        assert ran(apply_edits(before, document.set("/A", name))) == [name.encode()]


@needs_sh
@pytest.mark.parametrize("name", ["2", "if", "A=b", "#x", "~", "{", "!"])
def test_a_command_stays_a_command(tmp_path: Path, name: str) -> None:
    """A file descriptor, a reserved word, an assignment, a comment or a folder is no name of a command."""
    (tmp_path / name).write_text("#!/bin/sh\necho ran\n")
    (tmp_path / name).chmod(0o755)
    after = replaced(b"Boats>out\n", "Boats", name)
    subprocess.run(
        [shutil.which("sh") or "sh"], input=after, check=True, cwd=tmp_path, env={"PATH": str(tmp_path)}
    )
    assert (tmp_path / "out").read_text() == "ran\n"


@pytest.mark.parametrize("name", ["a\nb", "a\rb", "a\x1bb", "a\0b"])
def test_control_characters_are_refused(name: str) -> None:
    """No name on a card holds one; a script would break in two."""
    with pytest.raises(ManifestError, match="control character"):
        replaced(b"cd Boats\n", "Boats", name)


SCRIPT = b"""#!/bin/sh
# Boats in a comment
STORE=/mnt/store
SHELF="$STORE/shelf" # kept
cd "$SHELF/Boats" || exit 1
cat <<END
Boats in $STORE
END
cat <<'END'
Boats in $(ls Boats)
END
run() { Boats; }
: ${LATER:=/x}
"$LATER/Boats"; LATER=/y
"""


def texts(raw: bytes, selector: str, **variables: str) -> list[str]:
    return [node.text for node in open_shell(raw, "", variables).find(Selector.parse(selector))]


def test_words_know_the_constants_set_before_them() -> None:
    """A variable set once, always, to a constant is put in; comments and heredocs hold no words."""
    words = texts(SCRIPT, "/#word")
    assert "/mnt/store/shelf/Boats" in words
    assert [word for word in words if "Boats" in word] == ["/mnt/store/shelf/Boats", "Boats", "$LATER/Boats"]
    assert texts(SCRIPT, "/SHELF") == ["/mnt/store/shelf"]


@pytest.mark.parametrize(
    "script",
    [
        "A=/a; A=/b; cd $A/x",
        "if true; then A=/a; fi; cd $A/x",
        "A=/a true; cd $A/x",
        "true && A=/a; cd $A/x",
        "A=/a; read A; cd $A/x",
        "A=/a; unset A; cd $A/x",
        "A=/a; for A in 1 2; do cd $A/x; done",
        "f() { local A=/a; }; cd $A/x",
        "A=$(pwd); cd $A/x",
        "A=$1; cd $A/x",
        "cd $A/x; A=/a",
        "A='/a b'; cd $A/x",
        "A=~; cd $A/x",
        ": $((A=3)); cd $A/x",
    ],
)
def test_a_variable_that_may_vary_is_left_as_it_is_written(script: str) -> None:
    """Set twice, perhaps, for one command, later, or to something that would be split: not a constant."""
    assert "$A/x" in texts(script.encode() + b"\n", "/#word")


def test_the_profile_knows_what_the_script_does_not() -> None:
    """The script's own constants come first, then the variables given."""
    script = b"A=/a\ncd $A/x $B/x $C/x\n"
    assert texts(script, "/#word", A="/n", B="/b") == ["cd", "/a/x", "/b/x", "$C/x"]


def test_characters_that_come_from_a_variable_cannot_be_replaced() -> None:
    """The name in the middle of a constant stands elsewhere: nothing is edited here."""
    document = open_shell(b"D=Boats\ncd /x/$D/y /x/Bo$E\n")
    node = next(node for node in document.find(None) if node.text == "/x/Boats/y")
    assert document.replace_part(node, 3, 8, "New") is None
    assert document.replace_part(node, 0, 2, "/z") is not None


@needs_sh
def test_a_name_after_a_variable_without_braces_gets_them() -> None:
    """`$Q.d` with `.d` replaced by `x` must not become `$Qx`."""
    assert replaced(b'Q=/q\nprintf "$Q.d"\n', ".d", "x") == b'Q=/q\nprintf "${Q}x"\n'
    assert replaced(b'printf "$Z.d"\n', ".d", "x") == b'printf "${Z}x"\n'


def test_old_style_substitutions_take_plain_names_only() -> None:
    """Within backticks backslashes are read twice, so a name that needs quoting is left to the person."""
    document = open_shell(b"A=`cat /x/Boats`\n")
    node = next(node for node in document.find(None) if node.text == "/x/Boats")
    assert document.replace_part(node, 3, 8, "a b") is None
    assert document.replace_part(node, 3, 8, "New-1") is not None


@needs_sh
@pytest.mark.parametrize("script", [b"if true; then cd Boats\n", b"cd Boats\nfi\n", b"cd Boats\necho 'x\n"])
def test_a_script_that_the_shell_refuses_is_not_edited(script: bytes) -> None:
    """Lines that the error touches yield nothing; elsewhere the edit is refused with the shell's own line."""
    document = open_shell(script, "data:shelf/Boats/begin")
    for node in document.find(None):
        with pytest.raises(ManifestError, match=r"data:shelf/Boats/begin, line .*refuses") as caught:
            document.replace_part(node, 0, 1, "x")
        assert caught.value.line
    with pytest.raises(ManifestError):
        document.check_editable()


@pytest.mark.parametrize("script", [b"cd 'Boats\n", b"x=(\ncd Boats\n", b"cd Boats )\n"])
def test_lines_with_an_error_hold_no_words(script: bytes) -> None:
    """What the grammar could not read is not guessed at."""
    assert "Boats" not in texts(script, "/#word")


def test_words_that_the_grammar_splits_are_read_whole() -> None:
    """`"a"\\ b` is one word for the shell, though the tree has two; no part of it passes for a word."""
    assert texts(b'cd /x"y"\\ z\n', "/#word") == ["cd", "/xy z"]
    assert texts(b"cd a\\\nb c\n", "/#word") == ["cd", "ab", "c"]


def test_words_start_where_the_shell_starts_them() -> None:
    """The grammar passes over an escaped blank at a word's front, and cuts a word behind a quote in two."""
    script = b"p \\ \\ lead/run '/x/'\\$y\"/z\" end\np \\\nnext\n"
    assert open_shell(script).get("/#word") == ["p", "  lead/run", "/x/$y/z", "end", "p", "next"]


@needs_sh
@pytest.mark.parametrize(
    ("pointer", "value", "before", "after"),
    [
        ("/A", "new", b"A=old # c\n", b"A=new # c\n"),
        ("/A", "a b", b"A=old\r\nB=1\r\n", b"A=a\\ b\r\nB=1\r\n"),
        ("/A", "it's", b"export A='old'\n", b"export A='it'\\''s'\n"),
        ("/A", 'a"$b', b'A="$x/y"', b'A="a\\"\\$b"'),
        ("/A", "", b"A=x\n", b"A=\n"),
        ("/A", "x", b"A=\n", b"A=x\n"),
        ("/#word/1", "a b", b"cd 'x' y\n", b"cd 'a b' y\n"),
    ],
)
def test_set_keeps_everything_else(pointer: str, value: str, before: bytes, after: bytes) -> None:
    """The quoting stays where it can hold the text; every other byte stays."""
    assert apply_edits(before, open_shell(before).set(pointer, value)) == after
    assert open_shell(after).get(pointer) == value


@needs_sh
@pytest.mark.parametrize(
    ("before", "after"),
    [
        (b'#!/bin/sh\n# c\n\nA="1"\nrun\n', b'#!/bin/sh\n# c\n\nA="1"\nN="a b"\nrun\n'),
        (b"#!/bin/sh\n# c\n\nrun\n", b"#!/bin/sh\n# c\nN='a b'\n\nrun\n"),
        (b"A='1'\r\n", b"A='1'\r\nN='a b'\r\n"),
        (b"A=1", b"A=1\nN='a b'"),
        (b"", b"N='a b'\n"),
        (b"A=1; cat <<E\nE\n", b"N='a b'\nA=1; cat <<E\nE\n"),
    ],
)
def test_insert_follows_the_last_assignment(before: bytes, after: bytes) -> None:
    """In the neighbours' quoting and line ending; never between a heredoc's line and its body."""
    assert apply_edits(before, open_shell(before).insert("/N", "a b")) == after
    assert open_shell(after).get("/N") == "a b"


@needs_sh
def test_delete_takes_the_comment_above_along() -> None:
    """The interpreter line is nobody's comment."""
    before = b"#!/bin/sh\n# about A\nA=1 # one\nB=2\n"
    assert apply_edits(before, open_shell(before).delete("/A")) == b"#!/bin/sh\nB=2\n"
    assert apply_edits(before, open_shell(before).delete("/B")) == b"#!/bin/sh\n# about A\nA=1 # one\n"


@needs_sh
def test_rename_key_follows_the_variable() -> None:
    """Uses in words, heredocs, arithmetic and the assignment itself."""
    before = b'A=1\necho $A "${A}x" $((A+1)) $AB A\ncat <<E\n$A\nE\n'
    after = b'N=1\necho $N "${N}x" $((N+1)) $AB A\ncat <<E\n$N\nE\n'
    assert apply_edits(before, open_shell(before).rename_key("/A", "N")) == after


@needs_sh
@pytest.mark.parametrize(
    ("wish", "problem"),
    [
        (lambda d: d.set("/A", "x"), "lines 1 and 2"),
        (lambda d: d.delete("/A"), "lines 1 and 2"),
        (lambda d: d.set("/Z", "x"), "nothing is assigned"),
        (lambda d: d.insert("/A", "x"), "assigned already"),
        (lambda d: d.insert("/1a", "x"), "no name"),
        (lambda d: d.set("/B", ["x"]), "a text"),
        (lambda d: d.set("/B", "x\ny"), "control"),
        (lambda d: d.delete("/C"), "more than"),
        (lambda d: d.rename_key("/B", "A"), "already"),
        (lambda d: d.get("/#word/99"), "no word"),
    ],
)
def test_what_cannot_be_done_is_said(wish: Callable[[ShellDocument], object], problem: str) -> None:
    """Each refusal names the reason and, where there are several places, their lines."""
    with pytest.raises(ManifestError, match=problem):
        wish(open_shell(b"A=1\nA=2\nB=3\nC=4 D=5\n"))


@needs_sh
def test_dash_takes_a_spaced_assignment_for_a_command() -> None:
    """`a = b` runs `a` (measured with dash 0.5.12), so it assigns nothing here either."""
    assert texts(b"a = b\n", "/#word") == ["a", "=", "b"]
    assert open_shell(b"a = b\n1a=b\n").get("") == {}


@pytest.mark.parametrize("raw", [b"A=1\n", b"\xef\xbb\xbfA=1\r\n", b"A=caf\xe9", b"", b"# x"])
def test_odd_bytes_are_carried_through(raw: bytes) -> None:
    """No edit, no change; what is no UTF-8 is neither lost nor read as something else."""
    document = open_shell(raw)
    assert document.raw == raw
    if b"\xe9" in raw:
        assert document.get("/A") == "caf\udce9"
        with pytest.raises(ManifestError, match="UTF-8"):
            document.set("/A", "é")


PLAIN = ["a", "Z9", "é", "船", "#", "=", "~", "-", "%", "{a,b}", "!"]
QUOTED = [
    "'b c'",
    "'$Q'",
    "''",
    '""',
    '"d  e"',
    '"$Q"',
    '"${Q}x"',
    '"\\$\\"\\\\\\`"',
    '"\\a"',
    '"f\\\ng"',
    '"$"',
    "'`'",
]
OTHERS = ["$Q", "${Q}", "\\ ", "\\'", "\\$", "\\\\", "\\\n"]
FRAGMENTS = st.sampled_from([*PLAIN, *QUOTED, *OTHERS])


def is_part_of(few: list[str], many: list[str]) -> bool:
    """Whether `few` are among `many`, in that order."""
    rest = iter(many)
    return all(any(one == other for other in rest) for one in few)


@needs_sh
@settings(deadline=None, max_examples=150)
@given(st.lists(st.lists(FRAGMENTS, min_size=1, max_size=5).map("".join), min_size=1, max_size=6))
def test_words_are_read_as_the_shell_reads_them(words: list[str]) -> None:
    """Every word's text is what the command gets; where this reader is not sure it yields nothing."""
    script = b"set -u\nQ=/q-r\nprintf '%s\\0' x " + " ".join(words).encode() + b"\n"
    done = subprocess.run(["sh"], input=script, capture_output=True, check=False, env={"HOME": "/h"})
    found = texts(script, "/#word")[4:]
    source = " ".join(words)
    is_known = not re.search(r"(^| )(\\\n)*[~#]|\$\\?\n?[-$!#@*?0-9]", source)
    if done.returncode or not is_known:
        return
    got = [part.decode() for part in done.stdout.split(b"\0")[:-1]]
    assert is_part_of(found, got)
    is_plain = not any(odd in source for odd in ("\\ ", "\\\n", "=="))
    if is_plain and not read_script(script).errors:
        assert found == got


@pytest.mark.parametrize(
    "script",
    [
        b"A=" + b"$(x " * 5000 + b")" * 5000,
        b"$(x " * 5000,
        b"V0=xxxxxxxxxx\n" + b"".join(b"V%d=$V%d$V%d\n" % (n, n - 1, n - 1) for n in range(1, 60)),
        b"cd " + b"\\ " * 20000,
        bytes(range(1, 256)) * 40,
    ],
    ids=["nested", "unclosed", "doubling", "escapes", "no script"],
)
def test_hostile_scripts_are_opened_in_reasonable_time(script: bytes) -> None:
    """Neither depth nor variables that double each other's values cost more than the bytes are worth."""
    nodes = list(open_shell(script).find(None))
    assert max((len(node.text) for node in nodes), default=0) <= 3 * LONGEST
