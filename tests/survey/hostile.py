"""Things that a card may hold to hurt its reader, each put beside a small honest card."""

from __future__ import annotations

import gzip
import json
import os
import socket
import struct
from collections.abc import Callable
from pathlib import Path

from layout_pictures import bmp, draw, png

NAMES = ("Amber Lantern", "Boat", "Boats", "Reed Boat", "Slate Roof", "Winter Wren")


def lay_out_honest(root: Path) -> Path:
    """A menu of six folders, a register, a list, icons and a splash."""
    for number, name in enumerate(NAMES):
        (root / "trove" / name).mkdir(parents=True)
        (root / "trove" / name / "go").write_text(f'#!/bin/sh\ncd "/stow/trove/{name}"\n')
        (root / "faces").mkdir(exist_ok=True)
        (root / "faces" / f"{name}.png").write_bytes(png(draw(48, 48, number)))
    rows = {
        name: {"wording": f"Tale number {n}", "opens": f"/stow/trove/{name}/go"}
        for n, name in enumerate(NAMES)
    }
    (root / "innards").mkdir()
    (root / "innards" / "roll.json").write_text(json.dumps({"hall": rows}, indent=1))
    (root / "innards" / "lately.list").write_text("".join(f"/stow/trove/{name}/go\n" for name in NAMES[:3]))
    (root / "dawn.bmp").write_bytes(bmp(draw(320, 240, 3), 24))
    return root


def circles(root: Path) -> None:
    """Links that lead to themselves, to each other, to the folder that holds them, and out of the card."""
    os.symlink("ring", root / "ring")
    os.symlink("there", root / "back")
    os.symlink("back", root / "there")
    os.symlink("..", root / "trove" / "up")
    os.symlink(root, root / "innards" / "whole")
    os.symlink("/", root / "innards" / "world")
    os.symlink("/dev/zero", root / "innards" / "endless.json")


def vast(root: Path) -> None:
    """A manifest of 200 MB, sparse, that begins as JSON, and one that begins as lines."""
    rows = ("".join(f'"k{n}": "/stow/trove/Boat/go",\n' for n in range(9000))).encode()
    for name, start in (("vast.json", b"{" + rows), ("vast.list", b"/stow/trove/Boat/go\n" * 9000)):
        with (root / "innards" / name).open("wb") as file:
            file.write(start)
            file.truncate(200 * 1024 * 1024)


def deep(root: Path) -> None:
    """Nested 100,000 deep, in each format that nests."""
    many = 100_000
    (root / "innards" / "deep.json").write_text("[" * many + "]" * many)
    (root / "innards" / "keyed.json").write_text('{"a":' * many + "1" + "}" * many)
    (root / "innards" / "deep.toml").write_text("a = " + "[" * many + "]" * many)
    (root / "innards" / "dotted.toml").write_text("a" + ".a" * many + " = 1\n")
    (root / "innards" / "deep.xml").write_text("<a>" * many + "</a>" * many)
    (root / "innards" / "deep.sh").write_text("#!/bin/sh\n" + "echo $(" * many + ")" * many + "\n")


def odd_names(root: Path) -> None:
    """Control characters, escapes, line ends, direction marks, bytes that are no text, markup, 255 bytes."""
    names = (b"bell\x07", b"\x1b]0;owned\x07", b"two\nlines", b"tab\there", "\u202egnp".encode(), b"\xff\xfe")
    names += (b"[bold]", b"a" * 255, b"-rf", b"$(reboot)", b"{entry}", b"%s%n", b"'\"\\", b" ", b"...")
    for name in names:
        os.mkdir(os.path.join(os.fsencode(root), b"trove", name))
    with open(os.path.join(os.fsencode(root), b"innards", b"\x1b[2J.json"), "wb") as file:
        file.write(b'{"\\u001b[2J": "\\ud800", "Boat": "two\\nlines", "{entry}": "/stow/trove/{entry}/go"}')


def bombs(root: Path) -> None:
    """Entities that unfold without end or read other files, and packed zeros."""
    unfold = "".join(f'<!ENTITY e{n} "{f"&e{n - 1};" * 10}">' for n in range(1, 12))
    bomb = f'<?xml version="1.0"?><!DOCTYPE a [<!ENTITY e0 "Boat">{unfold}]><a>&e11;</a>'
    (root / "innards" / "bomb.xml").write_text(bomb)
    outside = '<?xml version="1.0"?><!DOCTYPE a [<!ENTITY o SYSTEM "file:///etc/passwd">]><a>&o;</a>'
    (root / "innards" / "outside.xml").write_text(outside)
    with gzip.open(root / "dusk.bmp.gz", "wb", 6) as file:
        for _ in range(600):
            file.write(bytes(1 << 20))


def lies(root: Path) -> None:
    """Headers that claim what is not there: pictures of a thousand million pixels, torn and empty files."""
    header = struct.pack(">2I5B", 60000, 60000, 8, 2, 0, 0, 0)
    (root / "faces" / "Boat huge.png").write_bytes(b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR" + header + bytes(8))
    claim = struct.pack(
        "<2sIHHIIiiHHIIiiII", b"BM", 99, 0, 0, 54, 40, 2**31 - 1, -(2**31), 1, 24, 0, 0, 0, 0, 0, 0
    )
    (root / "noon.bmp").write_bytes(claim)
    for name in ("empty.json", "empty.bmp", "empty.png", "empty.toml", "empty.xml", "empty"):
        (root / "innards" / name).write_bytes(b"")
    (root / "innards" / "zeros.json").write_bytes(bytes(3_000_000))
    (root / "innards" / "ends.list").write_bytes(b"\n" * 3_000_000)
    (root / "innards" / "line.conf").write_bytes(b"a" * 7_000_000)
    (root / "innards" / "number.json").write_text('{"Boat": ' + "9" * 400_000 + "}")
    (root / "innards" / "many.json").write_text(json.dumps({f"k{n}": n for n in range(200_000)}))


def waiting(root: Path) -> None:
    """Files that make a reader wait for ever: a pipe and a socket under names of manifests."""
    os.mkfifo(root / "innards" / "pipe.json")
    os.mkfifo(root / "trove" / "pipe")
    here = os.getcwd()
    os.chdir(root / "innards")
    with socket.socket(socket.AF_UNIX) as one:
        one.bind("plug.json")
    os.chdir(here)


def locked(root: Path) -> None:
    """A folder and a file that nobody may read."""
    (root / "closed" / "below").mkdir(parents=True)
    (root / "closed" / "below" / "roll.json").write_text("{}")
    (root / "innards" / "closed.json").write_text('{"Boat": 1}')
    (root / "innards" / "closed.json").chmod(0)
    (root / "closed").chmod(0)


def deep_folders(root: Path) -> None:
    """Folders in folders, 400 levels down: the path is longer than any call to the system takes."""
    here = os.getcwd()
    os.chdir(root)
    for _ in range(400):
        os.mkdir("a long name of a folder")
        os.chdir("a long name of a folder")
    os.chdir(here)


ATTACKS: tuple[Callable[[Path], None], ...] = (
    circles,
    vast,
    deep,
    odd_names,
    bombs,
    lies,
    waiting,
    locked,
    deep_folders,
)
SAID = {
    vast: ("innards/vast.json", "innards/vast.list"),
    deep: ("innards/deep.json", "innards/keyed.json"),
    locked: ("closed",),
}
"""What must be among the notes of what was skipped."""
