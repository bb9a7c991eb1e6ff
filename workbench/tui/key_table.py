"""The table of keys for the README, made from the registry: `python -m workbench.tui.key_table` prints it."""

from __future__ import annotations

from workbench.tui.actions import ACTIONS, WORDS


def key_table() -> str:
    """One Markdown table: where, keys, what they do."""
    rows = [f"| {WORDS[one.where]} | {_keys(one.shown_keys)} | {one.sentence} |" for one in ACTIONS]
    return "\n".join(["| where | keys | what they do |", "| --- | --- | --- |", *rows])


def _keys(shown: str) -> str:
    return ", ".join(f"`{key}`" for key in shown.split(", "))


if __name__ == "__main__":
    print(key_table())
