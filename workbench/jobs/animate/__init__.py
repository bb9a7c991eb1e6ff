"""A clip becomes a boot animation: rendered, examined, and planned as one change."""

from __future__ import annotations

from workbench.jobs.animate.budget import parse_budget
from workbench.jobs.animate.planning import PlannedAnimation, default_name, plan_animate
from workbench.jobs.animate.report import AnimateReport
from workbench.jobs.animate.run import CancelledError
from workbench.jobs.animate.wish import REMEDIES, AnimateWish, Budget, Progress, Remedy

__all__ = [
    "REMEDIES",
    "AnimateReport",
    "AnimateWish",
    "Budget",
    "CancelledError",
    "PlannedAnimation",
    "Progress",
    "Remedy",
    "default_name",
    "parse_budget",
    "plan_animate",
]
