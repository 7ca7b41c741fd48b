"""The greatest rate at which what leaves a cooler is cool and dry enough, compiled over the hours."""

import math
from typing import Final

import numpy as np
import numpy.typing as npt

from bedstone.cooling.bed import BedNumbers, Floats, solve_bed
from bedstone.materials.sorption import water_activity
from bedstone.quantities.compiling import compiled_and_kept

__all__ = [
    "HOLDS",
    "NOT_COOL",
    "NOT_DRY",
    "NOT_SETTLED",
    "Edges",
    "greatest_shares",
    "leaving_of_many",
]

HOLDS: Final = 0
"""The most that was asked for passes both limits."""
NOT_COOL: Final = 1
NOT_DRY: Final = 2
NOT_SETTLED: Final = 3
Edges = npt.NDArray[np.int64]
_NEAR: Final = 1e-4
_STEPS: Final = 40
_LOOKS: Final = 12


@compiled_and_kept
def _numbers(row: Floats, share: float) -> BedNumbers:
    """The bed of a row at a share of its pellet rate: pellets then stay the longer."""
    return BedNumbers(
        row[0] * share, row[1], row[2], row[3], row[4], row[5], row[6] / share, row[7], row[8],
        row[9], row[10], row[11], row[12], row[13], row[14], row[15], row[16], row[17],
    )  # fmt: skip


@compiled_and_kept
def _over(
    row: Floats, share: float, modes: int, cells: int, close_c: float, close_db: float,
    above_dk: float, activity_most: float, guess: Floats, guess_air: Floats,
) -> tuple[float, int, Floats, Floats]:  # fmt: skip
    """By how much a bed exceeds its stricter limit (below 0: it keeps both), and which it is."""
    k = _numbers(row, share)
    settled, _, _, _, leaving, coarse, coarse_air = solve_bed(
        k, modes, cells, close_c, close_db, guess, guess_air
    )
    if not settled:
        return math.nan, NOT_SETTLED, guess, guess_air
    activity, _, _ = water_activity(
        leaving[1], leaving[0], int(k.isotherm), k.isotherm_a, k.isotherm_b, k.isotherm_c
    )
    hot = (leaving[0] - k.air_in_c) / above_dk - 1.0
    wet = activity / activity_most - 1.0
    return max(hot, wet), (NOT_COOL if hot >= wet else NOT_DRY), coarse, coarse_air


@compiled_and_kept
def _dry_between(
    row: Floats, over_whole: float, modes: int, cells: int, close_c: float, close_db: float,
    above_dk: float, activity_most: float, least: float, guess: Floats, guess_air: Floats,
) -> tuple[float, float, float, float, int, Floats, Floats]:  # fmt: skip
    """A share that keeps the limits though neither the least nor the whole does, and the next up.

    Slow pellets come near to damp air, quick ones have no time: between the two it may do.
    """
    high, over_high = 1.0, over_whole
    low, over_low, which = 1.0, over_whole, NOT_DRY
    for part in range(1, _LOOKS):
        high, over_high = low, over_low
        low = 1.0 - (1.0 - least) * part / _LOOKS
        over_low, which, guess, guess_air = _over(
            row, low, modes, cells, close_c, close_db, above_dk, activity_most, guess, guess_air
        )
        if over_low <= 0.0:
            break
    return low, over_low, high, over_high, which, guess, guess_air


@compiled_and_kept
def greatest_shares(
    rows: Floats, modes: int, cells: int, close_c: float, close_db: float,
    above_dk: float, activity_most: float, least: float,
) -> tuple[Floats, Floats]:  # fmt: skip
    """The greatest share of its pellet rate that each bed may run at.

    Parameters
    ----------
    rows : Floats
        Beds at the most that is asked for, (hours, 18): the fields of ``BedNumbers`` in order.
    modes, cells, close_c, close_db
        As :func:`bedstone.cooling.bed.solve_bed` takes them.
    above_dk : float
        Most that pellets may leave warmer than the air. [K]
    activity_most : float
        Most water activity at which they may leave. [0 to 1]
    least : float
        Share below which nobody runs. [0 to 1]

    Returns
    -------
    shares : Floats
        (hours,), 1 where the whole rate holds, 0 where not even ``least`` does.
    why : Floats
        (hours,), which limit binds: ``HOLDS``, ``NOT_COOL``, ``NOT_DRY``, or ``NOT_SETTLED``.
    """
    count = rows.shape[0]
    shares, why = np.zeros(count), np.zeros(count)
    guess, guess_air = np.zeros((0, 2 + modes)), np.zeros((0, 2))
    for i in range(count):
        row = rows[i]
        high = 1.0
        over_high, which, guess, guess_air = _over(
            row, high, modes, cells, close_c, close_db, above_dk, activity_most, guess, guess_air
        )
        over_whole = over_high
        why[i] = which
        if math.isnan(over_high):
            continue
        if over_high <= 0.0:
            shares[i], why[i] = 1.0, HOLDS
            continue
        low = shares[i - 1] * 0.7 if i > 0 and shares[i - 1] > 0.0 else 0.4
        low = max(low, least)
        over_low, which, guess, guess_air = _over(
            row, low, modes, cells, close_c, close_db, above_dk, activity_most, guess, guess_air
        )
        while over_low > 0.0 and low > least:
            high, over_high = low, over_low
            low = max(0.4 * low, least)
            over_low, which, guess, guess_air = _over(
                row, low, modes, cells, close_c, close_db, above_dk, activity_most,
                guess, guess_air,
            )  # fmt: skip
        if over_low > 0.0 and which == NOT_DRY:
            low, over_low, high, over_high, which, guess, guess_air = _dry_between(
                row, over_whole, modes, cells, close_c, close_db, above_dk, activity_most, least,
                guess, guess_air,
            )  # fmt: skip
        if not over_low <= 0.0:
            why[i] = NOT_SETTLED if math.isnan(over_low) else which
            continue
        # false position with halved ends (Illinois)
        value_low, value_high = over_low, over_high
        for _ in range(_STEPS):
            if high - low < _NEAR * high:
                break
            at = low - value_low * (high - low) / (value_high - value_low)
            at = min(max(at, low + 0.02 * (high - low)), high - 0.02 * (high - low))
            over, came, guess, guess_air = _over(
                row, at, modes, cells, close_c, close_db, above_dk, activity_most,
                guess, guess_air,
            )  # fmt: skip
            if not over <= 0.0:
                high, value_high, which = at, over, came
                value_low *= 0.5
            else:
                low, value_low = at, over
                value_high *= 0.5
                if over > -_NEAR:
                    break
        shares[i], why[i] = low, which
    return shares, why


@compiled_and_kept
def leaving_of_many(
    rows: Floats, modes: int, cells: int, close_c: float, close_db: float,
    kept: Floats, kept_air: Floats, lengths: Edges,
) -> Floats:  # fmt: skip
    """What leaves many beds, each begun from its own profile of the last time.

    Parameters
    ----------
    rows : Floats
        (beds, 18): the fields of ``BedNumbers`` in order.
    modes, cells, close_c, close_db
        As :func:`bedstone.cooling.bed.solve_bed` takes them.
    kept, kept_air, lengths
        Profiles of the last time with their number of edges, (beds, 2 cells + 1, 2 + modes),
        (beds, 2 cells + 1, 2) and (beds,); no edges where there was none. Changed in place.

    Returns
    -------
    leaving : Floats
        (beds, 6) as :func:`bedstone.cooling.bed.solve_bed` gives it; NaN where it did not settle.
    """
    answer = np.full((rows.shape[0], 6), np.nan)
    for i in range(rows.shape[0]):
        edges = lengths[i]
        settled, _, _, _, leaving, coarse, coarse_air = solve_bed(
            _numbers(rows[i], 1.0), modes, cells, close_c, close_db,
            kept[i, :edges], kept_air[i, :edges],
        )  # fmt: skip
        if settled:
            answer[i] = leaving
            edges = coarse.shape[0]
            if edges <= kept.shape[1]:
                kept[i, :edges] = coarse
                kept_air[i, :edges] = coarse_air
                lengths[i] = edges
    return answer
