"""What to buy: when stock runs out by the use that is coming, when to order, how many trucks."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

from bedstone.errors import BadInput

__all__ = ["Buy", "Delivery", "Terms", "days_of_cover", "what_to_buy"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Terms:
    """How a material is bought; ``odds_frac`` that stock lasts until the truck comes.

    ``holds_kg`` is what all of its bins hold together, None where nobody knows; ``ground_kg`` of
    the stock lies elsewhere, as the ground grain that it is made into.
    """

    lead_days: int
    truck_kg: float
    safety_days: float
    cover_days: int
    odds_frac: float = 0.95
    holds_kg: float | None = None
    ground_kg: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Delivery:
    """Trucks that come on one day, counted from today; a load that is less than a truck is a part."""

    in_days: int
    trucks: int
    mass_kg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Buy:
    """What to do about one material. Days count from today, 0 is today.

    ``order_in_days`` is None when nothing need be ordered within the days looked at; below 0 it is
    late already, by so many days.
    ``deliveries`` are the trucks as the bins have room for them, within the days looked at; the
    first of them is what to order now. ``wanted_trucks`` are what the days to cover ask for.
    """

    order_in_days: int | None
    deliveries: tuple[Delivery, ...]
    wanted_trucks: int
    safety_kg: float
    cover_days: float | None

    @property
    def first(self) -> Delivery | None:
        """What to order now; None if that is nothing."""
        return self.deliveries[0] if self.deliveries else None


def days_of_cover(stock_kg: float, use_kg: Sequence[float]) -> float | None:
    """Days that stock lasts for by the use of each day to come.

    Parameters
    ----------
    stock_kg : float
        Stock this morning. [kg]
    use_kg : sequence of float
        Use of each day, today first. [kg]

    Returns
    -------
    days : float or None
        Days and part of a day; None if it outlasts the days given.
    """
    left = max(0.0, stock_kg)
    for day, use in enumerate(use_kg):
        if use > left:
            return day + left / use
        left -= use
    return None


def what_to_buy(stock_kg: float, use_kg: Sequence[float], *, use_sd_kg: float, terms: Terms) -> Buy:
    """The last day to order, and full trucks for the days an order should last.

    Trucks come as the bins have room: on the day they must be there as many as fit, the others
    on later days that would end below the safety stock, each as soon as it fits. A truck that is
    more than the bins hold is a part load of what they have room for.

    Parameters
    ----------
    stock_kg : float
        Stock this morning, with what is on its way. [kg]
    use_kg : sequence of float
        Expected use of each day, today first; more days than lead time. [kg]
    use_sd_kg : float
        Standard deviation of the use of one day; days count as independent. [kg]
    terms : Terms
        Lead time, truck, safety.

    Returns
    -------
    buy : Buy
        Nothing to order is no day and no truck.

    Raises
    ------
    BadInput
        If fewer days are given than the lead time has.

    Sources
    -------
    [1] Order point with normal use over the lead time, z sd sqrt(lead): common practice, from
        memory. The larger of it and the days of safety counts.
    """
    if len(use_kg) <= terms.lead_days:
        raise BadInput(
            "Too few days are looked at.",
            seen=f"{len(use_kg)} days",
            allowed=f"more than the lead time of {terms.lead_days} days",
        )
    z = NormalDist().inv_cdf(terms.odds_frac)
    mean_kg = sum(use_kg) / len(use_kg)
    safety_kg = max(terms.safety_days * mean_kg, z * use_sd_kg * math.sqrt(terms.lead_days + 1))
    cover = days_of_cover(stock_kg, use_kg)
    below = _first_below(stock_kg, use_kg, safety_kg)
    if below is None:
        return Buy(
            order_in_days=None,
            deliveries=(),
            wanted_trucks=0,
            safety_kg=safety_kg,
            cover_days=cover,
        )
    order_in = below - terms.lead_days
    arrives_in = max(0, order_in) + terms.lead_days
    then_kg = stock_kg - sum(use_kg[:arrives_in])
    wanted_kg = safety_kg + terms.cover_days * mean_kg - max(0.0, then_kg)
    trucks = max(1, math.ceil(wanted_kg / terms.truck_kg - 1e-9))
    return Buy(
        order_in_days=order_in,
        deliveries=_as_they_fit(
            stock_kg, use_kg, trucks=trucks, from_day=arrives_in, safety_kg=safety_kg, terms=terms
        ),
        wanted_trucks=trucks,
        safety_kg=safety_kg,
        cover_days=cover,
    )


def _first_below(stock_kg: float, use_kg: Sequence[float], safety_kg: float) -> int | None:
    """The first day that ends with less than the safety stock."""
    left = stock_kg
    for day, use in enumerate(use_kg):
        left -= use
        if left < safety_kg:
            return day
    return None


def _as_they_fit(
    stock_kg: float,
    use_kg: Sequence[float],
    *,
    trucks: int,
    from_day: int,
    safety_kg: float,
    terms: Terms,
) -> tuple[Delivery, ...]:
    """So many trucks over the days, none before there is room for it."""
    if terms.holds_kg is None:
        return (Delivery(in_days=from_day, trucks=trucks, mass_kg=trucks * terms.truck_kg),)
    load_kg = min(terms.truck_kg, terms.holds_kg)
    fills_kg = terms.holds_kg + terms.ground_kg
    left = max(0.0, stock_kg - sum(use_kg[:from_day]))
    found = []
    for day, use in enumerate(use_kg[from_day:], from_day):
        if trucks and left - use < safety_kg:
            room_kg = min(terms.holds_kg, fills_kg - left)
            now = min(trucks, math.floor(room_kg / load_kg + 1e-9))
            if now > 0:
                found.append(Delivery(in_days=day, trucks=now, mass_kg=now * load_kg))
                trucks, left = trucks - now, left + now * load_kg
        left = max(0.0, left - use)
    return tuple(found)
