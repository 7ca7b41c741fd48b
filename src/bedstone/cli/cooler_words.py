"""What a cooler's answer says at the terminal, line by line."""

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

from bedstone.desk.cooler_mash import above_words, mash_words
from bedstone.quantities.line_figures import (
    moisture_words,
    rate_words,
    steam_words,
    temperature_words,
)

if TYPE_CHECKING:
    from bedstone.cooling.model import Factors
    from bedstone.desk.line_cooler import CoolerAnswer

__all__ = ["cooler_rows", "factor_words"]

Row = tuple[str, str, str, str]
Ends = tuple[float, float]
LB_IN_KG = 0.45359237


def factor_words(factors: "Factors") -> str:
    """The factors, never without their interval."""
    state = "Calibrated" if factors.calibrated else "Not calibrated"
    more = (
        " Low and high end are the cooler's: one run differs from the next by more."
        if factors.calibrated
        else ""
    )
    return (
        f"{state}: heat {factors.heat:.2f} ({factors.heat_lo:.2f} to {factors.heat_hi:.2f}), "
        f"moisture {factors.moisture:.2f} ({factors.moisture_lo:.2f} to {factors.moisture_hi:.2f}) "
        f"times the correlations; {factors.source.removeprefix('not calibrated: ')}.{more}"
    )


def cooler_rows(found: "CoolerAnswer", units: str) -> list[Row]:
    """Each figure in its middle, low and high."""
    return [
        *_asked_rows(found, units),
        *_pellet_rows(found, units),
        *_air_rows(found, units),
        *_rate_rows(found, units),
        *_time_rows(found),
    ]


def _asked_rows(found: "CoolerAnswer", units: str) -> list[Row]:
    """What it was reckoned at."""
    asked, mash = found.asked, found.mash
    rate = f"{rate_words(asked.pellet_rate_kg_s, units)} of hot pellets"
    if mash is not None:
        rate = f"{rate_words(asked.pellet_rate_kg_s / mash.hot_share, units)} of mash, {rate}"
    pellets = f"{_warm(units, asked.pellet_c)}, {moisture_words(asked.pellet_moisture_wb)} of water"
    air = f"{_warm(units, asked.air_c)}, {100 * asked.humidity_frac:.0f} % humid"
    return [
        ("Reckoned at", rate, "", ""),
        ("Pellets come in at", pellets, "", ""),
        ("Air comes in at", air, "", ""),
    ]


def _row(name: str, middle: float, ends: Ends, say: Callable[[float], str]) -> Row:
    return name, say(middle), say(ends[0]), say(ends[1])


def _pellet_rows(found: "CoolerAnswer", units: str) -> list[Row]:
    left, ends = found.leaving, found.spread
    rows = [
        _row("Pellets leave at", left.pellet_c, ends.pellet_c, partial(_warm, units)),
        _row("that is", left.above_ambient_dk, ends.above_ambient_dk, partial(_above, units)),
        _row("with water", left.moisture_wb, ends.moisture_wb, moisture_words),
        _row(
            "water activity",
            left.water_activity_frac,
            ends.water_activity_frac,
            lambda value: f"{value:.2f}",
        ),
        _row(
            "Water lost to the air",
            left.water_lost_kg_s,
            ends.water_lost_kg_s,
            lambda value: steam_words(value, units),
        ),
    ]
    if found.against is not None:
        rows.append(("Pellets leave with", mash_words(found.against, units), "", ""))
    return rows


def _air_rows(found: "CoolerAnswer", units: str) -> list[Row]:
    left, ends = found.leaving, found.spread
    return [
        _row("Air leaves at", left.air_c, ends.air_c, partial(_warm, units)),
        _row(
            "at a humidity of",
            left.air_humidity_frac,
            ends.air_humidity_frac,
            lambda value: f"{100 * value:.0f} %",
        ),
        ("Dry air", _air(found.cooler.air_kg_s, units), "", ""),
    ]


def _rate_rows(found: "CoolerAnswer", units: str) -> list[Row]:
    limit, share = found.limit, 1.0 if found.mash is None else found.mash.hot_share
    ends = (limit.rate_lo_kg_s / share, limit.rate_hi_kg_s / share)
    what = "hot pellets" if found.mash is None else "mash"
    name = "At most, in this air" if limit.because else "At least, in this air"
    return [
        _row(
            f"{name}, {what}", limit.rate_kg_s / share, ends, lambda rate: rate_words(rate, units)
        ),
        ("What binds", limit.because or "nothing up to that rate", "", ""),
    ]


def _time_rows(found: "CoolerAnswer") -> list[Row]:
    good_s, run_on_s = found.start.first_good_s, found.start.run_on_s
    good = (
        "none at this rate" if good_s is None else f"{good_s / 60:.0f} min after the first comes in"
    )
    run_on = "too long" if run_on_s is None else f"{run_on_s / 60:.0f} min"
    return [
        ("Time in the bed", f"{found.leaving.residence_s / 60:.1f} min", "", ""),
        ("First good pellet", good, "", ""),
        ("Fan on after the last", run_on, "", ""),
    ]


def _warm(units: str, value_c: float) -> str:
    return temperature_words(value_c, units)


def _above(units: str, value_dk: float) -> str:
    return above_words(value_dk, units)


def _air(air_kg_s: float, units: str) -> str:
    """Dry air by the minute or second."""
    return f"{air_kg_s * 60 / LB_IN_KG:.0f} lb/min" if units == "US" else f"{air_kg_s:.2f} kg/s"
