"""Carry-over from lot to lot: what a machine still holds of earlier lots goes along with later."""

import datetime as dt
import math
from collections.abc import Iterable
from dataclasses import dataclass

from bedstone.mill.model import Mill
from bedstone.mill.residue_places import ResiduePlaces
from bedstone.tracing.model import Degree, LotEdge

__all__ = ["LotPassed", "PlacesCleaned", "carried_over", "left_after_mixing", "left_after_passing"]

MG_IN_KG = 1_000_000
LEAST_FRAC = 1e-6
"""Carry-over below this part of the receiving lot is left out of the graph (1 mg/kg)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LotPassed:
    """A batch or flush that went along a route, mixer first."""

    lot: str
    route: tuple[str, ...]
    mass_mg: int
    happened_at: dt.datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacesCleaned:
    """Places (routes as "A>B") that were cleaned by hand at this point."""

    places: tuple[str, ...]


def left_after_mixing(*, hold_up_kg: float, passed_kg: float) -> float:
    """Part of what a mixer holds of anything that is still there once a batch has gone.

    Parameters
    ----------
    hold_up_kg : float
        What stays in the mixer when it is run empty. [kg]
    passed_kg : float
        Mass of the batch. [kg]

    Returns
    -------
    left_frac : float
        Between nought and one. [kg/kg]

    Examples
    --------
    10 kg left in a mixer and a batch of 990 kg make 1,000 kg, of which 10 kg stay again:

    >>> left_after_mixing(hold_up_kg=10.0, passed_kg=990.0)
    0.01

    Sources
    -------
    [1] Balance of mass over a mixer that mixes evenly; no further source.
    """
    return hold_up_kg / (hold_up_kg + passed_kg)


def left_after_passing(*, hold_up_kg: float, exchange_frac: float, passed_kg: float) -> float:
    """Part of what a place after the mixer holds that is still there once feed has passed.

    Parameters
    ----------
    hold_up_kg : float
        What stays in the place. [kg]
    exchange_frac : float
        How readily it mixes with what passes. [kg/kg]
    passed_kg : float
        What has passed. [kg]

    Returns
    -------
    left_frac : float
        Between nought and one; nought where nothing stays. [kg/kg]

    Sources
    -------
    [1] A hold-up h that exchanges with what passes, dq/dm = -k q / h, so q = q0 exp(-k m / h);
        balance of mass, no further source.
    """
    if hold_up_kg <= 0:
        return 0.0
    return math.exp(-exchange_frac * passed_kg / hold_up_kg)


def carried_over(mill: Mill, passed: Iterable[LotPassed | PlacesCleaned]) -> tuple[LotEdge, ...]:
    """Edges from lots that a machine still held to the lots that took them along.

    Each place keeps the mass of each lot in it; a batch takes part of each along and leaves part
    of itself. What a batch picked up upstream is not followed into the places downstream: the
    trace does that by going from lot to lot.

    Parameters
    ----------
    mill : Mill
        The mill, for its hold-ups.
    passed : iterable of LotPassed or PlacesCleaned
        What ran and what was cleaned, in order of time.

    Returns
    -------
    edges : tuple of LotEdge
        One for each pair of lots, all places together.
    """
    places = ResiduePlaces(mill)
    held: dict[str, dict[str, float]] = {}
    edges: list[LotEdge] = []
    for event in passed:
        if isinstance(event, PlacesCleaned):
            for place in event.places:
                held.pop(place, None)
        else:
            edges.extend(_pass(places, event, held))
    return tuple(edges)


def _pass(
    places: ResiduePlaces, event: LotPassed, held: dict[str, dict[str, float]]
) -> list[LotEdge]:
    """Let a batch go along its route; return what it took along."""
    passed_kg = event.mass_mg / MG_IN_KG
    taken: dict[str, list[tuple[float, str]]] = {}
    if passed_kg <= 0:
        return []
    for number in places.along(event.route):
        place = places.all[number]
        if place.hold_up_kg <= 0:
            continue
        if place.place == event.route[0]:
            left = left_after_mixing(hold_up_kg=place.hold_up_kg, passed_kg=passed_kg)
            stays_kg = passed_kg * left
        else:
            left = left_after_passing(
                hold_up_kg=place.hold_up_kg,
                exchange_frac=place.exchange_frac,
                passed_kg=passed_kg,
            )
            stays_kg = place.hold_up_kg * (1 - left)
        inside = held.setdefault(place.place, {})
        for lot, mass_kg in list(inside.items()):
            taken.setdefault(lot, []).append((mass_kg * (1 - left), place.place))
            inside[lot] = mass_kg * left
            if inside[lot] < LEAST_FRAC * place.hold_up_kg:
                del inside[lot]
        inside[event.lot] = inside.get(event.lot, 0.0) + stays_kg
    return [
        _edge(event, lot, parts, passed_kg=passed_kg)
        for lot, parts in taken.items()
        if lot != event.lot and sum(mass_kg for mass_kg, _ in parts) >= LEAST_FRAC * passed_kg
    ]


def _edge(
    event: LotPassed, lot: str, parts: list[tuple[float, str]], *, passed_kg: float
) -> LotEdge:
    mass_kg = sum(mass_kg for mass_kg, _ in parts)
    return LotEdge(
        from_lot=lot,
        to_lot=event.lot,
        degree=Degree.CARRY_OVER,
        mass_mg=round(mass_kg * MG_IN_KG),
        through=max(parts)[1],
        happened_at=event.happened_at,
        share_frac=min(mass_kg / passed_kg, 1.0),
    )
