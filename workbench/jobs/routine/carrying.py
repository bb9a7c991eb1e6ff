"""Plans a routine on one card: each wish on the card as the wishes before it leave it, all as one change."""

from __future__ import annotations

import fnmatch
import re
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from workbench.card.menu import Entry, Menu, locate_entry, read_menus
from workbench.card.paths import VolumePath
from workbench.card.profile import Profile
from workbench.card.tree import Tree
from workbench.changes.plan import Plan
from workbench.errors import CardwrightError, EntryError
from workbench.jobs.packs.parts import Traces
from workbench.jobs.routine.routine_file import Routine
from workbench.jobs.routine.wish import Wish
from workbench.order.prefixes import split_prefix
from workbench.shown import shown
from workbench.values import dataclass, replace

NOTHING = Plan("", ())


class RefusedWishError(CardwrightError):
    """A wish that this card cannot have; nothing was changed."""

    kind = "wish"


@dataclass(frozen=True, slots=True)
class _On:
    """What a wish is planned on."""

    tree: Tree
    profile: Profile
    routine: Routine
    traces: Traces


def plan_routine(tree: Tree, profile: Profile, routine: Routine, traces: Traces) -> Plan:
    """One plan for the whole routine; without steps where the card fulfils it all.

    Large content waits as renders; whoever drops the plan calls `drop_renders` on it.

    Raises:
        RefusedWishError: a wish cannot be had, with its place in the routine's file.
    """
    from workbench.jobs.renders import drop_renders

    plan = Plan(f"Routine: {routine.name}", ())
    for number, wish in enumerate(routine.wishes, 1):
        on = _On(plan.on(tree) if plan.steps else tree, profile, routine, traces)
        try:
            found = _PLANNERS[wish.do](on, wish.values, wish)
        except CardwrightError as error:
            drop_renders(plan)
            raise RefusedWishError(
                f"wish {number} (line {wish.line}, {shown(wish.title)}): {error.message}",
                path=error.path,
                line=error.line,
            ) from error
        if found.steps or found.conflicts:
            plan = replace(plan.then(found), title=plan.title)
    return plan


# Finding


def find_entries(on: _On, text: str, menu: str | None) -> list[tuple[Menu, Entry]]:
    """The entries that a wish names: one by name, or all that fit a pattern (`Twin*`), prefixes aside.

    Raises:
        EntryError: a name could be several entries.
    """
    try:
        return [locate_entry(on.tree, on.profile, text, menu)]
    except EntryError as error:
        pool = [
            (one, entry)
            for one in read_menus(on.tree, on.profile, menu, labels=False)
            for entry in one.entries
        ]
        found = next(filter(None, ([p for p in pool if _bare(p[1]) == one] for one in _bare_texts(text))), [])
        if not found and any(sign in text for sign in "*?["):
            found = [pair for pair in pool if _fits(pair[1], text)]
        elif len(found) > 1 or "could be any of" in error.message:
            raise
        return found


def _bare_texts(text: str) -> tuple[str, ...]:
    """The text, and what is left of it without a prefix that another order gave the entry since."""
    number = re.match(r"[0-9]{1,4}[ ._-](?=.)", text)
    return tuple(dict.fromkeys((text, split_prefix(text)[1], text[number.end() :] if number else text)))


def _bare(entry: Entry) -> str:
    return entry.name[len(entry.prefix) :]


def _fits(entry: Entry, pattern: str) -> bool:
    return fnmatch.fnmatchcase(entry.name, pattern) or fnmatch.fnmatchcase(_bare(entry), pattern)


def _is_there(on: _On, name: str, menu: str | None) -> bool:
    menus = read_menus(on.tree, on.profile, menu, labels=False)
    return any(entry.name == name for one in menus for entry in one.entries)


def _require(on: _On, values: Mapping[str, Any]) -> list[tuple[Menu, Entry]]:
    found = find_entries(on, values["entry"], values.get("menu"))
    if not found:
        raise EntryError(f"there is no entry {shown(values['entry'])!r} on this card; nothing was changed")
    return found


def _only_menu(on: _On, menu: str | None, names: Sequence[str] = ()) -> Menu:
    menus = read_menus(on.tree, on.profile, menu, labels=False)
    if len(menus) > 1 and names:
        held = [one for one in menus if any(_bare(e) in names or e.name in names for e in one.entries)]
        menus = tuple(held) or menus
    if len(menus) != 1:
        ids = ", ".join(shown(one.id) for one in menus)
        raise EntryError(f"the card has several menus; say which with menu = …: {ids}; nothing was changed")
    return menus[0]


def _on_each(on: _On, found: list[tuple[Menu, Entry]], act: Callable[[Tree, Menu, Entry], Plan]) -> Plan:
    """One plan for several entries, each found anew on the card as it is by then."""
    plan = NOTHING
    for menu, entry in found:
        tree = plan.on(on.tree) if plan.steps else on.tree
        here, now = locate_entry(tree, on.profile, entry.name, menu.id)
        plan = plan.then(act(tree, here, now))
    return plan


# Wishes


def _rename(on: _On, values: Mapping[str, Any], _: Wish) -> Plan:
    from workbench.jobs.rename import plan_rename

    if not _is_there(on, values["entry"], values.get("menu")):
        there = find_entries(on, values["to"], values.get("menu"))
        if len(there) == 1 and values["to"] in (there[0][1].name, _bare(there[0][1])):
            return NOTHING
    found = _require(on, values)
    if len(found) > 1:
        raise EntryError(f"{shown(values['entry'])} fits {len(found)} entries; a rename is of one")
    return plan_rename(on.tree, on.profile, *found[0], values["to"])


def _arrange(on: _On, values: Mapping[str, Any], _: Wish) -> Plan:
    from workbench.jobs.arrange import place_names, plan_number, plan_order, plan_strip_all

    asked = next(key for key in ("first", "last", "order", "number", "strip") if key in values)
    names = values[asked] if isinstance(values[asked], list) else []
    menu = _only_menu(on, values.get("menu"), names)
    if asked == "number":
        return plan_number(on.tree, on.profile, menu, separator=values.get("separator"))
    if asked == "strip":
        entries = values.get("entries")
        chosen = None if entries is None else _find_moved(on, menu, entries, is_needed=False)
        if chosen == []:
            return NOTHING
        return plan_strip_all(on.tree, on.profile, menu, names=chosen)
    moved = _find_moved(on, menu, names, is_needed=asked != "order")
    wanted = place_names(
        [entry.name for entry in menu.entries], moved, "last" if asked == "last" else "first"
    )
    return plan_order(
        on.tree,
        on.profile,
        menu,
        wanted,
        style=values.get("style"),
        separator=values.get("separator"),
        carried=_find_moved(on, menu, values["carried"], is_needed=False) if "carried" in values else moved,
    )


def _find_moved(on: _On, menu: Menu, names: Sequence[str], *, is_needed: bool) -> list[str]:
    """The present names of what is to be placed; a whole order passes over what this card has not."""
    moved: list[str] = []
    for name in names:
        found = [entry.name for one, entry in find_entries(on, name, menu.id) if one.id == menu.id]
        if not found and is_needed:
            raise EntryError(f"there is no entry {shown(name)!r} in the menu {shown(menu.id)}")
        moved += found
    return list(dict.fromkeys(moved))


def _label(on: _On, values: Mapping[str, Any], _: Wish) -> Plan:
    from workbench.jobs.label import plan_label

    def act(tree: Tree, menu: Menu, entry: Entry) -> Plan:
        labelled = next(one for one in read_menus(tree, on.profile, menu.id) if one.id == menu.id)
        now = next(one for one in labelled.entries if one.name == entry.name)
        if now.has_label and now.label == values["text"]:
            return NOTHING
        return plan_label(tree, on.profile, labelled, now, values["text"])

    return _on_each(on, _require(on, values), act)


def _icon(on: _On, values: Mapping[str, Any], wish: Wish) -> Plan:
    from workbench.jobs.icon import plan_icon

    picture = on.routine.host_file(wish)

    def act(tree: Tree, menu: Menu, entry: Entry) -> Plan:
        return plan_icon(
            tree,
            on.profile,
            menu,
            entry,
            values.get("kind"),
            picture,
            fit=values.get("fit", "contain"),
            background=values.get("background"),
        )

    return _on_each(on, _require(on, values), act)


def _add(on: _On, values: Mapping[str, Any], _: Wish) -> Plan:
    from workbench.jobs.entry import plan_add

    menu_id = values.get("menu")
    if find_entries(on, values["entry"], menu_id):
        return NOTHING
    menu = _only_menu(on, menu_id)
    like = locate_entry(on.tree, on.profile, values["like"], menu.id)[1] if "like" in values else None
    return plan_add(on.tree, on.profile, menu, values["entry"], like=like, label=values.get("label"))


def _copy(on: _On, values: Mapping[str, Any], _: Wish) -> Plan:
    from workbench.jobs.entry import plan_copy

    if find_entries(on, values["to"], values.get("menu")):
        return NOTHING
    menu, entry = _require(on, values)[0]
    return plan_copy(
        on.tree,
        on.profile,
        menu,
        entry,
        values["to"],
        label=values.get("label"),
        with_companions=bool(values.get("companions")),
    )


def _hide(on: _On, values: Mapping[str, Any], _: Wish) -> Plan:
    from workbench.jobs.entry import plan_hide

    found = find_entries(on, values["entry"], values.get("menu"))
    if not found and _find_hidden(on, values):
        return NOTHING
    return _on_each(
        on, found or _require(on, values), lambda tree, menu, entry: plan_hide(tree, on.profile, menu, entry)
    )


def _show(on: _On, values: Mapping[str, Any], _: Wish) -> Plan:
    from workbench.jobs.entry import pick_hidden, plan_show

    hidden = _find_hidden(on, values)
    if not hidden:
        _require(on, values)
        return NOTHING
    return plan_show(on.tree, on.profile, pick_hidden(hidden, values["entry"]))


def _find_hidden(on: _On, values: Mapping[str, Any]) -> list[Any]:
    from workbench.jobs.entry import find_hidden

    found = find_hidden(on.tree, on.profile, values.get("menu"))
    return [one for one in found if values["entry"] in (one.name, one.shown_name)]


def _remove(on: _On, values: Mapping[str, Any], _: Wish) -> Plan:
    from workbench.jobs.entry import plan_remove

    found = find_entries(on, values["entry"], values.get("menu"))
    return _on_each(on, found, lambda tree, menu, entry: plan_remove(tree, on.profile, menu, entry))


def _splash(on: _On, values: Mapping[str, Any], wish: Wish) -> Plan:
    from workbench.jobs.splash import plan_blank, plan_put

    moments = tuple(values.get("moments", ("start",)))
    hint: Any = {key: values[key] for key in ("container", "bits", "masks", "rows", "gzip") if key in values}
    if "blank" in values:
        return plan_blank(on.tree, on.profile, moments, values.get("background", "#000000"), kind=hint)
    return plan_put(
        on.tree,
        on.profile,
        moments,
        on.routine.host_file(wish),
        fit=values.get("fit", "contain"),
        background=values.get("background", "#000000"),
        dither=values.get("dither", "ordered"),
        kind=hint,
    )


def _edit(on: _On, values: Mapping[str, Any], wish: Wish) -> Plan:
    from workbench.errors import ManifestError
    from workbench.jobs import edit

    at = VolumePath.parse(values["file"])
    manifest = edit.read_manifest(on.tree, on.profile, at)
    try:
        there: Any = edit.get_value(manifest, values["at"])
    except ManifestError:
        manifest.open()
        if wish.do == "delete":
            return NOTHING
        return edit.plan_insert(on.tree, on.profile, at, values["at"], values["value"])
    if wish.do == "delete":
        return edit.plan_delete(on.tree, on.profile, at, values["at"])
    if there == values["value"] and type(there) is type(values["value"]):
        return NOTHING
    return edit.plan_set(on.tree, on.profile, at, values["at"], values["value"])


def _mend(on: _On, values: Mapping[str, Any], _: Wish) -> Plan:
    from workbench.jobs import edit

    at = VolumePath.parse(values["file"])
    if edit.read_manifest(on.tree, on.profile, at).mend() is None:
        edit.read_manifest(on.tree, on.profile, at).open()
        return NOTHING
    return edit.plan_mend(on.tree, on.profile, at)


def _pack(on: _On, _: Mapping[str, Any], wish: Wish) -> Plan:
    from workbench.jobs.packs.adding import plan_add_pack, refuse_unfit
    from workbench.jobs.packs.looking import look

    found = look(on.tree, on.profile, on.routine.host_file(wish), traces=on.traces)
    refuse_unfit(found, on.profile)
    if not found.of("new") and not found.of("changed") and not found.of("clash"):
        return NOTHING
    return plan_add_pack(on.tree, on.profile, found, {})


_PLANNERS: Mapping[str, Callable[[_On, Mapping[str, Any], Wish], Plan]] = {
    "rename": _rename,
    "arrange": _arrange,
    "label": _label,
    "icon": _icon,
    "add": _add,
    "copy": _copy,
    "hide": _hide,
    "show": _show,
    "remove": _remove,
    "splash": _splash,
    "set": _edit,
    "insert": _edit,
    "delete": _edit,
    "mend": _mend,
    "pack": _pack,
}
