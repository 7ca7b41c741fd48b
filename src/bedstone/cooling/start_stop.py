"""How long until the first good pellet, what the first bed-full is like, how long to run on."""

from dataclasses import dataclass
from typing import Final

from bedstone.cooling.bed import MODES
from bedstone.cooling.cooler import bed_numbers, check_pellets
from bedstone.cooling.limits import Limits
from bedstone.cooling.model import DEFAULT_FACTORS, AirIn, Cooler, Factors, PelletKind, PelletsIn
from bedstone.cooling.moving import fill_and_run, stand
from bedstone.errors import NotSettled
from bedstone.materials.sorption import water_activity
from bedstone.quantities.moisture import wet_basis

__all__ = ["StartStop", "start_and_stop"]

LAYERS: Final = 40
STEPS: Final = 2
_MOST_BEDS: Final = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class StartStop:
    """A run's beginning and end at the cooler, the gate shut until the bed is full."""

    fill_s: float  # from the first pellet in to the bed full and the gate opened
    first_good_s: float | None  # to the first pellet out that keeps the limits; None if none does
    first_out_c: float
    first_out_wb: float
    steady_c: float
    steady_wb: float
    driest_wb: float  # of the first bed-full
    run_on_s: float | None  # fan on after the last pellet until the bed is cool; None if never
    advice: str


def start_and_stop(
    cooler: Cooler,
    pellet: PelletKind,
    pellets: PelletsIn,
    air: AirIn,
    *,
    limits: Limits | None = None,
    factors: Factors = DEFAULT_FACTORS,
) -> StartStop:
    """Beginning and end of a run through the cooler.

    Parameters
    ----------
    cooler, pellet, pellets, air, factors
        As :func:`bedstone.cooling.cooler.cool` takes them.
    limits : Limits
        What counts as good.

    Returns
    -------
    answer : StartStop
        Times from the first pellet into the empty cooler, and what to do.

    Raises
    ------
    BadInput
        If the pellets cannot be.
    NotSettled
        If the bed could not be reckoned.
    """
    limits = limits or Limits()
    check_pellets(pellets, air)
    k = bed_numbers(cooler, pellet, pellets, air, factors)
    settled, out, bed = fill_and_run(k, MODES, LAYERS, 3, STEPS)
    step_s = k.residence_s / LAYERS / STEPS
    cooled, steps = stand(
        k, bed.copy(), step_s, _MOST_BEDS * LAYERS * STEPS, limits.above_ambient_dk
    )
    if not settled:
        raise NotSettled("Beginning and end of the run could not be reckoned.")
    good = [
        i
        for i, (pellet_c, moisture) in enumerate(out)
        if pellet_c - air.temperature_c <= limits.above_ambient_dk
        and water_activity(
            moisture, pellet_c, int(k.isotherm), k.isotherm_a, k.isotherm_b, k.isotherm_c
        )[0]
        <= limits.water_activity_frac
    ]
    first = good[0] if good else None
    return StartStop(
        fill_s=k.residence_s,
        first_good_s=None if first is None else k.residence_s * (1 + first / LAYERS),
        first_out_c=float(out[0, 0]),
        first_out_wb=wet_basis(float(out[0, 1])),
        steady_c=float(out[-1, 0]),
        steady_wb=wet_basis(float(out[-1, 1])),
        driest_wb=wet_basis(float(out[:LAYERS, 1].min())),
        run_on_s=steps * step_s if cooled else None,
        advice=_advice(first, good_last=bool(good) and good[-1] == len(out) - 1),
    )


def _advice(first: int | None, *, good_last: bool) -> str:
    if first is None:
        return (
            "At this rate nothing leaves cool and dry enough: slow down, or hold the run. "
            "Do not send hot pellets to a bin: they sweat and mould."
        )
    if not good_last:
        return (
            "Only the first bed-full keeps the limits: it had the whole filling time in the air. Run "
            "no faster than this air lets through."
        )
    return (
        "Keep the gate shut and the fan on until the bed is at its level. Set the first bed-full "
        "aside for rework until conditioner and die are at their temperature: it was cooled, but "
        "not cooked as set."
    )
