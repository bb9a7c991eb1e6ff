"""How prefixes are made: a style and what follows it, chosen from one list, each with how it looks."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import product
from typing import TYPE_CHECKING

from textual.widget import Widget

from workbench.order.prefixes import SEPARATORS
from workbench.tui.arranging import Prefixing
from workbench.tui.dialog import Dialog
from workbench.tui.line_list import LineList
from workbench.tui.lines import Line

if TYPE_CHECKING:
    from workbench.card.profile import Order, PrefixRule, PrefixStyle

STYLES: dict[PrefixStyle, tuple[str, str]] = {
    "shortest": ("05", "the shortest that does"),
    "numbers": ("050", "numbers of one width, with room between"),
    "letters": ("aa", "doubled letters"),
}
"""Style → an example, and what it is."""

_SIGNS = {" ": "a space", "-": "a dash", "_": "an underscore", ".": "a full stop"}


def separator_caution(separator: str, order: Order) -> str:
    """What is to be known of a separator under an order (ASCII: RFC 20); empty where there is nothing."""
    if separator == "_" and order in ("bytes", "letters-up"):
        after = "capitals" if order == "bytes" else "letters"
        return f"An underscore sorts after digits and {after}, so 05_ comes after 050 and 05A."
    if separator == "_":
        return "An underscore sorts after digits, so 05_ comes after 050."
    if separator == ".":
        return "Some programs take what follows a full stop for the kind of a file."
    return ""


class PrefixDialog(Dialog[Prefixing]):
    """Dismisses with how prefixes are to be made from now on."""

    title_text = "How prefixes are made in this menu"

    def __init__(self, rule: PrefixRule, order: Order, now: Prefixing, bare_name: str) -> None:
        super().__init__()
        own = (rule.style, rule.separator)
        self._now = (now.style or own[0], now.separator if now.separator is not None else own[1])
        self._own = own
        self._order = order
        self._bare_name = bare_name
        signs = dict.fromkeys((rule.separator, *SEPARATORS))
        self._choices = list(product(STYLES, signs))

    def compose_body(self) -> Iterable[Widget]:
        yield LineList(id="dialog-list")

    def on_mount(self) -> None:
        super().on_mount()
        lines = [self._line(style, sign) for style, sign in self._choices]
        start = self._choices.index(self._now) if self._now in self._choices else 0
        self.query_one("#dialog-list", LineList).show(lines, start)

    def _line(self, style: PrefixStyle, sign: str) -> Line:
        choice = (style, sign)
        words = ["now"] if choice == self._now else []
        words += ["the device profile's own"] if choice == self._own else []
        token, _what = STYLES[style]
        return Line.of(
            (f"{style:<9}", "strong"),
            (f"{_SIGNS.get(sign, sign):<14}", "plain"),
            (f"{token}{sign}{self._bare_name}", "place"),
            right=[(", ".join(words), "muted")] if words else (),
        )

    def on_line_list_cursor_moved(self, message: LineList.CursorMoved) -> None:
        style, sign = self._choices[message.index]
        what = STYLES[style][1]
        caution = separator_caution(sign, self._order)
        said = f"{style}: {what}.{' ! ' + caution if caution else ''}"
        self.show_hint(f"{said}\nenter: take it   esc: back")

    def on_line_list_chosen(self, message: LineList.Chosen) -> None:
        style, sign = self._choices[message.index]
        own_style, own_sign = self._own
        self.dismiss(Prefixing(None if style == own_style else style, None if sign == own_sign else sign))
