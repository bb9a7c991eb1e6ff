"""Opening by format, and edits that are judged before anyone gets them."""

import subprocess
import sys

import pytest

from workbench.errors import ManifestError
from workbench.manifests.document import MAX_BYTES, Edit
from workbench.manifests.opening import edit_document, open_document

SAMPLES = {
    "json": b'{"a": "x"}',
    "toml": b'a = "x"\n',
    "ini": b"[a]\nb=x\n",
    "keyvalue": b"a=x\n",
    "shell": b"a=x\n",
    "xml": b"<a b='x'/>",
    "lines": b"x\n",
}


@pytest.mark.parametrize("format", SAMPLES)
def test_every_format_opens(format: str) -> None:
    """Each format gives a document that holds its bytes, its format and its text."""
    document = open_document(SAMPLES[format], format)
    assert (document.format, document.raw) == (format, SAMPLES[format])
    assert "x" in [node.text for node in document.find(None)]
    assert edit_document(document, []) == document.raw


@pytest.mark.parametrize("format", SAMPLES)
def test_no_manifest_is_over_8_mib(format: str) -> None:
    """A larger file is not taken as a manifest, and the sentence says so."""
    with pytest.raises(ManifestError, match=r"big\.file: it is over 8 MiB and is not taken as a manifest"):
        open_document(b" " * (MAX_BYTES + 1), format, "big.file")


def test_variables_reach_the_script() -> None:
    """Variables of the profile serve a script's words."""
    document = open_document(b"run $STORE/x\n", "shell", variables={"STORE": "/mnt/store"})
    assert "/mnt/store/x" in [node.text for node in document.find(None)]


@pytest.mark.parametrize(
    ("format", "edit"),
    [
        ("json", Edit(6, 7, b"")),
        ("xml", Edit(3, 4, b"")),
        ("toml", Edit(2, 3, b"")),
        ("json", Edit(1, 1, b'"a":1,')),
    ],
)
def test_an_edit_that_spoils_is_refused(format: str, edit: Edit) -> None:
    """An edit that would make a manifest malformed or ambiguous is refused with the reason."""
    document = open_document(SAMPLES[format], format)
    with pytest.raises(ManifestError, match="house/x was left as it is: the edit would spoil it"):
        edit_document(document, [edit], path="house/x")


def test_an_edit_must_give_what_was_expected() -> None:
    """The edited document is compared as data with what the caller expects."""
    document = open_document(b'{"a": 1}', "json")
    assert edit_document(document, document.set("/a", 2), expect={"/a": 2}) == b'{"a": 2}'
    with pytest.raises(ManifestError, match="line 1: '/a' would not hold"):
        edit_document(document, document.set("/a", 2), expect={"/a": 3})
    longer = open_document(b'{"a": 1,\n "b": 2}', "json")
    with pytest.raises(ManifestError) as refused:
        edit_document(longer, longer.set("/b", 3), expect={"/b": 4})
    assert refused.value.line == 2
    with pytest.raises(ManifestError, match="spoil"):
        edit_document(document, [], expect={"/b": 3})


@pytest.mark.parametrize("format", ["json", "xml", "lines"])
def test_only_the_format_asked_for_is_imported(format: str) -> None:
    """Opening one format imports no other's module and no heavy library."""
    code = (
        "import sys; from workbench.manifests.opening import open_document; "
        f"open_document({SAMPLES[format]!r}, {format!r}); "
        "print(*sorted(m for m in sys.modules if m.endswith('_document') or m in ('tomlkit', 'tree_sitter')))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == [f"workbench.manifests.{format}_document"]
