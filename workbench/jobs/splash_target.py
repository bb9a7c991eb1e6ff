"""What is to be dressed: the moments that are meant, the file of each, and the kind that it is to have.

A file that is there decides its kind; the profile speaks where there is none, the user's wish above both.
"""

from __future__ import annotations

from collections.abc import Sequence

from workbench.card.paths import VolumePath
from workbench.card.profile import Profile, SplashRule
from workbench.card.tree import Tree
from workbench.errors import CardError, EntryError, MediaError
from workbench.media.fitting import turned_size
from workbench.media.kind import SplashKind
from workbench.media.kind_reader import Hint, kind_from_hint, read_kind
from workbench.media.limits import MAX_UNPACKED
from workbench.media.loaders import find_doubts, is_sheared
from workbench.values import dataclass, replace

ALL = "all"
"""Stands for every moment of the profile."""


@dataclass(frozen=True, slots=True)
class SplashTarget:
    """One moment that is to be dressed."""

    rule: SplashRule
    rotate: int
    at: VolumePath
    old: bytes | None
    """The file that is there."""
    present: SplashKind | None
    """Its kind, where it is known."""
    kind: SplashKind
    """The kind to be written."""
    notes: tuple[str, ...]

    @property
    def like(self) -> bytes | None:
        """The file to be followed in everything that is no pixel."""
        return self.old if self.present else None

    @property
    def seen_size(self) -> tuple[int, int]:
        """The size as a person sees it, before the turn."""
        return turned_size((self.kind.width, self.kind.height), self.rotate)


def choose_rules(profile: Profile, moments: Sequence[str]) -> tuple[SplashRule, ...]:
    """The profile's rules for these moments, each once; `all` stands for every one.

    Raises:
        EntryError: no such moment, with those that there are.
    """
    known = {rule.moment: rule for rule in profile.splashes}
    if not known:
        raise EntryError(
            f"the profile {profile.name} names no splash; add [[splash]] with moment and file to it",
            path=str(profile.source),
        )
    if ALL in moments:
        return profile.splashes
    for moment in moments:
        if moment not in known:
            import difflib

            close = difflib.get_close_matches(moment, known, 1)
            hint = f"; did you mean {close[0]}?" if close else ""
            raise EntryError(
                f"the profile {profile.name} has no splash for {moment!r}; it has {', '.join(known)}{hint}",
                path=str(profile.source),
            )
    return tuple(known[moment] for moment in dict.fromkeys(moments))


def find_targets(
    tree: Tree, profile: Profile, moments: Sequence[str], wish: Hint | None
) -> tuple[tuple[SplashTarget, ...], list[str]]:
    """The moments to dress, and notes; of `all`, those on absent volumes are left out and said.

    Args:
        wish: what shall differ from the kind that is there; see `kind_reader.Hint`.

    Raises:
        EntryError, CardError: no such moment; its volume is not there.
        MediaError: no kind can be told, or one that the device could not show.
    """
    rules = choose_rules(profile, moments)
    notes: list[str] = []
    if ALL in moments:
        there = tuple(rule for rule in rules if rule.file.volume in tree.roles())
        notes = [
            f"{rule.moment} is left out: the volume {rule.file.volume} is not there"
            for rule in rules
            if rule not in there
        ]
        rules = there or rules
    for rule in rules:
        require_volume(tree, rule)
    return tuple(_find_target(tree, profile, rule, wish or {}) for rule in rules), notes


def _find_target(tree: Tree, profile: Profile, rule: SplashRule, wish: Hint) -> SplashTarget:
    at, old = find_splash_file(tree, rule)
    hint = profile_hint(profile, rule)
    present, notes = _read_present(at, old, hint, bool(rule.kind.get("container")) or "container" in wish)
    try:
        kind = _wished(present, hint, wish) if wish else present or kind_from_hint(hint)
    except MediaError as error:
        raise MediaError(f"{at}: {error.message}", path=str(at)) from error
    _check_size(at, kind, present, hint)
    if wish:
        _check_width(at, kind, present)
    return SplashTarget(rule, turn_of(profile, rule), at, old, present, kind, tuple(notes))


def _read_present(
    at: VolumePath, old: bytes | None, hint: Hint, can_do_without: bool
) -> tuple[SplashKind | None, list[str]]:
    if old is None:
        return None, []
    try:
        return read_kind(old, hint), []
    except MediaError as error:
        if not can_do_without:
            raise MediaError(
                f"{at} is of no kind known here ({error.message}), and the profile does not say "
                "what the device reads. Nothing was changed; say it with `kind` in [[splash]]",
                path=str(at),
            ) from error
        return None, [
            f"{at} is of no kind known here ({error.message}); the kind that the profile names is used"
        ]


def _wished(present: SplashKind | None, hint: Hint, wish: Hint) -> SplashKind:
    """The present kind with what the user wants otherwise; layouts that no longer fit are dropped."""
    base = hint_of(present) if present else dict(hint)
    if wish.get("container", base.get("container")) != base.get("container"):
        base = {key: base[key] for key in ("width", "height", "gzip") if key in base}
    if "bits" in wish and wish["bits"] != base.get("bits"):
        base.pop("masks", None)
        base.pop("header", None)
    kind = kind_from_hint({**base, **wish})
    return replace(kind, resolution=present.resolution) if present and kind.container == "bmp" else kind


def hint_of(kind: SplashKind) -> dict[str, str | int | bool]:
    hint: dict[str, str | int | bool] = {
        "container": kind.container,
        "bits": kind.bits,
        "gzip": kind.gzip,
        "width": kind.width,
        "height": kind.height,
    }
    if kind.masks:
        hint["masks"] = kind.masks
    if kind.container == "bmp":
        hint |= {"rows": kind.rows, "header": kind.header_size}
    return hint


def _check_size(at: VolumePath, kind: SplashKind, present: SplashKind | None, hint: Hint) -> None:
    """A size that is there is trusted; a new one must not exceed the panel (loaders cut it, and badly)."""
    width, height = int(hint["width"]), int(hint["height"])
    if present and (kind.width, kind.height) == (present.width, present.height):
        return
    if kind.width > width or kind.height > height:
        raise MediaError(
            f"{at}: a splash of {kind.width}×{kind.height} is larger than the {width}×{height} that "
            "the device shows. Nothing was changed; ask for a smaller one",
            path=str(at),
        )


def _check_width(at: VolumePath, kind: SplashKind, present: SplashKind | None) -> None:
    """A width that loaders shear is not taken up on a wish; where one is there, the device shows it."""
    if is_sheared(kind) and not (present and is_sheared(present)):
        raise MediaError(
            f"{at}: {find_doubts(kind)[0]}. Nothing was changed; ask for a width that is a multiple of 4",
            path=str(at),
        )


def find_splash_file(tree: Tree, rule: SplashRule) -> tuple[VolumePath, bytes | None]:
    """Where the splash really lies (a link within the volume followed), and its bytes."""
    at = VolumePath(rule.file.volume, rule.file.path)
    item = tree.stat(at)
    if item is not None and item.kind == "link":
        at = tree.resolve(at)
        item = tree.stat(at)
    if item is None:
        return at, None
    if item.kind != "file":
        raise CardError(f"{at} is no file, so no splash can be read or put there", path=str(at))
    if item.size > MAX_UNPACKED:
        raise CardError(f"{at} holds {item.size:,} bytes, which is no splash", path=str(at))
    return at, tree.read(at)


def require_volume(tree: Tree, rule: SplashRule) -> None:
    if rule.file.volume not in tree.roles():
        raise CardError(
            f"the volume {rule.file.volume} is not there, and the splash of {rule.moment} lies on it. "
            "Nothing was changed; insert or name that volume, then do it again",
            path=str(rule.file),
        )


def profile_hint(profile: Profile, rule: SplashRule) -> dict[str, str | int | bool]:
    """What the profile knows of the file: the panel's size after the turn, and the kind it names."""
    width, height = turned_size((profile.panel.width, profile.panel.height), turn_of(profile, rule))
    return {"width": width, "height": height, **rule.kind}


def turn_of(profile: Profile, rule: SplashRule) -> int:
    return profile.panel.rotate if rule.rotate is None else rule.rotate
