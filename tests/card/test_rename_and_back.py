"""A rename and its way back leave every manifest byte for byte as it was; a plain model agrees in between."""

from __future__ import annotations

import configparser
import json
import tempfile
from pathlib import Path
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st
from small_card import MENU, SmallCard, rule

from workbench.card.names import find_fault

ENTRIES = ("Boats", "Boats 2", "Boats2", "SpeedBoats", "Café", "A & B")
RULES = (
    MENU
    + rule("data:r.json", "json", "", "/things/{entry}")
    + rule("data:r.json", "json", "{path}", "/paths/{n}")
    + rule("data:r.json", "json", "art/{entry}_s.png", "/art/{n}")
    + rule("data:s.ini", "ini", "", "/{entry}")
    + rule("data:s.ini", "ini", "{path}", "/{row}/run")
    + rule("data:l.txt", "lines", "{path}")
)

# Legal on FAT (the specification's table), not one of the entries, and not hidden by the menu (`.*`).
NAMED_ALREADY = {"x", "free", "nothing"}
"""What the files below name before there is such an entry: it would be named by them too."""
NEW_NAMES = st.text(
    st.characters(blacklist_categories=["Cs", "Cc", "Co", "Cn", "Zl", "Zp"]), min_size=1, max_size=12
).filter(
    lambda name: (
        find_fault(name, "fat") is None
        and name[0] != "."
        and name.casefold() not in {*map(str.casefold, ENTRIES), *NAMED_ALREADY}
    )
)
# INI holds neither of these in a section's name (configparser, common practice).
INI_NAMES = NEW_NAMES.filter(lambda name: not set("[]") & set(name) and name.strip() == name)

PLACES = st.sampled_from(ENTRIES).flatmap(
    lambda name: st.sampled_from(
        [
            name,
            f"shelf/{name}",
            f"./shelf/{name}/x",
            f"/mnt/store/shelf/{name}/y.sh",
            f"/elsewhere/{name}",
            f"{name}x",
        ]
    )
)
ROWS = st.lists(PLACES, max_size=8)


def _document(rows: list[str], keys: list[str], indent: int | None, ascii_only: bool) -> str:
    data = {
        "things": {key: {"says": "x"} for key in keys},
        "paths": rows,
        "art": [f"art/{key}_s.png" for key in keys] + ["art/x_s.png"],
    }
    text = json.dumps(data, indent=indent, ensure_ascii=ascii_only)
    return text.replace("/", "\\/") if ascii_only else text


def _ini(rows: list[str], keys: list[str]) -> str:
    text = "".join(f"; about {key}\n[{key}]\nrun={row}\n\n" for key, row in zip(keys, rows, strict=False))
    return text + "[free]\nrun = nothing\n"


def _model(row: str, old: str, new: str) -> str:
    """What becomes of one place: a plain reading of the rule, by whole components."""
    for head in ("", "shelf/", "./shelf/", "/mnt/store/shelf/"):
        if row == head + old or row.startswith(f"{head}{old}/"):
            return head + new + row[len(head + old) :]
    return row


def _contents(card: SmallCard) -> dict[str, bytes]:
    return {name: card.path(f"data:{name}").read_bytes() for name in ("r.json", "s.ini", "l.txt")}


@settings(max_examples=40, deadline=None)
@given(
    ROWS,
    st.lists(st.sampled_from(ENTRIES), unique=True, max_size=5),
    st.sampled_from(ENTRIES),
    INI_NAMES,
    st.sampled_from([None, 0, 2]),
    st.booleans(),
    st.sampled_from(["\n", "\r\n"]),
)
def test_there_and_back(rows, keys, old, new, indent, ascii_only, newline):
    """The way back restores every byte; in between json and configparser read what the model says."""
    with tempfile.TemporaryDirectory() as folder:
        files = {f"data:shelf/{name}/": "" for name in ENTRIES}
        files["data:r.json"] = _document(rows, keys, indent, ascii_only)
        files["data:s.ini"] = _ini(rows, keys)
        files["data:l.txt"] = newline.join(rows)
        card = SmallCard(Path(folder), files, RULES)
        before = _contents(card)
        card.rename(old, new)
        _compare(card, rows, keys, old, new)
        card.rename(new, old)
        after = _contents(card)
        # Where the only escapes went with the old name, nothing tells any more that there were some.
        if not ascii_only or (old + new).isascii():
            assert after == before
        else:
            assert json.loads(after["r.json"]) == json.loads(before["r.json"])


def _compare(card: SmallCard, rows: list[str], keys: list[str], old: str, new: str) -> None:
    wanted_keys = [new if key == old else key for key in keys]
    found: Any = json.loads(card.path("data:r.json").read_bytes())
    assert list(found["things"]) == wanted_keys
    assert found["paths"] == [_model(row, old, new) for row in rows]
    assert found["art"] == [f"art/{key}_s.png" for key in wanted_keys] + ["art/x_s.png"]
    parser = configparser.ConfigParser(interpolation=None, strict=False, comment_prefixes=(";", "#"))
    parser.read_string(card.path("data:s.ini").read_text(encoding="utf-8"))
    assert [parser[key]["run"] for key in wanted_keys[: len(rows)]] == [
        _model(row, old, new) for row in rows[: len(keys)]
    ]
    lines = card.path("data:l.txt").read_bytes().decode().splitlines()
    assert [line for line in lines if line] == [_model(row, old, new) for row in rows]
