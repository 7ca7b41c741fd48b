"""What a load is paid: shrink to a base moisture, handling, dockage, steps of the price, money.

Reckoned in fractions; mass is rounded once, to the milligram, and money once, to the whole cent. A published factor such as 1.183 is itself rounded: multiplying by it gives another answer.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

__all__ = ["Settlement", "Terms", "settle", "shrink_factor"]

MG_T = 1_000_000_000
CENTS100_USD = 10_000
CENTS100_CENT = 100
POINTS = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class Terms:
    """How a load is paid; fractions of one."""

    shrink: str  # "none", "dry matter", "pencil"
    base_wb: Fraction = Fraction(0)
    pencil: Fraction = Fraction(0)  # part of the mass for each point of moisture above the base
    handling: Fraction = Fraction(0)
    dockage_free: Fraction = Fraction(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Settlement:
    """Masses taken off, mass paid, price and money. Masses whole mg, prices whole 0.0001 USD a tonne,
    money whole cents.
    """

    net_mg: int
    dockage_mg: int
    moisture_mg: int
    handling_mg: int
    paid_mg: int
    price_cents100_t: int
    steps: tuple[tuple[str, int], ...]  # test and what it adds to the price, 0.0001 USD a tonne
    money_cents: int

    @property
    def left_mg(self) -> int:
        """What is left once the dockage is off, from which water and handling are reckoned. [mg]"""
        return self.net_mg - self.dockage_mg


def _nearest(value: Fraction) -> int:
    doubled = abs(value) * 2
    whole = (doubled.numerator + doubled.denominator) // (2 * doubled.denominator)
    return -whole if value < 0 else whole


def shrink_factor(base_wb: Fraction) -> Fraction:
    """Part of the mass that goes with each part of water dried out, down to a base moisture.

    Parameters
    ----------
    base_wb : Fraction
        Moisture that the grain is brought to, wet basis. [kg/kg]

    Returns
    -------
    factor : Fraction
        Mass lost for each unit of moisture above the base.

    Raises
    ------
    ValueError
        If the base lies outside nothing to one.

    Examples
    --------
    >>> round(float(shrink_factor(Fraction("0.155"))), 3)
    1.183

    Sources
    -------
    [1] Dry matter stays: 100 / (100 - base); factor 1.183 at 15.5 % in published shrink tables.
    """
    if not 0 <= base_wb < 1:
        msg = f"a base moisture of {base_wb}"
        raise ValueError(msg)
    return 1 / (1 - base_wb)


def settle(
    net_mg: int,
    terms: Terms,
    *,
    moisture_wb: Fraction | None,
    dockage: Fraction = Fraction(0),
    price_cents100_t: int,
    steps: Iterable[tuple[str, int]] = (),
) -> Settlement:
    """What is paid for a load.

    Dockage above what is free goes off the net first; the shrink is then reckoned on what is left,
    handling on the same, both together taken off. A load drier than the base gets nothing added.

    Parameters
    ----------
    net_mg : int
        Net mass as weighed. [mg]
    terms : Terms
        Terms of the supplier.
    moisture_wb : Fraction or None
        Moisture found, wet basis; needed when there is a shrink. [kg/kg]
    dockage : Fraction
        Dockage found, as part of the mass.
    price_cents100_t : int
        Price before steps, in hundredths of a cent a tonne.
    steps : iterable of (str, int)
        Test, and what it adds to the price in hundredths of a cent a tonne.

    Returns
    -------
    settlement : Settlement
        Each part of it.

    Raises
    ------
    ValueError
        If the net is not above nothing, moisture is missing for a shrink, or more is taken off
        than there is.

    Sources
    -------
    [1] Order of the deductions: common practice, no source. Factor: :func:`shrink_factor`.
    """
    if net_mg <= 0 or not 0 <= dockage < 1:
        msg = f"a net of {net_mg} mg with dockage {dockage}"
        raise ValueError(msg)
    if terms.shrink != "none" and (moisture_wb is None or not 0 <= moisture_wb < 1):
        msg = f"a shrink with moisture {moisture_wb}"
        raise ValueError(msg)
    docked = net_mg * max(Fraction(0), dockage - terms.dockage_free)
    left = net_mg - docked
    above = max(Fraction(0), (moisture_wb or Fraction(0)) - terms.base_wb)
    per_part = {
        "none": Fraction(0),
        "dry matter": shrink_factor(terms.base_wb),
        "pencil": terms.pencil * POINTS,
    }[terms.shrink]
    water, handling = left * above * per_part, left * terms.handling
    paid_mg = _nearest(left - water - handling)
    used = tuple(steps)
    price = price_cents100_t + sum(adjust for _, adjust in used)
    if paid_mg <= 0 or price < 0:
        msg = "more is taken off than there is"
        raise ValueError(msg)
    return Settlement(
        net_mg=net_mg,
        dockage_mg=_nearest(docked),
        moisture_mg=_nearest(water),
        handling_mg=_nearest(handling),
        paid_mg=paid_mg,
        price_cents100_t=price_cents100_t,
        steps=used,
        money_cents=_nearest(Fraction(paid_mg * price, MG_T * CENTS100_CENT)),
    )
