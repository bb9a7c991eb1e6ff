"""What does not name entries: splashes, a boot animation, pictures that are neither, prose and litter."""

from __future__ import annotations

import posixpath

from layout_card import CardPlan, Rule
from layout_pictures import bmp, draw, jpeg, packed, png, raw, wav
from layout_sheet import write_ini, write_json, write_keyvalue, write_toml
from layout_words import DISTRACTORS, HOUSE_FOLDERS, MOTIONS, SPLASHES

KINDS: tuple[Rule, ...] = (
    {"container": "bmp", "bits": 16, "masks": "565", "rows": "bottom-up"},
    {"container": "bmp", "bits": 24, "rows": "bottom-up"},
    {"container": "bmp", "bits": 32, "rows": "bottom-up"},
    {"container": "bmp", "bits": 24, "rows": "top-down"},
    {"container": "bmp", "bits": 24, "rows": "bottom-up", "gzip": True},
    {"container": "bmp", "bits": 16, "masks": "565", "rows": "bottom-up", "gzip": True},
    {"container": "png", "bits": 24},
    {"container": "jpeg", "bits": 24},
    {"container": "raw", "bits": 16},
    {"container": "raw", "bits": 32},
    {"container": "raw", "bits": 16, "gzip": True},
)


def add_splashes(card: CardPlan) -> None:
    """One to three moments, all of one kind or each of its own."""
    rng = card.rng
    volume = card.volumes[-1]
    folder = rng.choice(("", card.deck.deal(HOUSE_FOLDERS)))
    kind = rng.choice(KINDS)
    moments = ["start", *rng.sample(("charging", "low-battery", "shutdown"), rng.choice((0, 0, 1, 2)))]
    for number, moment in enumerate(moments):
        kind = kind if rng.random() < 0.7 else rng.choice(KINDS)
        path = posixpath.join(folder, f"{card.deck.deal(SPLASHES)}.{_suffix(kind)}")
        card.add(volume, path, make_splash(card, kind, number))
        card.splashes.append({"moment": moment, "file": f"{volume.role}:{path}", "kind": kind})
    if any(splash["kind"]["container"] == "raw" for splash in card.splashes):
        # A framebuffer has no header: without a picture of the panel's size nobody could tell its shape.
        card.add(card.volumes[0], "wall-paper.png", png(draw(*card.panel, 5)))


def make_splash(card: CardPlan, kind: Rule, number: int) -> bytes:
    """A splash of that kind, as large as the panel after its turn."""
    width, height = card.panel if card.rotate % 180 == 0 else card.panel[::-1]
    rows = draw(width, height, 9 + number)
    container, bits = kind["container"], kind["bits"]
    if container == "bmp":
        content = bmp(rows, bits, top_down=kind["rows"] == "top-down")
    elif container == "raw":
        content = raw(rows, bits)
    else:
        content = png(rows) if container == "png" else jpeg(rows)
    return packed(content) if kind.get("gzip") else content


def _suffix(kind: Rule) -> str:
    plain = {"bmp": "bmp", "png": "png", "jpeg": "jpg", "raw": "fb"}[kind["container"]]
    return plain + (".gz" if kind.get("gzip") else "")


def add_animation(card: CardPlan) -> None:
    """A folder of numbered frames with settings that agree with them, and a sound."""
    rng = card.rng
    if rng.random() < 0.45:
        return
    volume, name = card.volumes[0], card.deck.deal(MOTIONS)
    folder = posixpath.join(card.house, "unrolling", name)
    count, first, pad = rng.randint(6, 14), rng.choice((0, 1, 100)), rng.choice((0, 3, 4))
    before = rng.choice(("", "leaf", "f_"))
    size = (card.panel[0] // 2, card.panel[1] // 2)
    for number in range(first, first + count):
        card.add(volume, f"{folder}/{before}{number:0{pad or 1}d}.png", png(draw(*size, number)))
    delay = rng.choice((40, 50, 80, 100))
    unit = rng.choice(("ms", "fps"))
    settings = {"leaves": count, "pace": delay if unit == "ms" else 1000 // delay, "again": 0}
    format = rng.choice(("keyvalue", "ini", "json", "toml"))
    file, above = f"{folder}/unroll.cfg", ""
    if format == "ini":
        sheet, above = write_ini({"unroll": settings}, "=", "how it is shown"), "/unroll"
    elif format == "keyvalue":
        sheet = write_keyvalue(settings, "=", "how it is shown")
    else:
        sheet = (
            write_json(settings, "  ", "") if format == "json" else write_toml(settings, "how it is shown")
        )
    card.add_sheet(volume, file, sheet)
    card.add(volume, f"{folder}/chime.wav", wav(8000, count * delay / 1000))
    pattern = f"{volume.role}:{posixpath.dirname(folder)}/{{name}}"
    card.animation = {
        "folder": pattern,
        "frames": {"pattern": f"{before}{{n}}.png", "first": first, "pad": pad},
        "settings": {
            "file": f"{pattern}/unroll.cfg",
            "format": format,
            "count": f"{above}/leaves",
            "delay" if unit == "ms" else "rate": f"{above}/pace",
            "unit": unit,
        },
        "sound": {"file": f"{pattern}/chime.wav", "rate": 8000, "channels": 1},
    }


def add_distractors(card: CardPlan) -> None:
    """Numbered pictures that are no animation, and manifests that name nothing."""
    if "distractors" not in card.traits:
        return
    volume, folder = card.rng.choice(card.volumes), card.deck.deal(DISTRACTORS)
    for number in (1, 2, 3, 5, 6, 9, 10):
        card.add(volume, f"{folder}/shot{number:02d}.png", png(draw(40 + number, 30, number)))
    keys = {"A": "start", "B": "menu", "left": "one", "right": "on", "calm": "list"}
    card.add_sheet(
        volume, f"{folder}-buttons.json", write_json({"buttons": keys, "main": {"blue": 3}}, "  ", "")
    )


def add_prose(card: CardPlan) -> None:
    """Sentences and a binary that mention entries: no rule of any profile would cover them."""
    things = card.rng.sample(card.things, min(3, len(card.things)))
    lines = [f"If {thing.name} does not open, hold both buttons and wait." for thing in things]
    card.add(card.volumes[0], "read first.text", "\n".join(lines).encode() + b"\n")
    if card.rng.random() < 0.4:
        names = b"".join(b"\0\x01\x02" + thing.name.encode() + b"\0\xff\xfe" for thing in things)
        card.add(card.volumes[0], "plays.bin", b"\x7fBIN\0\0" + names)


def add_litter(card: CardPlan) -> None:
    """What computers leave on cards."""
    if "litter" not in card.traits:
        return
    volume = card.volumes[0]
    card.add(volume, ".DS_Store", bytes(64))
    card.add(volume, "System Volume Information/kept", bytes(8))
    for menu in card.menus:
        place = "/".join(filter(None, (menu.root, "._" + menu.things[0].name)))
        if (volume.folder, place) not in card.files and not menu.outer:
            card.add(volume, place, b"\0\5\x16\7\0\2\0\0" + bytes(32))
