"""Pictures of the pellet line: the bed of the cooler, the limit by the hour."""

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from bedstone.cooling.limits import HourLimit
from bedstone.cooling.model import Factors, Leaving, Profile
from bedstone.quantities.line_figures import (
    moisture_words,
    rate_number,
    rate_unit,
    temperature_number,
    temperature_unit,
    temperature_words,
)
from bedstone.web.line_plot import Plot, round_ticks, svg, words_at
from bedstone.web.show import Show

__all__ = ["PlannedRate", "bed_picture", "factor_picture", "limit_picture"]

WIDE = 1000.0
FOG_DB = 1e-6
HOUR = dt.timedelta(hours=1)
CLEAR_RUN_PX = 60.0
TALL = 210.0
LIFT_PX = 14.0
FACTORS_SHOWN = (0.125, 0.25, 0.5, 1.0, 2.0, 4.0, 8.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedRate:
    """A run of the plan on a line: from when to when, how fast, and whether that is too fast."""

    run: str
    start_at: dt.datetime
    end_at: dt.datetime
    rate_kg_s: float
    too_fast: bool


def bed_picture(profile: Profile, leaving: Leaving, show: Show) -> Markup:
    """Through the bed from grate to level: temperatures, moisture, humidity, fog."""
    height = profile.height_m[-1]
    ups = [(height * part, f"{100 * part:.0f} %") for part in (0.0, 0.25, 0.5, 0.75, 1.0)]
    pellet = [temperature_number(value, show.units) for value in profile.pellet_c]
    air = [temperature_number(value, show.units) for value in profile.air_c]
    warm_ticks = round_ticks(min(*pellet, *air), max(*pellet, *air), 4)
    water = [100 * value for value in profile.moisture_wb]
    wet_ticks = round_ticks(min(water), max(water), 4)
    warm = _panel(300, (warm_ticks[0], warm_ticks[-1]), height)
    wet = _panel(545, (wet_ticks[0], wet_ticks[-1]), height)
    damp = _panel(790, (0.0, 100.0), height)
    unit = temperature_unit(show.units)
    parts = [
        *_machine(profile, leaving, show),
        *warm.frame(_named(warm_ticks), ups, title=f"Temperature, {unit}"),
        *_fog(profile, (warm, wet, damp)),
        warm.line(list(zip(pellet, profile.height_m, strict=True)), "pellets"),
        warm.line(list(zip(air, profile.height_m, strict=True)), "air"),
        *wet.frame(_named(wet_ticks), ups, title="Water in pellets, %"),
        wet.line(list(zip(water, profile.height_m, strict=True)), "pellets"),
        *damp.frame(_named([0, 25, 50, 75, 100]), ups, title="Humidity of the air, %"),
        damp.line(
            [
                (100 * a, b)
                for a, b in zip(profile.air_humidity_frac, profile.height_m, strict=True)
            ],
            "air",
        ),
        *_key(300, 372),
    ]
    label = (
        f"Bed of the cooler: pellets come in at {temperature_words(profile.pellet_c[-1], show.units)} "
        f"and leave at {temperature_words(leaving.pellet_c, show.units)} with "
        f"{moisture_words(leaving.moisture_wb)} of water; air leaves at "
        f"{temperature_words(leaving.air_c, show.units)}, {100 * leaving.air_humidity_frac:.0f} % humid"
    )
    return svg(WIDE, 384, label, parts)


def _panel(left: float, across: tuple[float, float], height_m: float) -> Plot:
    return Plot(left=left, top=40, width=190, height=290, across=across, up=(0.0, height_m))


def _named(ticks: Sequence[float]) -> list[tuple[float, str]]:
    return [(value, f"{value:g}") for value in ticks]


def _key(x: float, y: float) -> list[Markup]:
    return [
        Markup('<line class="pellets" x1="{0}" x2="{1}" y1="{2}" y2="{2}"/>').format(
            x, x + 40, y - 5
        ),
        words_at(x + 48, y, "pellets"),
        Markup('<line class="air" x1="{0}" x2="{1}" y1="{2}" y2="{2}"/>').format(
            x + 130, x + 170, y - 5
        ),
        words_at(x + 178, y, "air"),
        Markup('<rect class="fog" x="{}" y="{}" width="40" height="14"/>').format(x + 240, y - 12),
        words_at(x + 288, y, "fog: the air can hold no more"),
    ]


def _fog(profile: Profile, panels: Sequence[Plot]) -> list[Markup]:
    """Where droplets hang in the air, over each panel."""
    foggy = [a for a, fog in zip(profile.height_m, profile.fog_db, strict=True) if fog > FOG_DB]
    if not foggy:
        return []
    return [
        Markup('<rect class="fog" x="{}" y="{}" width="{}" height="{}"/>').format(
            one.left,
            one.y(max(foggy)),
            one.width,
            round(max(4.0, one.y(min(foggy)) - one.y(max(foggy))), 1),
        )
        for one in panels
    ]


def _machine(profile: Profile, leaving: Leaving, show: Show) -> list[Markup]:
    """The cooler as it stands, with what goes in and comes out."""
    units = show.units
    return [
        Markup('<path class="shell" d="M70 60V300L110 330H150L190 300V60Z"/>'),
        Markup('<path class="heap" d="M72 92H188V296H72Z"/>'),
        words_at(130, 16, "hot pellets in", anchor="middle", css="soft"),
        words_at(130, 36, temperature_words(profile.pellet_c[-1], units), anchor="middle"),
        Markup('<path class="arrow" d="M130 42V66M124 59L130 67L136 59"/>'),
        words_at(196, 76, "air out", css="soft"),
        words_at(196, 96, temperature_words(leaving.air_c, units)),
        words_at(64, 290, "air in", anchor="end", css="soft"),
        words_at(64, 310, temperature_words(profile.air_c[0], units), anchor="end"),
        Markup('<path class="arrow" d="M90 320V286M84 293L90 285L96 293"/>'),
        Markup('<path class="arrow" d="M130 332V350M124 343L130 351L136 343"/>'),
        words_at(
            130,
            370,
            f"{temperature_words(leaving.pellet_c, units)}, {moisture_words(leaving.moisture_wb)}",
            anchor="middle",
        ),
    ]


def limit_picture(
    limits: Sequence[HourLimit],
    planned: Sequence[PlannedRate],
    show: Show,
    *,
    now_at: dt.datetime,
    label: str,
) -> Markup:
    """The greatest rate of one product on one line by the hour, with its interval, and the plan's
    rates over it.
    """
    units = show.units
    rates = [rate_number(one.rate_hi_kg_s, units) for one in limits]
    rates += [rate_number(one.rate_kg_s, units) for one in planned]
    ticks = round_ticks(0.0, max(rates), 4)
    first_at, last_at = limits[0].starts_at, limits[-1].starts_at + HOUR

    def hours(moment_at: dt.datetime) -> float:
        return (moment_at - first_at) / HOUR

    plot = Plot(
        left=64, top=36, width=WIDE - 84, height=TALL - 68, across=(0.0, hours(last_at)),
        up=(0.0, ticks[-1]),
    )  # fmt: skip
    steps = {
        name: [
            (hours(one.starts_at) + part, rate_number(getattr(one, name), units))
            for one in limits
            for part in (0.0, 1.0)
        ]
        for name in ("rate_kg_s", "rate_lo_kg_s", "rate_hi_kg_s")
    }
    parts = [
        *plot.frame(_clock_ticks(limits, show), _named(ticks), title=rate_unit(units)),
        plot.band(steps["rate_lo_kg_s"], steps["rate_hi_kg_s"]),
        plot.line(steps["rate_kg_s"], "limit"),
        *(
            mark
            for number, one in enumerate(planned)
            for mark in _planned(plot, one, (first_at, last_at), units, lift=number % 2 * LIFT_PX)
        ),
    ]
    if first_at <= now_at <= last_at:
        parts += [
            plot.upright(hours(now_at), "nowline"),
            words_at(plot.x(hours(now_at)) + 4, plot.bottom - 6, "now"),
        ]
    return svg(WIDE, TALL, label, parts)


def _clock_ticks(limits: Sequence[HourLimit], show: Show) -> list[tuple[float, str]]:
    """Every sixth hour of the mill's own clock, midnight with its day."""
    ticks = []
    for number, one in enumerate(limits):
        local = one.starts_at.astimezone(show.zone)
        if local.hour % 6 == 0:
            words = f"{local:%a} {local.day}" if local.hour == 0 else f"{local:%H:%M}"
            ticks.append((float(number), words))
    return ticks


def _planned(
    plot: Plot,
    one: PlannedRate,
    ends: tuple[dt.datetime, dt.datetime],
    units: str,
    *,
    lift: float,
) -> list[Markup]:
    """A run as a bar as high as its rate; edge and words say when it is too fast. Names of
    neighbours are lifted in turn, so that they do not run into one another.
    """
    start_at, end_at = max(one.start_at, ends[0]), min(one.end_at, ends[1])
    if start_at >= end_at:
        return []
    left = plot.x((start_at - ends[0]) / HOUR)
    wide = max(3.0, plot.x((end_at - ends[0]) / HOUR) - left)
    top = plot.y(rate_number(one.rate_kg_s, units))
    css = "planned fast" if one.too_fast else "planned"
    words = f"{one.run} too fast" if one.too_fast else one.run
    fits = left + wide / 2 > plot.left + CLEAR_RUN_PX
    return [
        Markup('<rect class="{}" x="{}" y="{}" width="{}" height="{}"/>').format(
            css, left, top, round(wide, 1), round(plot.bottom - top, 1)
        ),
        words_at(
            left + wide / 2 if fits else left,
            top - 5 - lift,
            words,
            anchor="middle" if fits else "start",
        ),
    ]


def factor_picture(factors: Factors, label: str) -> Markup:
    """Heat and moisture factor with their intervals on a scale on which double is as far as half."""
    ends = tuple(math.log2(one) for one in (FACTORS_SHOWN[0], FACTORS_SHOWN[-1]))
    plot = Plot(left=110, top=12, width=560, height=96, across=(ends[0], ends[1]), up=(0.0, 2.0))
    rows = (
        (1.5, "heat", factors.heat_lo, factors.heat, factors.heat_hi),
        (0.5, "moisture", factors.moisture_lo, factors.moisture, factors.moisture_hi),
    )
    parts = plot.frame([(math.log2(one), f"{one:g}") for one in FACTORS_SHOWN], [])
    parts.append(plot.upright(0.0, "needed"))
    for y, name, low, middle, high in rows:
        parts += [
            words_at(plot.left - 8, plot.y(y) + 5, name, anchor="end"),
            plot.line([(math.log2(low), y), (math.log2(high), y)], "spread"),
            Markup('<circle class="here" cx="{}" cy="{}" r="6"/>').format(
                plot.x(math.log2(middle)), plot.y(y)
            ),
            words_at(plot.right + 8, plot.y(y) + 5, f"{middle:.2f}, from {low:.2f} to {high:.2f}"),
        ]
    return svg(880, 140, label, parts)
