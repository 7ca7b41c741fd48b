"""The picture of a night in a bin of warm pellets: temperatures, and the hours in which water runs."""

import datetime as dt
from collections.abc import Sequence

from markupsafe import Markup

from bedstone.cooling.bin_bounds import BinNight
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
BANDS = {"dew_point_c": "dew", "roof_c": "roof", "top_c": "top", "core_c": "heap"}
WET = {"yes": "wet", "maybe": "maybe-wet"}

Points = Sequence[tuple[float, float]]


def night_picture(night: BinNight, first_at: dt.datetime | None, show: Show) -> Markup:
    """Pellets, the dew point of the air over them and the roof by the hour, each from its least to
    its most.

    Hours in which water runs down at every corner are dark, those in which it may are pale.
    """
    rows = night.hours

    def band(name: str) -> tuple[Points, Points]:
        ends = [[temperature_number(end, show.units) for end in getattr(row, name)] for row in rows]
        return tuple(
            [(float(hour), pair[which]) for hour, pair in enumerate(ends)] for which in (0, 1)
        )  # type: ignore[return-value]  # two, by construction

    bands = {name: band(name) for name in BANDS}
    every = [value for low, high in bands.values() for _, value in (*low, *high)]
    ticks = round_ticks(min(every), max(every), 6)
    last = len(rows) - 1
    plot = Plot(
        left=64, top=36, width=WIDE - 84, height=TALL - 76, across=(0.0, float(last)),
        up=(ticks[0], ticks[-1]),
    )  # fmt: skip
    parts = plot.frame(
        _clock(last, first_at, show),
        [(value, f"{value:g}") for value in ticks],
        title=temperature_unit(show.units),
    )
    parts += [
        Markup('<rect class="{}" x="{}" y="{}" width="{}" height="{}"/>').format(
            WET[row.wet],
            plot.x(hour - 1),
            plot.top,
            round(plot.x(hour) - plot.x(hour - 1), 1),
            plot.height,
        )
        for hour, row in enumerate(rows)
        if row.wet in WET
    ]
    for name, css in BANDS.items():
        low, high = bands[name]
        parts += [plot.band(low, high, f"{css}-band"), plot.line(low, css), plot.line(high, css)]
    if first_at is None:
        parts.append(words_at(plot.right, TALL - 4, "hours from now", anchor="end", css="soft"))
    return svg(WIDE, TALL, _words(night, show), parts)


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
    def ends(name: str) -> str:
        values = [end for row in night.hours for end in getattr(row, name)]
        low, high = (temperature_words(one, show.units) for one in (min(values), max(values)))
        return f"{low} to {high}"

    wet = [row.wet for row in night.hours]
    surely, may = wet.count("yes"), len(wet) - wet.count("no")
    return (
        f"The night in the bin, {len(wet) - 1} hours: the heap on average {ends('core_c')}, "
        f"below the surface {ends('top_c')}, dew point over it {ends('dew_point_c')}, roof "
        f"{ends('roof_c')}; water runs down in {surely} to {may} hours. The table below has every "
        "hour."
    )
