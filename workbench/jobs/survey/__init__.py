"""Learns the layout of a card that nobody described, and writes it down as a profile.

`read_survey` looks at a card once; what follows (answers, corrections, the profile's text) are pure functions
of what it returns.
"""

from workbench.jobs.survey.findings import Choice, Evidence, Finding, Line, Mention, Question, Survey
from workbench.jobs.survey.profile_text import profile_text
from workbench.jobs.survey.surveying import (
    add_menu,
    amend,
    answer,
    correct,
    drop,
    leave,
    read_survey,
    take,
    take_back,
)
from workbench.jobs.survey.trial import Heard, Silent, Trial, try_profile

__all__ = [
    "Choice",
    "Evidence",
    "Finding",
    "Heard",
    "Line",
    "Mention",
    "Question",
    "Silent",
    "Survey",
    "Trial",
    "add_menu",
    "amend",
    "answer",
    "correct",
    "drop",
    "leave",
    "profile_text",
    "read_survey",
    "take",
    "take_back",
    "try_profile",
]
