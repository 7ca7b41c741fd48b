"""Where the cost of a formula comes from, and how far each nutrient is from its limits, as SVG."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from bedstone.formulation.answers import LimitAnswer, Side
from bedstone.formulation.model import NutrientLevel

__all__ = ["CostBar", "cost_picture", "curve_picture", "level_picture", "limit_picture"]

WIDTH = 560
NAME_W = 200
COST_W = 140
ROW_H = 26
BAR_H = 16
NINETY_FIVE = 1.959964  # 95 % of a normal value lie within so many standard deviations
LONGEST_NAME = 25


@dataclass(frozen=True, slots=True, kw_only=True)
class CostBar:
    """An ingredient's part of the cost of a ton, in words and as a number; before, if compared."""

    name: str
    cost: float
    words: str


def _short(name: str) -> str:
    return name if len(name) <= LONGEST_NAME else f"{name[: LONGEST_NAME - 1]}…"


def _svg(height: float, label: str, parts: Sequence[Markup], *, css: str) -> Markup:
    top = Markup(
        '<svg xmlns="http://www.w3.org/2000/svg" class="{}" viewBox="0 0 {} {}" role="img" '
        'aria-label="{}">'
    ).format(css, WIDTH, round(height), label)
    return Markup("").join([top, *parts, Markup("</svg>")])


def _text(x: float, y: float, words: str, *, anchor: str = "start", css: str = "") -> Markup:
    return Markup('<text x="{}" y="{}" text-anchor="{}" class="{}">{}</text>').format(
        round(x, 1), round(y, 1), anchor, css, words
    )


def cost_picture(bars: Sequence[CostBar], label: str) -> Markup:
    """A bar for each ingredient, as long as its part of the cost."""
    most = max((bar.cost for bar in bars), default=1.0) or 1.0
    room = WIDTH - NAME_W - COST_W
    parts = []
    for number, bar in enumerate(bars):
        y = number * ROW_H + 4
        parts.append(_text(NAME_W - 8, y + 13, _short(bar.name), anchor="end"))
        parts.append(
            Markup('<rect class="cost" x="{}" y="{}" width="{}" height="{}"/>').format(
                NAME_W, y, round(max(0.5, bar.cost / most * room), 1), BAR_H
            )
        )
        parts.append(_text(NAME_W + bar.cost / most * room + 6, y + 13, bar.words, css="soft"))
    return _svg(len(bars) * ROW_H + 8, label, parts, css="formula-bars")


def limit_picture(rows: Sequence[LimitAnswer], label: str) -> Markup:
    """For each demand a line: the allowed part drawn thick, the formula's point on it with where
    nineteen of twenty lots lie. Each line has its own scale.
    """
    parts = []
    for number, row in enumerate(rows):
        parts += _limit_line(row, number * ROW_H + 4)
    return _svg(len(rows) * ROW_H + 8, label, parts, css="formula-limits")


def _limit_line(row: LimitAnswer, y: float) -> list[Markup]:
    ends = [value for value in (row.minimum, row.maximum, row.expected) if value is not None]
    spread = row.sd * NINETY_FIVE if row.sd and math.isfinite(row.sd) else 0.0
    low = min(*ends, row.expected - spread)
    high = max(*ends, row.expected + spread)
    margin = (high - low) * 0.2 or abs(high) * 0.1 or 1.0
    low, high = low - margin, high + margin
    start, room = float(NAME_W), WIDTH - NAME_W - 16.0

    def at(value: float) -> float:
        return round(start + (value - low) / (high - low) * room, 1)

    middle = y + BAR_H / 2
    left = at(row.minimum) if row.minimum is not None else start
    right = at(row.maximum) if row.maximum is not None else start + room
    parts = [
        _text(start - 8, y + 13, _short(row.name), anchor="end"),
        Markup('<line class="axis" x1="{}" x2="{}" y1="{}" y2="{}"/>').format(
            start, start + room, middle, middle
        ),
        Markup('<rect class="allowed" x="{}" y="{}" width="{}" height="6"/>').format(
            left, middle - 3, max(0.0, round(right - left, 1))
        ),
    ]
    for limit, side in ((row.minimum, Side.MIN), (row.maximum, Side.MAX)):
        if limit is not None:
            css = "mark binds" if row.binding is side else "mark"
            parts.append(
                Markup('<line class="{}" x1="{}" x2="{}" y1="{}" y2="{}"/>').format(
                    css, at(limit), at(limit), y, y + BAR_H
                )
            )
    if spread:
        parts.append(
            Markup('<line class="spread" x1="{}" x2="{}" y1="{}" y2="{}"/>').format(
                at(row.expected - spread), at(row.expected + spread), middle, middle
            )
        )
    dot = Markup('<circle class="here" cx="{}" cy="{}" r="5"/>').format(at(row.expected), middle)
    return [*parts, dot]


def level_picture(
    known: Sequence[tuple[str, NutrientLevel]], assayed: Sequence[float], label: str
) -> Markup:
    """What is known of one nutrient: a point with its 95 % for each source, a tick for each assay."""
    values = [level.mean for _, level in known] + list(assayed)
    spreads = [NINETY_FIVE * (level.sd or 0.0) for _, level in known]
    reach = [value for (_, level), more in zip(known, spreads, strict=True)
             for value in (level.mean - more, level.mean + more)]  # fmt: skip
    low, high = min([*values, *reach]), max([*values, *reach])
    margin = (high - low) * 0.1 or abs(high) * 0.1 or 1.0
    low, high = low - margin, high + margin
    start, room = 110.0, WIDTH - 110.0 - 16.0

    def at(value: float) -> float:
        return round(start + (value - low) / (high - low) * room, 1)

    parts: list[Markup] = []
    for number, ((name, level), more) in enumerate(zip(known, spreads, strict=True)):
        y = number * ROW_H + 4
        middle = y + BAR_H / 2
        parts.append(_text(start - 8, y + 13, name, anchor="end", css="soft"))
        parts.append(
            Markup('<line class="spread" x1="{}" x2="{}" y1="{}" y2="{}"/>').format(
                at(level.mean - more), at(level.mean + more), middle, middle
            )
        )
        parts.append(
            Markup('<circle class="here" cx="{}" cy="{}" r="5"/>').format(at(level.mean), middle)
        )
    foot = len(known) * ROW_H + 4
    parts += [
        Markup('<line class="assay" x1="{}" x2="{}" y1="{}" y2="{}"/>').format(
            at(value), at(value), foot, foot + 12
        )
        for value in assayed
    ]
    if assayed:
        parts.append(_text(start - 8, foot + 11, "each assay", anchor="end", css="soft"))
    return _svg(foot + (20 if assayed else 4), label, parts, css="formula-levels")


CURVE_H, LEFT, FOOT = 260.0, 80.0, 34.0


def curve_picture(
    points: Sequence[tuple[float, float]],
    here: tuple[float, float],
    label: str,
    *,
    ends: tuple[str, str, str, str],
) -> Markup:
    """A line through points, and where one stands; ``ends`` are the words at the axes' ends: left,
    right, bottom, top.
    """
    across, up = [x for x, _ in points], [y for _, y in points]
    wide = (max(across) - min(across)) or 1.0
    high = (max(up) - min(up)) or 1.0
    room, rise = WIDTH - LEFT - 20, CURVE_H - FOOT - 14

    def at(x: float, y: float) -> tuple[float, float]:
        return (
            round(LEFT + (x - min(across)) / wide * room, 1),
            round(14 + rise - (y - min(up)) / high * rise, 1),
        )

    line = " ".join(f"{x},{y}" for x, y in (at(*point) for point in points))
    dot = at(*here)
    left, right, bottom, top = ends
    parts = [
        Markup('<path class="axis" d="M{} 14V{}H{}" fill="none"/>').format(
            LEFT, 14 + rise, WIDTH - 20
        ),
        Markup('<polyline class="curve" points="{}" fill="none"/>').format(line),
        Markup('<circle class="here" cx="{}" cy="{}" r="6"/>').format(*dot),
        _text(LEFT, CURVE_H - 8, left, css="soft"),
        _text(WIDTH - 20, CURVE_H - 8, right, anchor="end", css="soft"),
        _text(LEFT - 8, 14 + rise, bottom, anchor="end", css="soft"),
        _text(LEFT - 8, 22, top, anchor="end", css="soft"),
    ]
    return _svg(CURVE_H, label, parts, css="formula-curve")
