"""A folder walked with the one above it is listed as it is when it is walked alone."""

from __future__ import annotations

import os

from hypothesis import given, settings
from hypothesis import strategies as st

from workbench.card.paths import LEDGER_FOLDER
from workbench.card.walking import cut_out, scan

NAMES = st.sampled_from(["a", "ab", "a b", "é", LEDGER_FOLDER])
PATHS = st.lists(st.lists(NAMES, min_size=1, max_size=4).map("/".join), max_size=12)


@settings(max_examples=60, deadline=None)
@given(folders=PATHS, files=PATHS, inner=st.sampled_from(["a", "ab", "a/ab", LEDGER_FOLDER, "no", "file"]))
def test_cut_out_is_walked_alone(tmp_path_factory, folders, files, inner):
    """The same folders in the same order, with the same names in the same order; no ledger at the root."""
    root = tmp_path_factory.mktemp("card")
    (root / "file").write_bytes(b"")
    (root / "linked").symlink_to("a")
    for folder in folders:
        (root / folder).mkdir(parents=True, exist_ok=True)
    for file in files:
        if (root / file).parent.is_dir() and not (root / file).is_dir():
            (root / file).write_bytes(b"")
    cut = cut_out(scan(str(root)), inner)
    if cut is None:
        assert not (root / inner).is_dir() or inner == LEDGER_FOLDER
    else:
        assert [*cut.items()] == [*scan(os.fspath(root / inner)).items()]


def test_links_are_not_followed(tmp_path):
    """A link is a name and no folder, and one that leads to a folder is not walked."""
    (tmp_path / "real").mkdir()
    (tmp_path / "link").symlink_to("real")
    walked = scan(str(tmp_path))
    assert sorted(walked[""]) == [("link", False), ("real", True)] and set(walked) == {"", "real"}
    assert cut_out(walked, "link") is None
