"""Pictures of mixers: spread against mixing time from a series of tests."""

from markupsafe import Markup

from bedstone.batching.mixer_test import LIMIT_FRAC
from bedstone.desk.mixer_view import MixerStanding

__all__ = ["times_picture"]

WIDTH, HEIGHT, LEFT, TOP, BOTTOM = 720, 260, 70, 20, 40
FEWEST_TIMES = 2
SVG = Markup('<svg viewBox="0 0 {} {}" role="img" aria-label="{}" width="{}">')
DOT = Markup('<circle cx="{}" cy="{}" r="6" fill="currentColor"/>')
LINE = Markup('<line x1="{}" x2="{}" y1="{}" y2="{}" stroke="currentColor"{}/>')
TEXT = Markup('<text x="{}" y="{}" text-anchor="{}" fill="currentColor">{}</text>')


def times_picture(one: MixerStanding) -> Markup:
    """Each test's spread with its interval over its mixing time, and 10 %; empty at one time only."""
    times = [row.test.mixing_s for row in one.tests]
    if len(set(times)) < FEWEST_TIMES:
        return Markup("")
    longest, widest = 1.1 * max(times), 1.05 * max(row.found.cv_hi_frac for row in one.tests)
    widest = max(min(widest, 1.5 * max(row.found.cv_frac for row in one.tests)), 0.12)

    def across(time_s: float) -> float:
        return round(LEFT + (WIDTH - LEFT - 20) * time_s / longest, 1)

    def down(part: float) -> float:
        return round(TOP + (HEIGHT - TOP - BOTTOM) * (1 - min(part, widest) / widest), 1)

    limit_y = down(LIMIT_FRAC)
    parts = [
        LINE.format(LEFT, WIDTH - 20, down(0), down(0), ""),
        LINE.format(LEFT, WIDTH - 20, limit_y, limit_y, Markup(' stroke-dasharray="6 4"')),
        TEXT.format(LEFT - 8, limit_y + 4, "end", f"{100 * LIMIT_FRAC:.0f} %"),
        TEXT.format(LEFT - 8, down(0) + 4, "end", "0"),
    ]
    for row in one.tests:
        x, found = across(row.test.mixing_s), row.found
        parts.append(LINE.format(x, x, down(found.cv_lo_frac), down(found.cv_hi_frac), ""))
        parts.append(DOT.format(x, down(found.cv_frac)))
    parts += [
        TEXT.format(across(time_s), HEIGHT - 14, "middle", f"{time_s:g} s")
        for time_s in sorted(set(times))
    ]
    if one.mix_time.time_s is not None:
        x = across(one.mix_time.time_s)
        parts.append(LINE.format(x, x, TOP, down(0), Markup(' stroke-dasharray="2 4"')))
        parts.append(TEXT.format(x, TOP - 6, "middle", f"mixes from {one.mix_time.time_s:.0f} s"))
    return Markup("").join([SVG.format(WIDTH, HEIGHT, _said(one), WIDTH), *parts, Markup("</svg>")])


def _said(one: MixerStanding) -> str:
    """The picture in words."""
    return "Spread against mixing time: " + ", ".join(
        f"{row.test.mixing_s:g} s {100 * row.found.cv_frac:.1f} %" for row in one.tests
    )
