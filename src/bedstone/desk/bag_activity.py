"""Feed in a closed bag or bin as it cools, and bags of a run as they were read."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from itertools import pairwise

from bedstone.cooling.after_cooler import Activity, activity_as_it_cools
from bedstone.cooling.model import Isotherm
from bedstone.desk.readings import readings
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.materials.library import library
from bedstone.materials.sorption import FORMS, LEAST_C

__all__ = [
    "TEMPERATURE",
    "AsItCools",
    "BagsOfRun",
    "as_it_cools",
    "bag_mean",
    "bags_of_run",
    "other_isotherms",
]

OTHER_GRAINS = ("corn", "wheat", "barley", "soybeans")
PER_CENT_DRY = "%, dry basis"
STEPS = {"US": 10 / 1.8, "SI": 5.0}
MOST_STEPS = 7
TEMPERATURE, MOISTURE = "bag temperature", "bag moisture"


@dataclass(frozen=True, slots=True, kw_only=True)
class AsItCools:
    """Water activity of one moisture, warmest first, and whose isotherms it is by."""

    moisture_wb: float
    rows: tuple[Activity, ...]
    bag_c: float | None  # one of the rows, if it was read
    isotherm: str
    other_isotherms: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BagsOfRun:
    """Bags of a run as they were read, and how they keep as they cool."""

    run: str
    bag_c: float
    moisture_wb: float
    activity_frac: float  # as warm as they were closed
    most_frac: float | None  # that the pellets table allows
    cools: AsItCools


def as_it_cools(
    moisture_wb: float,
    ends_c: tuple[float, float],
    units: str,
    *,
    bag_c: float | None = None,
) -> AsItCools:
    """Water activity in a closed bag or bin, from the feed's own temperature down.

    Parameters
    ----------
    moisture_wb : float
        Moisture, none of which is lost. [kg/kg]
    ends_c : tuple of float
        The feed's own temperature, and how cold it gets. [degrees C]
    units : str
        "US" or "SI", for round temperatures.
    bag_c : float, optional
        As read at the bag. [degrees C]

    Returns
    -------
    found : AsItCools
        The feed's own temperature, the bag's, and round steps down to the cold or to where
        isotherms end.
    """
    holds, others = Isotherm(), other_isotherms()
    return AsItCools(
        moisture_wb=moisture_wb,
        rows=activity_as_it_cools(moisture_wb, _steps(ends_c, bag_c, units), holds, others),
        bag_c=bag_c,
        isotherm=holds.source,
        other_isotherms=tuple(one.source for one in others),
    )


def bag_mean(record: Record, runs: Sequence[str], quantity: str) -> float | None:
    """Mean of what was read at bags of some runs, wherever they were filled; None if nothing was."""
    read = [
        row.value
        for machine in current_mill(record).machine_by_code
        for row in readings(record, machine, quantity).rows
        if row.run and row.run in runs
    ]
    return sum(read) / len(read) if read else None


def bags_of_run(record: Record, run: str, product: str) -> BagsOfRun | None:
    """Bags of a run, if temperature and moisture of any were read. Nothing is recorded."""
    bag_c = bag_mean(record, (run,), TEMPERATURE)
    moisture_wb = bag_mean(record, (run,), MOISTURE)
    if bag_c is None or moisture_wb is None or not 0 < moisture_wb < 1:
        return None
    mill = current_mill(record)
    cools = as_it_cools(moisture_wb, (bag_c, LEAST_C), mill.settings.units, bag_c=bag_c)
    table = next((row for row in mill.pellets if row.product == product), None)
    return BagsOfRun(
        run=run,
        bag_c=bag_c,
        moisture_wb=moisture_wb,
        activity_frac=cools.rows[0].activity_frac,
        most_frac=None if table is None else table.water_activity_frac,
        cools=cools,
    )


def _steps(ends_c: tuple[float, float], bag_c: float | None, units: str) -> list[float]:
    warm = ends_c[0]
    cold = min(max(ends_c[1], LEAST_C), warm)
    step = STEPS[units]
    while (warm - cold) / step > MOST_STEPS:
        step *= 2
    zero_c = -160 / 9 if units == "US" else 0.0
    at = zero_c + step * ((warm - zero_c) // step)
    found = {warm, *({bag_c} if bag_c is not None else ())}
    while at > cold - step / 2 and len(found) <= MOST_STEPS + 2:
        found.add(at)
        at -= step
    own = (warm, bag_c)
    kept = sorted(found, reverse=True)
    close = [b for a, b in pairwise(kept) if a - b < step / 5 and b not in own]
    close += [a for a, b in pairwise(kept) if a - b < step / 5 and b in own and a not in own]
    return [one for one in kept if one not in close]


@cache
def other_isotherms() -> tuple[Isotherm, ...]:
    """Isotherms of grains and oilseeds that feeds are made of; none of pelleted feed is readable."""
    return tuple(
        Isotherm(
            form=FORMS[row.form], a=row.a, b=row.b, c=row.c, source=f"{row.printed_as}, {row.form}"
        )
        for row in library().isotherms
        if row.ingredient in OTHER_GRAINS and row.moisture_in == PER_CENT_DRY
    )
