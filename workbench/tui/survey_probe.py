"""The test picture."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from workbench.tui.survey_page import SurveyPage


async def probe(page: SurveyPage) -> None:
    """Later."""
    page.workbench.say("not yet")
