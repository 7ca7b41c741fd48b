"""Where to probe a carrier, and how sure a test decides, as pictures for page and paper."""

from html import escape

from bedstone.receiving.gate import Wanted
from bedstone.receiving.operating import accepts_mean, cut_of
from bedstone.receiving.probes import ProbePlan

__all__ = ["curve_svg", "probes_svg"]

FONT = "Inter, system-ui, 'Segoe UI', Arial, sans-serif"
INK, LINE = "#1a1a1a", "#8a8f93"
WIDE, HIGH, EDGE = 360.0, 120.0, 12.0
REACH_SD = 4.0
POINTS = 61
LEFT, TOP, WIDTH, HEIGHT = 44.0, 10.0, 300.0, 100.0


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
        f'<svg viewBox="0 0 {WIDE:g} {HIGH:g}" width="320" height="107" role="img" '
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


def curve_svg(wanted: Wanted) -> str:
    """Odds that a load is not held for a test, against what it really holds, with both risks.

    The seller's risk is that a load just within the limit, one standard deviation of a result
    away, is found beyond it; the mill's risk that one just as far beyond is found within. The
    standard deviation is that of one result.

    Parameters
    ----------
    wanted : Wanted
        A test with a limit and a repeatability.

    Returns
    -------
    svg : str
        One ``svg`` element; nothing where either is missing.
    """
    upper = wanted.maximum is not None
    limit = wanted.maximum if upper else wanted.minimum
    if limit is None or not wanted.error_sd:
        return ""
    sd = wanted.error_sd
    cut = cut_of(limit, error_sd=sd, risk_max_frac=wanted.risk_max_frac, upper=upper)
    low, high = max(0.0, limit - REACH_SD * sd), limit + REACH_SD * sd

    def at(value: float, odds: float) -> tuple[float, float]:
        return LEFT + (value - low) / (high - low) * WIDTH, TOP + (1 - odds) * HEIGHT

    def odds(value: float) -> float:
        return accepts_mean(value, limit=cut, error_sd=sd, upper=upper)

    values = [low + (high - low) * number / (POINTS - 1) for number in range(POINTS)]
    line = " ".join("{:.1f},{:.1f}".format(*at(value, odds(value))) for value in values)
    good, bad = (limit - sd, limit + sd) if upper else (limit + sd, limit - sd)
    names = "".join(_across(at(value, 0)[0], f"{value:.3g}") for value in (low, limit, high))
    marks = "".join(
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4" fill="{fill}" stroke="{INK}"/>'
        for (x, y), fill in ((at(good, odds(good)), "#fff"), (at(bad, odds(bad)), INK))
    )
    held = f"really {good:.3g} {wanted.unit}: {1 - odds(good):.0%} are held for nothing"
    passed = f"really {bad:.3g} {wanted.unit}: {odds(bad):.0%} are let in"
    edge = f'<path d="M{at(limit, 0)[0]:.1f} {TOP:g}V{TOP + HEIGHT:g}" stroke="{LINE}" '
    return _framed(
        f'{edge}stroke-dasharray="4 3"/>'
        f'<polyline points="{line}" fill="none" stroke="{INK}" stroke-width="2"/>{marks}{names}',
        label=f"Odds that a load passes, against its real {wanted.test}; {held}; {passed}",
        below=(f"Hollow, {held} (seller's risk)", f"Full, {passed} (the mill's risk)"),
    )


def _framed(drawn: str, *, label: str, below: tuple[str, str]) -> str:
    """A curve in its axes, with two lines of words below."""
    words = "".join(
        f'<text x="8" y="{TOP + HEIGHT + 32 + 16 * number:g}" font-size="11">{escape(said)}</text>'
        for number, said in enumerate(below)
    )
    return (
        f'<svg viewBox="0 0 360 172" width="320" height="153" role="img" '
        f'aria-label="{escape(label)}" font-family="{escape(FONT)}">'
        f'<path d="M{LEFT:g} {TOP:g}V{TOP + HEIGHT:g}H{LEFT + WIDTH:g}" fill="none" '
        f'stroke="{LINE}"/>{drawn}'
        f'<text x="38" y="{TOP + 8:g}" font-size="11" text-anchor="end">100 %</text>'
        f'<text x="38" y="{TOP + HEIGHT:g}" font-size="11" text-anchor="end">0 %</text>'
        f"{words}</svg>"
    )


def _across(x: float, words: str) -> str:
    return (
        f'<text x="{x:.1f}" y="{TOP + HEIGHT + 14:g}" font-size="11" text-anchor="middle">'
        f"{words}</text>"
    )
