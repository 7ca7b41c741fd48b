"""Layers of lots taken out of bins and put into them, for a plan: nominal, by flow pattern."""

import datetime as dt
from collections.abc import Iterable, Sequence

from bedstone.batching.model import Layer, Stock
from bedstone.ledger.model import FlowPattern
from bedstone.mill.plan import LotShare

__all__ = ["add_layers", "held_mg", "oldest_at", "share_out", "take"]

END_OF_TIME = dt.datetime.max.replace(tzinfo=dt.UTC)


def share_out(whole: int, weights: Sequence[float]) -> list[int]:
    """Whole numbers in proportion to weights that add up to the whole (largest remainder).

    Parameters
    ----------
    whole : int
        What is shared out. [1]
    weights : sequence of float
        Weights, not all nought. [1]

    Returns
    -------
    shares : list of int
        One for each weight; equal remainders go to the one that comes first. [1]
    """
    total = sum(weights)
    exact = [whole * weight / total for weight in weights]
    shares = [int(value // 1) for value in exact]
    order = sorted(range(len(exact)), key=lambda at: (shares[at] - exact[at], at))
    missing = whole - sum(shares)
    for at in order[:missing] if missing >= 0 else ():
        shares[at] += 1
    if missing < 0 or missing > len(shares):  # rounding of very large numbers
        largest = max(range(len(shares)), key=shares.__getitem__)
        shares[largest] += whole - sum(shares)
    return shares


def held_mg(stock: Stock, place: str, *, material: str) -> int:
    """Mass of a material in a place. [mg]"""
    return sum(layer.mass_mg for layer in stock.get((place, material), ()))


def oldest_at(stock: Stock, place: str, *, material: str) -> dt.datetime:
    """When the oldest layer of a material came into a place; the end of time if there is none."""
    layers = stock.get((place, material), ())
    return min((layer.since_at for layer in layers), default=END_OF_TIME)


def take(
    layers: Sequence[Layer], mass_mg: int, *, flow: str
) -> tuple[tuple[LotShare, ...], tuple[Layer, ...]]:
    """Shares of the lots that come out, and the layers left, by the bin's flow pattern.

    First in, first out for mass flow and for lots kept apart; last in first for funnel flow; in
    proportion when stirred. Never more than is there.

    Parameters
    ----------
    layers : sequence of Layer
        What lies there, oldest first.
    mass_mg : int
        What is taken. [mg]
    flow : str
        Flow pattern of the bin.

    Returns
    -------
    shares : tuple of LotShare
        In the order in which they come out; a layer of unknown lot gives no share.
    left : tuple of Layer
        Oldest first.
    """
    wanted = min(mass_mg, sum(layer.mass_mg for layer in layers))
    if flow == FlowPattern.MIXED.value and wanted > 0:
        taken = share_out(wanted, [layer.mass_mg for layer in layers])
    else:
        taken = [0] * len(layers)
        order = range(len(layers))
        for at in reversed(order) if flow == FlowPattern.FUNNEL.value else order:
            taken[at] = min(layers[at].mass_mg, wanted - sum(taken))
    pairs = list(zip(layers, taken, strict=True))
    if flow == FlowPattern.FUNNEL.value:
        shares = _shares((layer.lot, mass) for layer, mass in reversed(pairs))
    else:
        shares = _shares((layer.lot, mass) for layer, mass in pairs)
    left = tuple(
        Layer(lot=layer.lot, mass_mg=layer.mass_mg - mass, since_at=layer.since_at)
        for layer, mass in pairs
        if layer.mass_mg > mass
    )
    return shares, left


def _shares(taken: Iterable[tuple[str, int]]) -> tuple[LotShare, ...]:
    """Masses taken, one share a lot, in order."""
    masses: dict[str, int] = {}
    for lot, mass in taken:
        if lot and mass > 0:
            masses[lot] = masses.get(lot, 0) + mass
    return tuple(LotShare(lot=lot, mass_mg=mass) for lot, mass in masses.items())


def add_layers(
    layers: Sequence[Layer], shares: Sequence[tuple[str, int]], *, since_at: dt.datetime
) -> tuple[Layer, ...]:
    """Layers with new ones on top."""
    new = (Layer(lot=lot, mass_mg=mass, since_at=since_at) for lot, mass in shares if mass > 0)
    return (*layers, *new)
