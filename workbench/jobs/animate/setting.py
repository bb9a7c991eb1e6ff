"""What settings, shown name and choice of an animation shall say, put in where the profile says."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from workbench.card.animation_pace import Pace, write_number
from workbench.card.animation_rule import AnimationRule
from workbench.card.animations import Animation, place, pointer, require_rule
from workbench.card.paths import VolumePath
from workbench.card.profile import Profile
from workbench.card.tree import Tree
from workbench.errors import CardError, EntryError, ManifestError, ProfileError
from workbench.jobs.animate.sheets import Sheet, Sheets, as_value
from workbench.jobs.animate.template import fill_template, fit_text
from workbench.manifests.document import Format
from workbench.manifests.selector import Selector
from workbench.shown import shown
from workbench.values import dataclass


@dataclass(frozen=True, slots=True)
class Facts:
    """What an animation's manifests shall say. None: as it is, or nothing where there is nothing."""

    name: str
    count: int
    first: int
    pace: Pace
    loops: int | None = None
    author: str | None = None
    label: str | None = None

    @property
    def last(self) -> int:
        """Number of the last frame."""
        return self.first + self.count - 1

    @property
    def words(self) -> dict[str, str]:
        """What a template's open places stand for."""
        wait = self.pace.wait
        return {
            "name": self.name,
            "label": self.name if self.label is None else self.label,
            "author": self.author or "",
            "count": str(self.count),
            "last": str(self.last),
            "delay": write_number(Fraction(round(wait * 1000))),
            "rate": write_number(round(1 / wait, 3)),
            "loops": str(1 if self.loops is None else self.loops),
        }


def put_settings(
    sheets: Sheets, rule: AnimationRule, facts: Facts, like: Animation | None, raw_like: bytes | None
) -> list[str]:
    """Write count, pace, loops and author; answers notes for a person.

    Args:
        like: another animation, whose settings a new file follows where there is no template.
        raw_like: the bytes of its settings.

    Raises:
        ManifestError: malformed, or the format cannot hold what has to be said.
        EntryError: a wish for which the device has no setting.
    """
    settings, notes = rule.settings, []
    if settings is None:
        if facts.loops is not None:
            raise _no_loops(facts)
        return []
    at = place(settings.file, facts.name)
    start, words = None, _fitted(facts, settings.format)
    if settings.template is not None:
        start = fill_template(settings.template, settings.format, words, str(at))
    elif like is not None and like.settings is not None and raw_like is not None:
        start = raw_like
    sheet = sheets.open(at, settings.format, start)
    if sheet.is_new and settings.template is None and start is not None and like is not None:
        notes.append(f"{at} is made after the one of {shown(like.name)}.")
    values = (
        (settings.count, as_value(Fraction(facts.count), settings.format)),
        (settings.last, as_value(Fraction(facts.last), settings.format)),
        (settings.pace, as_value(facts.pace.value, settings.format)),
    )
    for selector, value in values:
        _put(sheet, selector, facts.name, value)
    notes += _put_loops(sheet, settings.loops, facts, settings.format, is_copy=start is not None)
    notes += _put_author(sheet, settings.author, facts, settings.format, is_copy=settings.template is None)
    return notes


def put_label(sheets: Sheets, rule: AnimationRule, facts: Facts) -> list[str]:
    """Write the name that the device shows for the animation, where it was wished."""
    if facts.label is None:
        return []
    if rule.label is None:
        return [
            "The device shows no name for a boot animation; the label is only used where a menu shows it."
        ]
    at = place(rule.label.file, facts.name)
    sheet = sheets.open(at, rule.label.format)
    text = fit_text(facts.label, rule.label.format)
    _put(sheet, rule.label.at, facts.name, text)
    return [] if text == facts.label else [f"{at} holds a text on one line only: the label is put so."]


def put_choice(sheets: Sheets, tree: Tree, profile: Profile, name: str | None) -> None:
    """Make one animation play at start; None for none.

    Raises:
        ProfileError: the profile does not say where that is set, or what stands there for none.
        CardError: the volume with the setting is absent.
    """
    rule = require_rule(profile).chosen
    if rule is None:
        raise ProfileError(
            f"the profile of {shown(profile.name)} does not say where the device's choice stands; nothing "
            "was changed. Add `chosen` to its [animation].",
            path=str(profile.source),
        )
    if rule.file.volume not in tree.roles():
        raise CardError(
            f"the volume {rule.file.volume} is absent, and the choice stands on it; nothing was changed. "
            "Put it in first.",
            path=str(rule.file),
        )
    if name is None and rule.none is None:
        raise ProfileError(
            f"the profile of {shown(profile.name)} does not say what stands there when nothing plays at "
            'start; nothing was changed. Add `none = "…"` to `chosen` of its [animation].',
            path=str(profile.source),
        )
    text = rule.none if name is None else rule.is_.replace("{name}", name)
    sheet = sheets.open(VolumePath(rule.file.volume, rule.file.path), rule.format)
    _put(sheet, rule.at, "", text)


def choose_like(others: Sequence[Animation], name: str) -> Animation | None:
    """The animation that a new one follows: the one that plays, else the first whose settings can be read."""
    usable = [one for one in others if one.name != name and not one.fault and one.frames]
    return next((one for one in usable if one.is_chosen), usable[0] if usable else None)


def _put(sheet: Sheet, selector: Selector | None, name: str, value: object) -> None:
    if selector is None:
        return
    where = pointer(selector, name)
    if where is None:
        raise ManifestError(
            f"{selector.source!r} of the profile's [animation] leaves more open than {{name}}; "
            "nothing was changed",
            path=str(sheet.at),
        )
    sheet.put(where, value)


def _fitted(facts: Facts, format: Format) -> dict[str, str]:
    return {word: fit_text(text, format) for word, text in facts.words.items()}


def _put_loops(
    sheet: Sheet, selector: Selector | None, facts: Facts, format: Format, *, is_copy: bool
) -> list[str]:
    if selector is None:
        if facts.loops is not None:
            raise _no_loops(facts)
        return []
    if facts.loops is not None or (sheet.is_new and not is_copy):
        _put(
            sheet, selector, facts.name, as_value(Fraction(1 if facts.loops is None else facts.loops), format)
        )
    return []


def _put_author(
    sheet: Sheet, selector: Selector | None, facts: Facts, format: Format, *, is_copy: bool
) -> list[str]:
    """The author as given; of another animation's settings the author is not taken over."""
    if facts.author is not None and selector is None:
        return ["The device's settings name no author, so none was written."]
    if selector is None:
        return []
    if facts.author is None:
        if sheet.is_new and is_copy:
            where = pointer(selector, facts.name)
            if where is not None:
                sheet.drop(where)
        return []
    text = fit_text(facts.author, format)
    _put(sheet, selector, facts.name, text)
    return (
        [] if text == facts.author else [f"{sheet.at} holds a text on one line only: the author is put so."]
    )


def _no_loops(facts: Facts) -> EntryError:
    return EntryError(
        f"the device has no setting for how often {shown(facts.name)} plays, so {facts.loops} times cannot "
        "be set; nothing was changed. Leave the loops out.",
    )
