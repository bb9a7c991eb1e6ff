"""What the survey's page has done in threads: reading a card, trying a profile, looking up lines, saving."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from workbench.errors import CardError, CardwrightError
from workbench.tui.survey_draft import Draft, Existing, Proposed, parse_draft
from workbench.tui.survey_lines import Seen, line_text
from workbench.values import dataclass, replace

if TYPE_CHECKING:
    from workbench.card.entry import Menu
    from workbench.card.profile import Profile
    from workbench.card.tree import Tree
    from workbench.card.volumes import Card
    from workbench.jobs.survey import Evidence, Trial

Tell = Callable[[str, int, int], None]


@dataclass(frozen=True, slots=True)
class Tried:
    """A profile laid over the card."""

    trial: Trial
    names: Mapping[str, str]
    """What the trial calls each finding."""

    def because(self, finding_id: str) -> str:
        """Why a finding's rule matches nothing; empty where it matches, or was not tried."""
        name = self.names.get(finding_id)
        return next((one.because for one in self.trial.silent if one.rule == name), "")

    def evidence(self, finding_id: str) -> Sequence[Evidence]:
        """Where a finding's rule matches."""
        name = self.names.get(finding_id)
        return next((one.evidence for one in self.trial.heard if one.rule == name), ())


def survey_card(card: Card, tell: Tell) -> Proposed:
    """Read a card that nobody described, or whose profile is to be proposed anew."""
    from workbench.jobs.survey import read_survey
    from workbench.jobs.survey.opening import spread_card

    spread = card if card.profile is not None else spread_card(card, tell=tell)
    return Proposed(read_survey(spread, tell=tell))


def open_file(card: Card, source: Path) -> Existing:
    """Any profile, laid over the card as far as its volumes are there."""
    from workbench.card.profile_reader import read_profile
    from workbench.jobs.survey.sheet import read_sheet

    profile = read_profile(source)
    sheet = read_sheet(source.read_bytes(), source)
    same = card.profile is not None and card.profile.source == source
    return Existing(sheet, card if same else known_card(card, profile))


def known_card(card: Card, profile: Profile) -> Card:
    """The card as that profile has it.

    Raises:
        CardError: nothing on the card tells any of its volumes.
    """
    from workbench.card.computer import Computer
    from workbench.card.identify import match_profile
    from workbench.card.making import make_known_card

    roots = [volume.root for volume in card.present]
    match = match_profile(profile, roots)
    if not match.roots:
        wanted = "; ".join(f"{role}: {', '.join(rule.identify)}" for role, rule in profile.volumes.items())
        raise CardError(
            f"nothing on this card tells a volume of that profile (it looks for {wanted}); nothing was "
            "changed. Correct what identifies its volumes."
        )
    return make_known_card(match, Computer(), card.source, name=card.name)


def try_draft(draft: Draft, tree: Tree) -> Tried:
    """Lay the profile over the card: what matches nothing, what is named under no rule."""
    from workbench.jobs.survey import try_profile
    from workbench.jobs.survey.trial import name_findings

    profile = parse_draft(draft)
    return Tried(try_profile(tree, profile), name_findings(draft.findings, profile))


def preview_menus(draft: Draft, tree: Tree) -> Sequence[Menu]:
    """The menus as the profile has them read."""
    from workbench.card.menu import read_menus

    return read_menus(tree, parse_draft(draft), labels=True)


def see(tree: Tree, evidence: Iterable[Evidence]) -> Sequence[Seen]:
    """The text of the lines that are meant; where a file cannot be read any more, what stood there."""
    seen: list[Seen] = []
    known: dict[object, bytes] = {}
    for one in evidence:
        if one.line is None:
            seen.append(Seen(one.at, None, one.words))
            continue
        try:
            raw = known[one.at] = known.get(one.at) or tree.read(one.at)
        except CardwrightError:
            seen.append(Seen(one.at, one.line, one.words))
        else:
            seen.append(Seen(one.at, one.line, line_text(raw, one)))
    return seen


# Saving


def user_place(draft: Draft) -> Path:
    """Where the profile would go in the user's configuration folder; what lies there is never replaced."""
    from workbench.host.folders import config_folder
    from workbench.jobs.survey.keeping import free_place

    return free_place(config_folder() / "profiles", draft.name)


def save_in_file(draft: Draft, place: Path) -> Card:
    """Write the profile to the host; the card as it has it.

    Raises:
        CardwrightError: the profile is not valid, does not fit, or cannot be written; nothing was.
    """
    from workbench.card.profile_reader import read_profile
    from workbench.host.folders import config_folder
    from workbench.host.safe_write import write_safely

    card = known_card(draft.card, parse_draft(draft))
    write_safely(place, draft.text().encode(), mode=0o644)
    is_user = place.parent == config_folder() / "profiles"
    return replace(card, profile=read_profile(place, "user" if is_user else "given"))


def adopt_for_card(draft: Draft, role: str) -> Card:
    """The card with the profile that is to go onto it: a person chose it, so it is trusted from now on."""
    from workbench.card.profile_reader import parse_profile
    from workbench.card.profiles import CARD_PROFILE, trust

    card = known_card(draft.card, parse_draft(draft))
    place = card.volume(role).root / CARD_PROFILE
    profile = trust(parse_profile(draft.text().encode(), place, "card"))
    return replace(card, profile=profile)
