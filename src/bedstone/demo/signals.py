"""A month of a mill carried out with true flows, errors of instruments and hidden faults.

For scoring detectors: pure numpy, no record, some milliseconds a month. The truth is in the fields
with ``true`` in their names; what a mill would see is in all others. Physics is cruder than that of the rooms that reckon, and apart from it.
"""

from dataclasses import dataclass

import numpy as np

from bedstone.demo.faults import NO_FAULTS, FaultKind, Faults
from bedstone.demo.month_plan import DIALS, OPENING_FRAC, Floats, Ints, MonthPlan
from bedstone.demo.signal_parts import (
    bags,
    compositions,
    dials,
    errors_of,
    gains,
    mixer_counts,
    stay_stuck,
    sums,
    when,
)

__all__ = ["NUTRIENTS", "Month", "simulate_month"]

NUTRIENTS = ("crude fat", "crude protein", "moisture")
"""What the laboratory measures of finished feed, in per cent."""
CELLS_SD_FRAC = 0.005
TRUCK_SD_FRAC = 0.0006
GROUND_SD_FRAC = 0.01
LAB_SD_FRAC = (0.03, 0.012, 0.015)
LAB_SD_PCT = (0.08, 0.08, 0.15)
LEVEL_SD_FRAC = {"tank": 0.004, "ingredient": 0.015, "ground": 0.015, "finished": 0.015}
SHAKE_DIVISIONS = 0.45
METER_SHAKE_FRAC = 0.3
BOUGHT = ("ingredient", "tank")
STREAMS = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class Month:
    """What was read and what was true in a month; shapes as in :class:`MonthPlan`.

    Attributes
    ----------
    draw_read_kg, draw_true_kg, draw_cells_kg : ndarray, shape (draws,)
        What the instrument read, what truly went, and what the mixer's load cells gained, which
        witness each addition with an error of half a per cent of it. [kg]
    draw_place_true : ndarray, shape (draws,)
        The place that a draw truly came from (index into ``plan.places``).
    draw_sd_kg : ndarray, shape (draws,)
        Standard deviation of a sound instrument's error. [kg]
    batch_read_kg, batch_true_kg, batch_cells_kg : ndarray, shape (batches,)
        Sums over the draws of a batch. [kg]
    load_ticket_kg, load_true_kg : ndarray, shape (loads,)
        Deliveries by truck scale; grain ground is reckoned and not weighed. [kg]
    level_read_kg, level_true_kg : ndarray, shape (shifts, places)
        Levels at the end of each shift, NaN where nobody looked. [kg]
    level_sd_kg : ndarray, shape (places,)
        Standard deviation of a level reading. [kg]
    dial_read, dial_true : ndarray, shape (batches, dials)
        Dials of the batch's pellet line in the order of ``DIALS``, NaN for mash.
    bag_read_kg, bag_true_kg, bag_checked_kg : ndarray, shape (batches,)
        Mean of the bags of a batch: by the bagging scale, truly, and of the few that were weighed
        again on another scale; NaN for what is not bagged. [kg]
    lab_value, lab_true, lab_sd : ndarray, shape (samples, nutrients)
        Results of sampled batches, in per cent, in the order of ``NUTRIENTS``.
    mixer_seen : ndarray, shape (tests, samples)
        Particles counted in each sample of a mixer test.
    """

    draw_read_kg: Floats
    draw_true_kg: Floats
    draw_cells_kg: Floats
    draw_place_true: Ints
    draw_sd_kg: Floats
    batch_read_kg: Floats
    batch_true_kg: Floats
    batch_cells_kg: Floats
    load_ticket_kg: Floats
    load_true_kg: Floats
    level_read_kg: Floats
    level_true_kg: Floats
    level_sd_kg: Floats
    dial_read: Floats
    dial_true: Floats
    bag_read_kg: Floats
    bag_true_kg: Floats
    bag_checked_kg: Floats
    lab_value: Floats
    lab_true: Floats
    lab_sd: Floats
    mixer_seen: Floats


def simulate_month(
    plan: MonthPlan, faults: Faults = NO_FAULTS, *, seed: int, unread_frac: float = 0.0
) -> Month:
    """Carry out a month once.

    The same seed gives the same month. With other faults and the same seed, everything that the
    faults do not touch stays the same to the last bit.

    Parameters
    ----------
    plan : MonthPlan
        What is to be done.
    faults : Faults
        What is wrong, by the codes of the mill; a dial is ``LINE dial``.
    seed : int
        Of all errors and of the analyses of loads.
    unread_frac : float
        Part of the level readings that nobody took. [0 to 1]

    Returns
    -------
    month : Month
        What was read and what was true.

    Sources
    -------
    [1] None: errors and rates are invented for the demo, or the mill's tables' own.
    """
    streams = [np.random.default_rng([seed, number]) for number in range(STREAMS)]
    draw_at, count = plan.batch_at[plan.draw_batch], plan.batch_at.size
    read_kg, true_kg, sd_kg = _draws(plan, faults, draw_at, streams[0])
    cells_kg = true_kg * (1 + CELLS_SD_FRAC * streams[1].standard_normal(true_kg.size))
    place_true = _sources(plan, faults, draw_at)
    load_true_kg, ticket_kg = _loads(plan, streams[2])
    level_true_kg = _levels(plan, draw_at, place_true, true_kg, load_true_kg)
    level_sd_kg = _level_sd_kg(plan)
    level_kg = _read_levels(plan, faults, level_true_kg, level_sd_kg, streams[3])
    level_kg[streams[9].random(level_kg.shape) < unread_frac] = np.nan
    analyses = compositions(plan, NUTRIENTS, draw_at, place_true, streams[4])
    batch_true_kg = sums(plan.draw_batch, true_kg, count)
    batch_pct = _batch_analyses(plan, true_kg, analyses, batch_true_kg)
    dial_read, dial_true = dials(plan, faults, batch_pct, streams[5])
    bag_read_kg, bag_true_kg, bag_checked_kg = bags(plan, faults, streams[6])
    lab_value, lab_true, lab_sd = _laboratory(plan, batch_pct, dial_true, streams[7])
    return Month(
        draw_read_kg=read_kg,
        draw_true_kg=true_kg,
        draw_cells_kg=cells_kg,
        draw_place_true=place_true,
        draw_sd_kg=sd_kg,
        batch_read_kg=sums(plan.draw_batch, read_kg, count),
        batch_true_kg=batch_true_kg,
        batch_cells_kg=sums(plan.draw_batch, cells_kg, count),
        load_ticket_kg=ticket_kg,
        load_true_kg=load_true_kg,
        level_read_kg=level_kg,
        level_true_kg=level_true_kg,
        level_sd_kg=level_sd_kg,
        dial_read=dial_read,
        dial_true=dial_true,
        bag_read_kg=bag_read_kg,
        bag_true_kg=bag_true_kg,
        bag_checked_kg=bag_checked_kg,
        lab_value=lab_value,
        lab_true=lab_true,
        lab_sd=lab_sd,
        mixer_seen=mixer_counts(plan, faults, streams[8]),
    )


def _draws(
    plan: MonthPlan, faults: Faults, at: Floats, rng: np.random.Generator
) -> tuple[Floats, Floats, Floats]:
    """What each draw read, what truly went, and how far a sound instrument errs. [kg]"""
    division_kg, sd_kg, shake = errors_of(plan)
    division, sd = division_kg[plan.draw_instrument], sd_kg[plan.draw_instrument]
    is_part = shake[plan.draw_instrument] > 0  # a meter errs by a part of what it lets through
    sd = np.where(is_part, sd * plan.draw_target_kg, sd)
    noise = rng.standard_normal((2, at.size))
    off = np.where(is_part, METER_SHAKE_FRAC * sd / division, SHAKE_DIVISIONS) * noise[0]
    steps = np.maximum(1.0, np.round(plan.draw_target_kg / division)) + np.round(off)
    read_kg = division * np.maximum(1.0, steps)
    gain, zero_kg = gains(plan, faults, plan.draw_instrument, at)
    true_kg = np.maximum(1e-6, read_kg * gain + zero_kg + sd * noise[1])
    for fault in faults.rows:
        if fault.kind is FaultKind.DOUBLE_MICRO and fault.where in plan.materials:
            is_it = plan.draw_material == plan.materials.index(fault.where)
            first = np.flatnonzero(is_it & when(plan, fault, at))[: round(fault.size)]
            true_kg[first] *= 2
    return read_kg, true_kg, sd


def _sources(plan: MonthPlan, faults: Faults, at: Floats) -> Ints:
    """The place that each draw truly came from."""
    places = plan.draw_place.copy()
    for fault in faults.rows:
        if fault.kind is FaultKind.WRONG_BIN and fault.where in plan.places:
            opened = (plan.draw_place == plan.places.index(fault.where)) & when(plan, fault, at)
            places[opened] = plan.places.index(fault.other)
    return places


def _loads(plan: MonthPlan, rng: np.random.Generator) -> tuple[Floats, Floats]:
    """True mass of each delivery and what the truck scale said; what is ground is reckoned."""
    kinds = [plan.mill.bin_by_code[code].kind for code in plan.places]
    spread = np.array([TRUCK_SD_FRAC if kind in BOUGHT else GROUND_SD_FRAC for kind in kinds])
    error = spread[plan.load_place] * rng.standard_normal(plan.load_kg.size)
    return plan.load_kg, plan.load_kg * (1 + error)


def _levels(plan: MonthPlan, at: Floats, places: Ints, true_kg: Floats, load_kg: Floats) -> Floats:
    """True stock of every place at the end of each shift. [kg]"""
    shape = plan.level_at.size + 1, len(plan.places)
    kept = places >= 0
    slot = np.searchsorted(plan.level_at, at[kept], side="left")
    out_kg = sums(slot * shape[1] + places[kept], true_kg[kept], shape[0] * shape[1])
    slot = np.searchsorted(plan.level_at, plan.load_at, side="left")
    in_kg = sums(slot * shape[1] + plan.load_place, load_kg, shape[0] * shape[1])
    change = (in_kg - out_kg).reshape(shape)[:-1]
    level_kg: Floats = OPENING_FRAC * _capacity_kg(plan) + np.cumsum(change, axis=0)
    return level_kg


def _capacity_kg(plan: MonthPlan) -> Floats:
    return np.array([plan.mill.bin_by_code[code].capacity_kg for code in plan.places])


def _level_sd_kg(plan: MonthPlan) -> Floats:
    kinds = [plan.mill.bin_by_code[code].kind for code in plan.places]
    sd_kg: Floats = _capacity_kg(plan) * np.array([LEVEL_SD_FRAC[kind] for kind in kinds])
    return sd_kg


def _read_levels(
    plan: MonthPlan,
    faults: Faults,
    true_kg: Floats,
    sd_kg: Floats,
    rng: np.random.Generator,
) -> Floats:
    """Levels as gauge and tape show them; a stuck one shows what it last showed. [kg]"""
    read_kg = true_kg + sd_kg * rng.standard_normal(true_kg.shape)
    for fault in faults.rows:
        if fault.kind is FaultKind.STUCK and fault.where in plan.places:
            column = read_kg[:, plan.places.index(fault.where)]
            stay_stuck(column, when(plan, fault, plan.level_at))
    return read_kg


def _batch_analyses(plan: MonthPlan, true_kg: Floats, draw_pct: Floats, batch_kg: Floats) -> Floats:
    """True analyses of the batches as mixed, shape (batches, nutrients). [%]"""
    count = batch_kg.size
    columns = [sums(plan.draw_batch, true_kg * column, count) for column in draw_pct.T]
    return np.stack(columns, axis=1) / batch_kg[:, None]


def _laboratory(
    plan: MonthPlan, batch_pct: Floats, dial_true: Floats, rng: np.random.Generator
) -> tuple[Floats, Floats, Floats]:
    """Results, truth and errors of what is sampled: pellets as dry as the cooler left them. [%]"""
    pct = batch_pct[plan.sampled].copy()
    moisture = NUTRIENTS.index("moisture")
    after = 100 * dial_true[plan.sampled, DIALS.index("cooler outlet moisture")]
    pellets = ~np.isnan(after)
    dried = (100 - after[pellets]) / (100 - pct[pellets, moisture])
    pct[pellets] *= dried[:, None]
    pct[pellets, moisture] = after[pellets]
    sd = np.maximum(np.array(LAB_SD_PCT), np.array(LAB_SD_FRAC) * pct)
    return pct + sd * rng.standard_normal(pct.shape), pct, sd
