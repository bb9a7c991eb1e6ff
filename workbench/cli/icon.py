"""`cardwright icon CARD ENTRY show | put PICTURE`."""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from workbench.cli.arguments import add_card_arguments, add_writing_arguments
from workbench.cli.carrying import carry_out, check_consent
from workbench.cli.chosen import add_menu_argument, choose_entry
from workbench.cli.opened import open_for_reading, open_for_writing
from workbench.cli.output import say, say_json
from workbench.errors import EntryError, MediaError, UsageError

if TYPE_CHECKING:
    from workbench.jobs.icon import EntryPicture

_MOST_ROWS = 24
"""Of a picture in the terminal; a wide one takes fewer."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    add_card_arguments(parser)
    parser.add_argument("entry", help="the entry's name (or MENU:NAME)")
    parser.add_argument("act", choices=("show", "put"))
    parser.add_argument("picture", nargs="?", help="put: any picture file")
    parser.add_argument(
        "--kind", help="which picture: icon, art, or the device's own word (put: the first one)"
    )
    parser.add_argument("--fit", choices=("contain", "cover", "stretch", "centre"), default="contain")
    parser.add_argument(
        "--background", metavar="COLOUR", help="behind the picture (clear where that can be, else black)"
    )
    add_menu_argument(parser)
    add_writing_arguments(parser)


def run(args: argparse.Namespace) -> int:
    if args.act == "show":
        return _show(args)
    from workbench.jobs.icon import drop_renders, plan_icon

    if not args.picture:
        raise UsageError("icon put needs a picture: cardwright icon CARD ENTRY put PICTURE")
    check_consent(args)
    opened = open_for_writing(args)
    menu, entry = choose_entry(args, opened, args.entry)
    plan = plan_icon(
        opened.tree,
        opened.profile,
        menu,
        entry,
        args.kind,
        Path(args.picture),
        fit=args.fit,
        background=args.background,
    )
    try:
        return carry_out(args, opened.card, plan)
    finally:
        drop_renders(plan)


def _show(args: argparse.Namespace) -> int:
    from workbench.jobs.icon import list_pictures

    if args.picture:
        raise UsageError("icon show takes no picture; to put one in: cardwright icon CARD ENTRY put PICTURE")
    opened = open_for_reading(args)
    menu, entry = choose_entry(args, opened, args.entry)
    found = list_pictures(opened.tree, opened.profile, menu, entry)
    pictures = [one for one in found if args.kind in (None, one.kind)]
    if args.kind and not pictures:
        kinds = ", ".join(dict.fromkeys(one.kind for one in found)) or "none"
        raise EntryError(
            f"{entry.name} has no picture of the kind {args.kind!r}; it has: {kinds}", path=str(entry.at)
        )
    if args.json:
        say_json({"menu": menu.id, "name": entry.name, "pictures": [_shape(one) for one in pictures]})
        return 0
    for picture in pictures:
        say(f"{picture.kind}  {picture.at}  {picture.sentence}")
        if sys.stdout.isatty() and picture.content is not None:
            _draw(picture)
    if not pictures:
        say(f"The profile names no pictures for the menu {menu.id}.")
    return 0


def _shape(picture: EntryPicture) -> dict[str, Any]:
    return {
        "kind": picture.kind,
        "volume": picture.at.volume,
        "path": picture.at.path,
        "missing": picture.is_missing,
        "size": list(picture.size) if picture.size is not None else None,
        "format": picture.format or None,
        "alpha": picture.has_alpha,
        "wanted": picture.wanted or None,
        "sentence": picture.sentence,
    }


def _draw(picture: EntryPicture) -> None:
    """The picture in half blocks; 24-bit colour where the terminal says that it has it, else 256 colours."""
    from workbench.jobs.icon import view_picture
    from workbench.media.preview import HALF_BLOCK, half_blocks

    try:
        image = view_picture(picture)
    except MediaError:
        return
    columns, rows = _room()
    is_true = os.environ.get("COLORTERM", "") in ("truecolor", "24bit")
    for line in half_blocks(image, columns, rows):
        cells = (f"\x1b[{_code(38, up, is_true)};{_code(48, low, is_true)}m{HALF_BLOCK}" for up, low in line)
        # Our own escapes, around pixels that were decoded: nothing that a card wrote.
        print("".join(cells) + "\x1b[0m")


def _room() -> tuple[int, int]:
    try:
        columns, rows = os.get_terminal_size(sys.stdout.fileno())
    except OSError:
        columns, rows = 80, 24
    return max(1, columns - 1), max(1, min(_MOST_ROWS, rows - 3))


def _code(ground: int, colour: tuple[int, int, int], is_true: bool) -> str:
    if is_true:
        return f"{ground};2;{colour[0]};{colour[1]};{colour[2]}"
    red, green, blue = (round(part / 255 * 5) for part in colour)
    return f"{ground};5;{16 + 36 * red + 6 * green + blue}"
