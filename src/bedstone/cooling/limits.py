"""How fast each product may run in each hour's weather: the answer that the plan takes as rates."""

import datetime as dt
from collections.abc import Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from bedstone.cooling import rates
from bedstone.cooling.bed import MODES
from bedstone.cooling.cooler import CELLS, CLOSE_C, CLOSE_DB, bed_numbers, check_pellets
from bedstone.cooling.model import DEFAULT_FACTORS, AirIn, Cooler, Factors, PelletKind, PelletsIn
from bedstone.cooling.rates import greatest_shares
from bedstone.errors import BadInput

__all__ = ["NOT_DRY", "HourAir", "HourLimit", "Limits", "ToCool", "hourly_limits"]

LEAST_FRAC: Final = 0.2
CORNERS: Final = (
    ("heat", "moisture"),
    ("heat_lo", "moisture_lo"),
    ("heat_lo", "moisture_hi"),
    ("heat_hi", "moisture_lo"),
    ("heat_hi", "moisture_hi"),
)
"""Of the factors: the middle first."""
NOT_COOL: Final = "not cool enough"
NOT_DRY: Final = "not dry enough"
_WHY: Final = {rates.HOLDS: "", rates.NOT_COOL: NOT_COOL, rates.NOT_DRY: NOT_DRY}


@dataclass(frozen=True, slots=True, kw_only=True)
class HourAir:
    """The air of an hour, by its start; aware, UTC."""

    starts_at: dt.datetime
    air: AirIn


@dataclass(frozen=True, slots=True, kw_only=True)
class ToCool:
    """A product on a line: its pellet and what the pellet mill sends at the most it can make.

    ``air_kg_s`` is the dry air of each hour where it changes with the weather, reckoned at that
    most: at a lower rate air leaves cooler, weighs more, and a little more of it comes.
    """

    product: str
    line: str
    cooler: Cooler
    pellet: PelletKind
    pellets: PelletsIn
    factors: Factors = DEFAULT_FACTORS
    air_kg_s: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What must leave the cooler: pellets no warmer than so much above the air, and no wetter.

    The usual 5 to 10 F above ambient is common practice without a source; water activity 0.65 is
    the storage limit of extension texts, mould grows from about 0.70 (University of Guelph, food
    science notes).
    """

    above_ambient_dk: float = 5.0
    water_activity_frac: float = 0.65


@dataclass(frozen=True, slots=True, kw_only=True)
class HourLimit:
    """The greatest rate of a product in an hour: at the middle of the factors, and its ends over all
    their corners.
    """

    product: str
    line: str
    starts_at: dt.datetime
    rate_kg_s: float
    rate_lo_kg_s: float
    rate_hi_kg_s: float
    because: str  # what binds; empty where the whole rate holds

    @property
    def holds(self) -> bool:
        """Whether the most that was asked for may run."""
        return not self.because


def hourly_limits(
    products: Sequence[ToCool],
    hours: Sequence[HourAir],
    limits: Limits | None = None,
    *,
    uniform: bool = False,
    with_interval: bool = True,
    threads: int = 2,
) -> tuple[HourLimit, ...]:
    """The greatest rate of each product in each hour.

    Parameters
    ----------
    products : sequence of ToCool
        Each at the most that its line can make.
    hours : sequence of HourAir
        In order of time; neighbours help one another to be reckoned.
    limits : Limits
        What must leave the cooler.
    uniform : bool
        Takes pellets as one moisture each, which is quicker.
    with_interval : bool
        Also reckons the four corners of the factors (five times the work): a cooler that cools
        quickly and dries slowly sends damper pellets than one that is slow at both.
    threads : int
        Products are shared among them.

    Returns
    -------
    limits : tuple of HourLimit
        Product by product, hour by hour.

    Raises
    ------
    BadInput
        If a limit makes no sense, or pellets are colder than the air of an hour.
    """
    limits = limits or Limits()
    if not limits.above_ambient_dk > 0 or not 0 < limits.water_activity_frac < 1:
        raise BadInput(
            "A cooler's limits must leave room.",
            seen=f"{limits.above_ambient_dk:g} K, {limits.water_activity_frac:g}",
            allowed="more than 0 K above ambient; water activity above 0 and below 1",
        )
    corners = CORNERS if with_interval else CORNERS[:1]
    work = [(product, corner) for product in products for corner in corners]
    with ThreadPoolExecutor(max_workers=threads) as pool:
        found = list(
            pool.map(lambda one: _of_product(one[0], one[1], hours, limits, uniform=uniform), work)
        )
    answer: list[HourLimit] = []
    for first in range(0, len(work), len(corners)):
        product = work[first][0]
        middle, why = found[first]
        every = np.array([ends for ends, _ in found[first : first + len(corners)]])
        low, high = every.min(axis=0), every.max(axis=0)
        answer.extend(
            HourLimit(
                product=product.product,
                line=product.line,
                starts_at=hour.starts_at,
                rate_kg_s=float(middle[i]),
                rate_lo_kg_s=float(low[i]),
                rate_hi_kg_s=float(high[i]),
                because=_WHY.get(int(why[i]), "could not be reckoned"),
            )
            for i, hour in enumerate(hours)
        )
    return tuple(answer)


def _of_product(
    one: ToCool, corner: tuple[str, str], hours: Iterable[HourAir], limits: Limits, *, uniform: bool
) -> tuple[np.ndarray, np.ndarray]:
    """Rates of a product over the hours in kg/s, and what binds."""
    heat, moisture = (getattr(one.factors, name) for name in corner)
    factors = replace(one.factors, heat=heat, moisture=moisture)
    rows = []
    for number, hour in enumerate(hours):
        check_pellets(one.pellets, hour.air)
        cooler = replace(one.cooler, air_kg_s=one.air_kg_s[number]) if one.air_kg_s else one.cooler
        rows.append(
            bed_numbers(cooler, one.pellet, one.pellets, hour.air, factors, uniform=uniform)
        )
    shares, why = greatest_shares(
        np.array(rows, dtype=np.float64).reshape(len(rows), 18),
        0 if uniform else MODES,
        CELLS,
        CLOSE_C,
        CLOSE_DB,
        limits.above_ambient_dk,
        limits.water_activity_frac,
        LEAST_FRAC,
    )
    return shares * one.pellets.rate_kg_s, why
