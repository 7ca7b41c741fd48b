"""Where to probe a carrier, and how sure a test decides, as pictures for page and paper."""

import math
from html import escape

from bedstone.mill.model import Specification
from bedstone.receiving.operating import accepts_mean
from bedstone.receiving.probes import ProbePlan

__all__ = ["curve_svg", "probes_svg"]

FONT = "Inter, system-ui, 'Segoe UI', Arial, sans-serif"
INK, LINE = "#1a1a1a", "#8a8f93"
WIDE, HIGH, EDGE = 360.0, 120.0, 12.0
REACH_SD = 4.0
POINTS = 61


def probes_svg(plan: ProbePlan) -> str:
    """A carrier from above with its probes numbered (a tanker from the side).

    Parameters
    ----------
    plan : ProbePlan
        The plan.

    Returns
    -------
    svg : str
        One ``svg`` element.
    """
    label = f"{plan.carrier}: {len(plan.points)} {plan.of}"
    head = (
        f'<svg viewBox="0 0 {WIDE:g} {HIGH:g}" width="{WIDE:g}" height="{HIGH:g}" role="img" '
        f'aria-label="{escape(label)}" font-family="{escape(FONT)}">'
        f'<rect x="{EDGE}" y="{EDGE}" width="{WIDE - 2 * EDGE:g}" height="{HIGH - 2 * EDGE:g}" '
        f'rx="6" fill="#fff" stroke="{INK}" stroke-width="2"/>'
    )
    parts = [head]
    for number, (along, across) in enumerate(plan.points, start=1):
        x = EDGE + along * (WIDE - 2 * EDGE)
        y = EDGE + across * (HIGH - 2 * EDGE)
        parts.append(
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="11" fill="#fff" stroke="{INK}"/>'
            f'<text x="{x:.1f}" y="{y + 4:.1f}" font-size="12" text-anchor="middle">{number}</text>'
        )
    return "".join(parts) + "</svg>"


def curve_svg(spec: Specification) -> str:
    """Odds that a load is taken at full price, against what it really holds.

    Parameters
    ----------
    spec : Specification
        A specification with a most and a repeatability.

    Returns
    -------
    svg : str
        One ``svg`` element; nothing where either is missing.
    """
    if spec.maximum is None or not spec.repeatability_sd:
        return ""
    sd, limit = spec.repeatability_sd, spec.maximum
    low, high = max(0.0, limit - REACH_SD * sd), limit + REACH_SD * sd
    left, top, width, height = 44.0, 10.0, 300.0, 100.0

    def at(value: float, odds: float) -> str:
        x = left + (value - low) / (high - low) * width
        return f"{x:.1f},{top + (1 - odds) * height:.1f}"

    line = " ".join(
        at(value, accepts_mean(value, limit=limit, error_sd=sd))
        for value in (low + (high - low) * n / (POINTS - 1) for n in range(POINTS))
    )
    edge = at(limit, 0).split(",", maxsplit=1)[0]
    step = 10 ** math.floor(math.log10(max(sd, 1e-9)))
    label = f"Odds that a load is taken against its real {spec.test}"
    names = "".join(
        f'<text x="{at(value, 0).split(",", maxsplit=1)[0]}" y="{top + height + 14:g}" '
        f'font-size="11" text-anchor="middle">{round(value / step) * step:g}</text>'
        for value in (low, limit, high)
    )
    return (
        f'<svg viewBox="0 0 360 132" width="360" height="132" role="img" '
        f'aria-label="{escape(label)}" font-family="{escape(FONT)}">'
        f'<path d="M{left:g} {top:g}V{top + height:g}H{left + width:g}" fill="none" '
        f'stroke="{LINE}"/><path d="M{edge} {top:g}V{top + height:g}" stroke="{LINE}" '
        f'stroke-dasharray="4 3"/>'
        f'<polyline points="{line}" fill="none" stroke="{INK}" stroke-width="2"/>'
        f'<text x="38" y="{top + 8:g}" font-size="11" text-anchor="end">100 %</text>'
        f'<text x="38" y="{top + height:g}" font-size="11" text-anchor="end">0 %</text>{names}</svg>'
    )
