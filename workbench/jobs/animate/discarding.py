"""Forgets what was rendered for a plan that was written, or that nobody wants."""

from __future__ import annotations

from workbench.changes.plan import Plan
from workbench.jobs.renders import drop_renders


def drop_animation(plan: Plan) -> None:
    """Let go of every file that waits for the plan."""
    drop_renders(plan)
