"""What a cooler's answer says at the terminal, line by line."""

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

from bedstone.quantities.line_figures import (
    moisture_words,
    rate_words,
    rise_words,
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
        *_pellet_rows(found, units),
        *_air_rows(found, units),
        *_rate_rows(found, units),
        *_time_rows(found),
    ]


def _row(name: str, middle: float, ends: Ends, say: Callable[[float], str]) -> Row:
    return name, say(middle), say(ends[0]), say(ends[1])


def _pellet_rows(found: "CoolerAnswer", units: str) -> list[Row]:
    left, ends = found.leaving, found.spread
    rows = [
        _row("Pellets leave at", left.pellet_c, ends.pellet_c, partial(_warm, units)),
        _row("above the air", left.above_ambient_dk, ends.above_ambient_dk, partial(_rise, units)),
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
    if found.lost_usd_per_h is not None:
        rows.append(
            ("worth, at the mash's cost", f"{found.lost_usd_per_h:.2f} USD an hour", "", "")
        )
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
    limit = found.limit
    ends = (limit.rate_lo_kg_s, limit.rate_hi_kg_s)
    return [
        _row("At most, in this air", limit.rate_kg_s, ends, lambda rate: rate_words(rate, units)),
        ("What binds", limit.because or "nothing up to the rate asked", "", ""),
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


def _rise(units: str, value_dk: float) -> str:
    return rise_words(value_dk, units)


def _air(air_kg_s: float, units: str) -> str:
    """Dry air by the minute or second."""
    return f"{air_kg_s * 60 / LB_IN_KG:.0f} lb/min" if units == "US" else f"{air_kg_s:.2f} kg/s"
