"""Reads `[[menus]]` of a profile: root, order, prefix, label, references and pictures."""

from __future__ import annotations

from collections.abc import Collection

from workbench.card.patterns import check_placeholders, read_pattern, read_patterns
from workbench.card.profile import (
    FilePattern,
    LabelRule,
    MenuRule,
    Order,
    PictureRule,
    PrefixRule,
    PrefixStyle,
    ReferenceRule,
)
from workbench.card.profile_table import Table
from workbench.card.selector_reader import binds, ends_in, read_selector, read_selector_or_none
from workbench.manifests.document import Format
from workbench.typed import Literal, cast, get_args

FORMATS: tuple[str, ...] = get_args(Format)
ORDERS: tuple[str, ...] = get_args(Order)
STYLES: tuple[str, ...] = get_args(PrefixStyle)

_KEYS = (
    "id",
    "root",
    "entries",
    "match",
    "hide",
    "order",
    "prefix",
    "label",
    "companions",
    "references",
    "pictures",
)
_OF_ENTRY = ("entry", "stem")
_IN_FILE = ("entry", "stem", "parent")


def read_menu_rules(table: Table, volumes: Collection[str]) -> tuple[MenuRule, ...]:
    """The menus of a profile, in the order of the file."""
    rules: dict[str, MenuRule] = {}
    for one in table.tables("menus"):
        rule = _read_menu(one.only(*_KEYS), volumes)
        if rule.id in rules:
            one.refuse("id", f"is {rule.id!r} a second time", "each menu needs an id of its own")
        rules[rule.id] = rule
    return tuple(rules.values())


def _read_menu(table: Table, volumes: Collection[str]) -> MenuRule:
    menu_id = table.text("id")
    if "/" in menu_id or ":" in menu_id:
        table.refuse("id", f"is {menu_id!r}", "a word without '/' and ':' is allowed")
    entries = cast(Literal["folders", "files"], table.word("entries", ("folders", "files"), "folders"))
    return MenuRule(
        id=menu_id,
        root=_read_root(table, volumes),
        entries=entries,
        match=table.texts("match", ("*",)),
        hide=table.texts("hide", (".*",)),
        order=cast(Order, table.word("order", ORDERS, "bytes")),
        prefix=_read_prefix(table.table("prefix")),
        label=_read_label(table.table("label"), volumes) if table.has("label") else None,
        companions=read_patterns(table, "companions", volumes, _IN_FILE, needs=_OF_ENTRY),
        references=tuple(_read_reference(one, volumes) for one in table.tables("references")),
        pictures=tuple(_read_picture(one, volumes) for one in table.tables("pictures")),
    )


def _read_root(table: Table, volumes: Collection[str]) -> FilePattern:
    root = read_pattern(table, "root", volumes, ("parent",))
    if any(char in root.path for char in "*?["):
        table.refuse("root", f"is {str(root)!r}", "a plain folder is allowed, or one with {parent} as a part")
    if sum("{parent}" in part for part in root.path.split("/")) > 1:
        table.refuse("root", f"is {str(root)!r}", "{parent} may stand in it once")
    return root


def _read_prefix(table: Table) -> PrefixRule:
    table.only("style", "separator", "shown", "limit")
    separator = table.text("separator", " " if not table.has("separator") else "")
    if "/" in separator or not separator.isprintable():
        table.refuse("separator", f"is {separator!r}", "characters that a name can hold are allowed")
    return PrefixRule(
        style=cast(PrefixStyle, table.word("style", STYLES, "shortest")),
        separator=separator,
        shown=table.flag("shown", True),
        limit=table.whole("limit", 1, 255, 255),
    )


def _read_label(table: Table, volumes: Collection[str]) -> LabelRule:
    table.only("file", "format", "at", "key", "is", "otherwise")
    at, key = read_selector(table, "at"), read_selector_or_none(table, "key")
    file = read_pattern(table, "file", volumes, _IN_FILE)
    is_own_file = any(f"{{{name}}}" in file.path for name in _OF_ENTRY)
    if key is None and not is_own_file and not binds(at, *_OF_ENTRY):
        table.refuse(
            "at",
            f"is {at.source!r}",
            "it has to hold {entry} or {stem}, as 'file' may, or 'key' has to say where they are",
        )
    table.word("otherwise", ("name",), "name")
    return LabelRule(
        file=file,
        format=cast(Format, table.word("format", FORMATS)),
        at=at,
        key=key,
        is_=_read_is(table),
        otherwise="name",
    )


def _read_reference(table: Table, volumes: Collection[str]) -> ReferenceRule:
    table.only("file", "format", "at", "is", "names", "names_key")
    at = read_selector_or_none(table, "at")
    names_key = _reads_key(table, ends_in(at, *_OF_ENTRY))
    stem_key = names_key and ends_in(at, "stem")
    return ReferenceRule(
        file=read_pattern(table, "file", volumes, _IN_FILE),
        format=cast(Format, table.word("format", FORMATS)),
        at=at,
        is_=_read_is(table, "{stem}" if stem_key else "{entry}"),
        names_key=names_key,
    )


def _reads_key(table: Table, binds_last: bool) -> bool:
    """Whether the key names the entry: said outright, or plain from a selector that ends in `{entry}`."""
    names_key = binds_last and not table.has("is")
    if table.has("names"):
        names_key = table.word("names", ("key", "value")) == "key"
    elif table.has("names_key"):
        names_key = table.flag("names_key", False)
    if names_key and not binds_last:
        table.refuse("at", "does not end in {entry} or {stem}", "it has to where the key names the entry")
    return names_key


def _read_is(table: Table, default: str = "{entry}") -> str:
    text = table.text("is", default)
    found = check_placeholders(table, "is", text, ("entry", "stem", "path", "parent"))
    if len(found & {"entry", "stem", "path"}) != 1:
        table.refuse("is", f"is {text!r}", "it has to hold one of {entry}, {stem} and {path}")
    return text


def _read_picture(table: Table, volumes: Collection[str]) -> PictureRule:
    table.only("kind", "path", "size")
    return PictureRule(
        kind=table.text("kind"),
        path=read_pattern(table, "path", volumes, _IN_FILE, needs=_OF_ENTRY),
        size=read_size(table),
    )


def read_size(table: Table) -> tuple[int, int] | None:
    """`size = [width, height]`; None where it is missing."""
    if not table.has("size"):
        return None
    size = table.values["size"]
    if (
        not isinstance(size, list)
        or len(size) != 2
        or not all(isinstance(one, int) and not isinstance(one, bool) and 0 < one <= 16384 for one in size)
    ):
        table.refuse("size", f"is {size!r}", "[width, height] in pixels is allowed")
    return size[0], size[1]
