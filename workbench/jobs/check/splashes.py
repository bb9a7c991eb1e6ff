"""Rules about splashes: what the device, or a common boot loader, could not show.

Facts about loaders: U-Boot, drivers/video/video_bmp.c and its Kconfig; see `media.loaders`.
"""

from __future__ import annotations

from collections.abc import Iterator

from workbench.card.paths import VolumePath
from workbench.card.profile import SplashRule
from workbench.errors import CardError, MediaError
from workbench.jobs.check.checked_card import CheckedCard
from workbench.jobs.check.finding import Finding
from workbench.jobs.check.rule import Rule
from workbench.jobs.check.splash_again import making_again
from workbench.jobs.splash_target import find_splash_file, profile_hint
from workbench.media.kind import SplashKind
from workbench.media.kind_reader import Hint, read_kind
from workbench.media.loaders import find_doubts, is_sheared
from workbench.values import replace

UNKNOWN = Rule("unknown-splash", "error", "is no picture that the device could show as a splash")
MISSING = Rule("missing-splash", "warning", "is named by the profile as a splash and is not there")
SIZE = Rule("splash-size", "error", "is a splash of another size than the panel")
HEAVY = Rule("heavy-splash", "error", "is a splash of more bytes than the device takes")
KIND = Rule("splash-kind", "error", "is a splash of another kind than the device reads")
LOADER = Rule("splash-loader", "warning", "is a splash that common boot loaders do not show, or not right")
RULES = (UNKNOWN, MISSING, SIZE, HEAVY, KIND, LOADER)


def find(card: CheckedCard) -> Iterator[Finding]:
    """Moment by moment."""
    for rule in card.profile.splashes:
        if rule.file.volume in card.roles:
            yield from _look(card, rule)


def _look(card: CheckedCard, rule: SplashRule) -> Iterator[Finding]:
    try:
        at, raw = find_splash_file(card.tree, rule)
    except CardError as error:
        at = VolumePath(rule.file.volume, rule.file.path)
        yield UNKNOWN.found(at, error.message.partition(": ")[2] or error.message)
        return
    if raw is None:
        yield MISSING.found(at, f"the splash of {rule.moment} is not there")
        return
    hint = profile_hint(card.profile, rule)
    try:
        kind = read_kind(raw, hint)
    except MediaError as error:
        yield UNKNOWN.found(at, f"the splash of {rule.moment} cannot be shown: {error.message}")
        return
    remedy = making_again(card.profile, rule, kind)
    if rule.max_bytes is not None and len(raw) > rule.max_bytes:
        yield HEAVY.found(
            at, f"has {len(raw):,} bytes, and the device takes {rule.max_bytes:,}", remedy=remedy
        )
    yield from (replace(one, remedy=remedy) for one in judge_kind(at, rule, kind, hint))


def judge_kind(at: VolumePath, rule: SplashRule, kind: SplashKind, hint: Hint) -> Iterator[Finding]:
    """What is wrong with a splash of that kind at that moment; `hint` says what the profile knows."""
    wanted = int(hint["width"]), int(hint["height"])
    size = kind.width, kind.height
    if size != wanted:
        is_larger = size[0] > wanted[0] or size[1] > wanted[1]
        is_turned = size == (wanted[1], wanted[0])
        turned = "; it is not turned as the panel needs it" if is_turned else ""
        message = f"is {size[0]}×{size[1]}, and the panel shows {wanted[0]}×{wanted[1]}{turned}"
        yield SIZE.found(at, message, level=None if is_larger else "warning")
    if rule.max_unpacked is not None and kind.gzip and kind.unpacked > rule.max_unpacked:
        yield HEAVY.found(
            at, f"unpacks to {kind.unpacked:,} bytes, and the device's loader takes {rule.max_unpacked:,}"
        )
    yield from _judge_sort(at, rule, kind)
    known = rule.kind.get("container") is not None
    if is_sheared(kind) or not known:
        doubts = find_doubts(kind, rule.max_unpacked)
        yield from (LOADER.found(at, doubt) for doubt in doubts)
    elif kind.gzip and rule.max_unpacked is None:
        yield from (LOADER.found(at, doubt) for doubt in find_doubts(kind) if "unpacked" in doubt)


def _judge_sort(at: VolumePath, rule: SplashRule, kind: SplashKind) -> Iterator[Finding]:
    """Container, packing, depth, masks and row order, as far as the profile says them."""
    for key, has, words in (
        ("container", kind.container, "is {has}, and the device reads {wants}"),
        ("gzip", kind.gzip, "{has}, and the device reads what {wants}"),
        ("bits", kind.bits, "has {has} bits for each pixel, and the device reads {wants}"),
        ("masks", kind.masks, "has its colours laid out as {has}, and the device reads {wants}"),
        ("rows", kind.rows, "has its rows {has}, and the device reads them {wants}"),
    ):
        wants = rule.kind.get(key)
        if wants is None or has == wants or (key == "masks" and has is None):
            continue
        if key == "rows" and kind.container != "bmp":
            continue
        if key == "gzip":
            said = {True: "is packed with gzip", False: "is not packed with gzip"}
            yield KIND.found(at, words.format(has=said[bool(has)], wants=said[bool(wants)]))
        else:
            yield KIND.found(at, words.format(has=has, wants=wants))
