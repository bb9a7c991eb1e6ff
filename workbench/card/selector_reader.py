"""Reads selectors of a profile, with the profile's own complaints."""

from __future__ import annotations

from workbench.card.profile_table import Table
from workbench.errors import ManifestError
from workbench.manifests.selector import Selector


def read_selector(table: Table, key: str) -> Selector:
    """The selector at a key."""
    text = table.text(key)
    try:
        selector = Selector.parse(text)
    except ManifestError as error:
        table.refuse(key, f"is {text!r}", error.message)
    for token in selector.tokens:
        if "{" in token.before + token.after or "}" in token.before + token.after:
            table.refuse(key, f"is {text!r}", "a placeholder is lower-case letters in braces, one to a token")
    return selector


def read_selector_or_none(table: Table, key: str) -> Selector | None:
    return read_selector(table, key) if table.has(key) else None


def binds(selector: Selector | None, *names: str) -> bool:
    """Whether one of these placeholders is in the selector."""
    return selector is not None and any(token.name in names for token in selector.tokens)


def ends_in(selector: Selector | None, *names: str) -> bool:
    """Whether the last token is one of these placeholders: then the key there names the entry."""
    return selector is not None and bool(selector.tokens) and selector.tokens[-1].name in names
