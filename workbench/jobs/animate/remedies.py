"""Makes a clip that flashes too much pass: shown slower, dimmed, or cut short. Each is examined again."""

from __future__ import annotations

from fractions import Fraction

from workbench.errors import MediaError
from workbench.jobs.animate.rendered import Rendered
from workbench.jobs.animate.report import show_seconds
from workbench.jobs.animate.run import Fitted, Run
from workbench.jobs.animate.wish import Remedy
from workbench.media.render_order import RenderOrder
from workbench.values import replace

_TRIES = 4


def take_remedy(run: Run, fitted: Fitted, remedy: Remedy) -> Fitted:
    """Render again with the remedy until it passes, or until it has done what it can.

    Raises:
        MediaError: this remedy cannot help; another may.
    """
    rendered, order = fitted.rendered, fitted.rendered.order
    for _ in range(_TRIES):
        if rendered.report.flash.passes:
            break
        order = _change(rendered, remedy)
        rendered = run.make(order, f"checking it {remedy}")
    if not rendered.report.flash.passes:
        raise _no_help(remedy)
    said = _describe(fitted.rendered.order, order, rendered, remedy)
    traded = (*fitted.traded, said) if rendered is not fitted.rendered else fitted.traded
    return replace(fitted, rendered=rendered, traded=traded)


def _change(rendered: Rendered, remedy: Remedy) -> RenderOrder:
    order, flash = replace(rendered.order, still=None), rendered.report.flash
    if remedy == "slower" and flash.slower is not None:
        return replace(order, speed=order.speed / flash.slower)
    if remedy == "dimmed" and flash.dim is not None:
        return replace(order, dim=order.dim * flash.dim)
    if remedy == "shortened" and flash.shorter is not None:
        length = (flash.shorter - order.hold_start - order.hold_end) * order.speed
        if length > 0:
            return replace(order, length=length)
    raise _no_help(remedy)


def _describe(before: RenderOrder, after: RenderOrder, rendered: Rendered, remedy: Remedy) -> str:
    if remedy == "slower":
        times = before.speed / after.speed
        return f"shown {float(times):.2f} times slower, so that it flashes less often"
    if remedy == "dimmed":
        return (
            f"dimmed to {round(100 * after.dim / before.dim)} % of its brightness, so that flashes count less"
        )
    return f"cut to {show_seconds(Fraction(rendered.report.length))}, before it flashes too often"


def _no_help(remedy: Remedy) -> MediaError:
    return MediaError(
        f"{remedy} does not make the flashing pass; nothing was changed. Try another remedy, or another clip."
    )
