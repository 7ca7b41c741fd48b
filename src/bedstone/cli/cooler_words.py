"""What a cooler's answer says at the terminal, line by line."""

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
LB_IN_KG = 0.45359237


def factor_words(factors: "Factors") -> str:
    """The factors, never without their interval."""
    state = "Calibrated" if factors.calibrated else "Not calibrated"
    return (
        f"{state}: heat {factors.heat:.2f} ({factors.heat_lo:.2f} to {factors.heat_hi:.2f}), "
        f"moisture {factors.moisture:.2f} ({factors.moisture_lo:.2f} to {factors.moisture_hi:.2f}) "
        f"times the correlations; {factors.source.removeprefix('not calibrated: ')}."
    )


def cooler_rows(found: "CoolerAnswer", units: str) -> list[Row]:
    """Each figure in its middle, low and high."""
    left, ends, start = found.leaving, found.spread, found.start

    def three(name: str, middle: str, pair: tuple[str, str]) -> Row:
        return name, middle, pair[0], pair[1]

    def warm(value_c: float) -> str:
        return temperature_words(value_c, units)

    def rise(value_dk: float) -> str:
        return rise_words(value_dk, units)

    def per_cent(value: float) -> str:
        return f"{100 * value:.0f} %"

    limit = found.limit
    rows = [
        three("Pellets leave at", warm(left.pellet_c), (warm(ends.pellet_c[0]), warm(ends.pellet_c[1]))),
        three("above the air", rise(left.above_ambient_dk),
              (rise(ends.above_ambient_dk[0]), rise(ends.above_ambient_dk[1]))),
        three("with water", moisture_words(left.moisture_wb),
              (moisture_words(ends.moisture_wb[0]), moisture_words(ends.moisture_wb[1]))),
        three("water activity", f"{left.water_activity_frac:.2f}",
              (f"{ends.water_activity_frac[0]:.2f}", f"{ends.water_activity_frac[1]:.2f}")),
        three("Water lost to the air", steam_words(left.water_lost_kg_s, units),
              (steam_words(ends.water_lost_kg_s[0], units), steam_words(ends.water_lost_kg_s[1], units))),
        three("Air leaves at", warm(left.air_c), (warm(ends.air_c[0]), warm(ends.air_c[1]))),
        three("at a humidity of", per_cent(left.air_humidity_frac),
              (per_cent(ends.air_humidity_frac[0]), per_cent(ends.air_humidity_frac[1]))),
        three("At most, in this air", rate_words(limit.rate_kg_s, units),
              (rate_words(limit.rate_lo_kg_s, units), rate_words(limit.rate_hi_kg_s, units))),
        ("What binds", limit.because or "nothing up to the rate asked", "", ""),
        ("Time in the bed", f"{left.residence_s / 60:.1f} min", "", ""),
        ("Dry air", _air(found.cooler.air_kg_s, units), "", ""),
        ("First good pellet", "none at this rate" if start.first_good_s is None
         else f"{start.first_good_s / 60:.0f} min after the first comes in", "", ""),
        ("Fan on after the last", "too long" if start.run_on_s is None
         else f"{start.run_on_s / 60:.0f} min", "", ""),
    ]  # fmt: skip
    if found.lost_usd_per_h is not None:
        rows.insert(
            5, ("worth, at the mash's cost", f"{found.lost_usd_per_h:.2f} USD an hour", "", "")
        )
    return rows


def _air(air_kg_s: float, units: str) -> str:
    """Dry air by the minute or second."""
    return f"{air_kg_s * 60 / LB_IN_KG:.0f} lb/min" if units == "US" else f"{air_kg_s:.2f} kg/s"
