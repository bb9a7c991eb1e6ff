"""What the survey's page works on: a profile that is proposed, or one that exists. Knows nothing of Textual.

Values only: each edit makes another draft. Whatever is shown or saved comes from `text` and is parsed like
any profile, so that nothing invalid leaves the page.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from workbench.errors import CardwrightError
from workbench.values import dataclass, replace

if TYPE_CHECKING:
    from workbench.card.profile import Profile
    from workbench.card.volumes import Card
    from workbench.jobs.survey import Finding, Question, Survey
    from workbench.jobs.survey.sheet import Sheet

SURVEYED = Path("the surveyed profile")


@dataclass(frozen=True, slots=True)
class Proposed:
    """What a survey proposes."""

    survey: Survey

    @property
    def card(self) -> Card:
        return self.survey.card

    @property
    def name(self) -> str:
        """What it calls the device."""
        named = next((line.value for line in self.findings[0].lines if line.key == "name"), "")
        return str(named) or self.survey.name

    @property
    def source(self) -> Path | None:
        """The file that it was read from."""
        return None

    @property
    def findings(self) -> Sequence[Finding]:
        return self.survey.findings

    @property
    def questions(self) -> Sequence[Question]:
        return self.survey.questions

    def text(self) -> str:
        """The profile."""
        from workbench.jobs.survey import profile_text

        return profile_text(self.survey)

    def take(self, finding: Finding) -> Draft:
        from workbench.jobs.survey import take

        return Proposed(take(self.survey, finding))

    def drop(self, finding: Finding) -> Draft:
        from workbench.jobs.survey import drop

        return Proposed(drop(self.survey, finding))

    def leave(self, finding: Finding) -> Draft:
        from workbench.jobs.survey import leave

        return Proposed(leave(self.survey, finding))

    def amend(self, finding: Finding, values: Mapping[str, object], why: str) -> Draft:
        from workbench.jobs.survey import amend

        return Proposed(amend(self.survey, finding, values, why))


@dataclass(frozen=True, slots=True)
class Existing:
    """A profile that is there, laid over a card."""

    sheet: Sheet
    card: Card

    @property
    def name(self) -> str:
        """What it calls the device."""
        return str(next((line.value for line in self.findings[0].lines if line.key == "name"), ""))

    @property
    def source(self) -> Path | None:
        """The file that it was read from."""
        return self.sheet.source

    @property
    def findings(self) -> Sequence[Finding]:
        return self.sheet.findings

    @property
    def questions(self) -> Sequence[Question]:
        return ()

    def text(self) -> str:
        """The profile, with whatever was not touched as it was."""
        from workbench.jobs.survey.sheet import sheet_text

        return sheet_text(self.sheet)

    def take(self, finding: Finding) -> Draft:
        return self.leave(finding)

    def drop(self, finding: Finding) -> Draft:
        from workbench.jobs.survey.sheet import drop_part

        return replace(self, sheet=drop_part(self.sheet, finding))

    def leave(self, finding: Finding) -> Draft:
        from workbench.jobs.survey.sheet import leave_part

        return replace(self, sheet=leave_part(self.sheet, finding))

    def amend(self, finding: Finding, values: Mapping[str, object], why: str) -> Draft:  # noqa: ARG002 - as its fellow
        from workbench.jobs.survey.sheet import amend_part

        return replace(self, sheet=amend_part(self.sheet, finding, values))


Draft = Proposed | Existing


def parse_draft(draft: Draft) -> Profile:
    """The profile that a draft comes to.

    Raises:
        ProfileError, ManifestError: it would not be valid.
    """
    from workbench.card.profile_reader import parse_profile

    return parse_profile(draft.text().encode(), draft.source or SURVEYED, "user")


def fault_of(draft: Draft) -> str | None:
    """Why a draft is no valid profile; None where it is one."""
    try:
        parse_draft(draft)
    except CardwrightError as error:
        return error.message
    return None


def value_text(value: Any) -> str:
    """A value for a person to edit: a text as it is, anything else as TOML."""
    from workbench.jobs.survey.profile_text import write_value

    return value if isinstance(value, str) else write_value(value)


def typed_value(text: str, before: Any) -> Any:
    """What a person made of a value.

    Raises:
        ValueError: it cannot be read.
    """
    from workbench.jobs.survey.profile_text import read_value

    return text if isinstance(before, str) else read_value(text)
