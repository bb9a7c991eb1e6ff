"""Content too large for a plan: it waits in the cache folder while the plan waits, and goes with it."""

from __future__ import annotations

from pathlib import Path

from workbench.changes.plan import Plan, Prepared, Write, digest

INLINE_LIMIT = 1024 * 1024
"""Larger content waits in the cache folder and not in the plan."""


def hold(content: bytes) -> bytes | Prepared:
    """The content as a step can have it."""
    if len(content) <= INLINE_LIMIT:
        return content
    from workbench.host.renders import keep_render

    return Prepared(str(keep_render(content)), len(content), digest(content))


def drop_renders(plan: Plan) -> None:
    """Forget the large content that a plan waits with: it was written, or nobody wants it any more."""
    for step in plan.steps:
        if isinstance(step, Write) and isinstance(step.content, Prepared):
            from workbench.host.renders import drop_render

            drop_render(Path(step.content.file))
