"""A supplier's loads as a card: mean, spread, and what a kilogram of a nutrient really costs."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean, stdev

from bedstone.errors import BadInput

__all__ = ["Spread", "assured_level", "cost_per_unit", "spread_of"]

FEWEST = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """Values of loads: how many, mean, and standard deviation; None from fewer than two."""

    loads: int
    mean: float
    sd: float | None


def spread_of(values: Sequence[float]) -> Spread | None:
    """Mean and spread of one value a load.

    Parameters
    ----------
    values : sequence of float
        One a load.

    Returns
    -------
    spread : Spread or None
        None without values.
    """
    if not values:
        return None
    sd = stdev(values) if len(values) >= FEWEST else None
    return Spread(loads=len(values), mean=fmean(values), sd=sd)


def assured_level(spread: Spread, *, odds_frac: float) -> float | None:
    """The level that the next load reaches with the odds.

    Parameters
    ----------
    spread : Spread
        Of the loads so far.
    odds_frac : float
        Probability, above a half.

    Returns
    -------
    level : float or None
        None from fewer than two loads.

    Sources
    -------
    [1] One-sided prediction limit of a normal sample: mean - t(odds, n - 1) sd sqrt(1 + 1/n),
        from memory; tried by simulation.
    """
    if not 0.5 <= odds_frac < 1:  # noqa: PLR2004 - even odds
        raise BadInput("Odds lie between even and sure.", seen=f"{odds_frac:g}", allowed="0.5 to 1")
    if spread.sd is None:
        return None
    from scipy.stats import t

    quantile = float(t.ppf(odds_frac, spread.loads - 1))
    return spread.mean - quantile * spread.sd * math.sqrt(1 + 1 / spread.loads)


def cost_per_unit(price_usd_t: float, level_frac: float | None) -> float | None:
    """What a kilogram of a nutrient costs.

    Parameters
    ----------
    price_usd_t : float
        Price of the material. [USD/t]
    level_frac : float or None
        Its part of the material, 0 to 1.

    Returns
    -------
    cost_usd_kg : float or None
        None where the level is unknown or nothing. [USD/kg]
    """
    if level_frac is None or level_frac <= 0:
        return None
    return price_usd_t / 1000 / level_frac
