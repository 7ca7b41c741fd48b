"""The picture of a night in a bin of warm pellets: temperatures, and the hours in which water runs."""

import datetime as dt
from collections.abc import Sequence

from markupsafe import Markup

from bedstone.cooling.after_cooler import BinNight
from bedstone.quantities.line_figures import (
    temperature_number,
    temperature_unit,
    temperature_words,
)
from bedstone.web.line_plot import Plot, round_ticks, svg, words_at
from bedstone.web.show import Show

__all__ = ["HOUR", "night_picture"]

WIDE, TALL = 1000.0, 330.0
HOUR = dt.timedelta(hours=1)
EVERY = 3


def night_picture(night: BinNight, first_at: dt.datetime | None, show: Show) -> Markup:
    """Pellets, the dew point of the air over them and the roof, from quiet to brisk, by the hour.

    Hours in which water runs down even quietly are dark, those in which it may are pale.
    """

    def number(value_c: float) -> float:
        return temperature_number(value_c, show.units)

    both = (night.quiet.hours, night.brisk.hours)
    every = [
        number(value)
        for rows in both
        for row in rows
        for value in (row.core_c, row.top_c, row.dew_point_c, row.roof_c)
    ]
    ticks = round_ticks(min(every), max(every), 6)
    last = len(night.quiet.hours) - 1
    plot = Plot(
        left=64, top=36, width=WIDE - 84, height=TALL - 76, across=(0.0, float(last)),
        up=(ticks[0], ticks[-1]),
    )  # fmt: skip

    def points(rows: int, name: str) -> list[tuple[float, float]]:
        return [(float(hour), number(getattr(row, name))) for hour, row in enumerate(both[rows])]

    parts = plot.frame(
        _clock(last, first_at, show),
        [(value, f"{value:g}") for value in ticks],
        title=temperature_unit(show.units),
    )
    parts += _wet_hours(plot, night)
    for name, css in (("dew_point_c", "dew"), ("roof_c", "roof")):
        low, high = _band(points(0, name), points(1, name))
        parts += [plot.band(low, high, f"{css}-band"), plot.line(points(1, name), css)]
    parts += [plot.line(points(1, "top_c"), "top"), plot.line(points(1, "core_c"), "pellets")]
    if first_at is None:
        parts.append(words_at(plot.right, TALL - 4, "hours from now", anchor="end", css="soft"))
    return svg(WIDE, TALL, _words(night, show), parts)


def _band(
    one: Sequence[tuple[float, float]], other: Sequence[tuple[float, float]]
) -> tuple[list[tuple[float, float]], list[tuple[float, float]]]:
    pairs = list(zip(one, other, strict=True))
    return [min(pair) for pair in pairs], [max(pair) for pair in pairs]


def _wet_hours(plot: Plot, night: BinNight) -> list[Markup]:
    """A bar over each hour in which water runs down, or may."""
    bars = []
    rows = zip(night.quiet.hours, night.brisk.hours, strict=True)
    for hour, (quiet, brisk) in enumerate(rows):
        surely, may = (one.roof_kg + one.wall_kg > 0 for one in (quiet, brisk))
        if surely or may:
            left = plot.x(hour - 1)
            bars.append(
                Markup('<rect class="{}" x="{}" y="{}" width="{}" height="{}"/>').format(
                    "wet" if surely else "maybe-wet",
                    left,
                    plot.top,
                    round(plot.x(hour) - left, 1),
                    plot.height,
                )
            )
    return bars


def _clock(last: int, first_at: dt.datetime | None, show: Show) -> list[tuple[float, str]]:
    """Every third hour of the mill's clock, midnight with its day; plain hours without a clock."""
    if first_at is None:
        return [(float(hour), f"{hour}") for hour in range(0, last + 1, EVERY)]
    ticks = []
    for hour in range(last + 1):
        local = (first_at + hour * HOUR).astimezone(show.zone)
        if local.hour % EVERY == 0:
            words = f"{local:%a} {local.day}" if local.hour == 0 else f"{local:%H:%M}"
            ticks.append((float(hour), words))
    return ticks


def _words(night: BinNight, show: Show) -> str:
    brisk, quiet = night.brisk.hours, night.quiet.hours
    surely = sum(row.roof_kg + row.wall_kg > 0 for row in quiet)
    may = sum(row.roof_kg + row.wall_kg > 0 for row in brisk)

    def ends(name: str) -> str:
        values = [getattr(row, name) for row in (*quiet, *brisk)]
        low, high = (temperature_words(one, show.units) for one in (min(values), max(values)))
        return f"{low} to {high}"

    return (
        f"The night in the bin, {len(brisk) - 1} hours: the heap on average {ends('core_c')}, "
        f"below the surface {ends('top_c')}, dew point over them {ends('dew_point_c')}, roof "
        f"{ends('roof_c')}; water runs down in {min(surely, may)} to {max(surely, may)} hours. The "
        "table below has every hour."
    )
