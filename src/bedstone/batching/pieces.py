"""Draws of one ingredient: split over bins when one does not hold enough, and over weighings."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from bedstone.batching.instruments import Instrument, Way
from bedstone.batching.model import Stock
from bedstone.batching.stock import held_mg

__all__ = ["Piece", "pieces_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One weighing of an ingredient. ``kind`` is "" for what is dry and large, else a word."""

    ingredient: str
    place: str
    instrument: Instrument
    target_mg: int
    kind: str = ""

    def of_kind(self, kind: str) -> "Piece":
        """The same piece, of a kind: "", "small" or "liquid"."""
        return replace(self, kind=kind)


def pieces_of(
    ways: Sequence[Way], target_mg: int, *, ingredient: str, stock: Stock
) -> tuple[tuple[Piece, ...], int]:
    """Weighings that add up to a target, and what the book has too little.

    The bin with the oldest lot comes first; when it does not hold enough, it is drawn down to the
    last whole division and the next bin gives the rest. No part is smaller than the smallest draw
    worth trusting: dregs stay where they are, or the first bin gives a little less. What no bin
    holds is drawn from the bin that is used first, so that the target stays whole.

    Parameters
    ----------
    ways : sequence of Way
        Best first.
    target_mg : int
        What is drawn. [mg]
    ingredient : str
        Ingredient or product.
    stock : Stock
        What lies where.

    Returns
    -------
    pieces : tuple of Piece
        In the order in which they are drawn.
    missing_mg : int
        What the book holds too little. [mg]
    """
    offers: list[tuple[Instrument, str, int]] = []
    seen: set[str] = set()
    for way in ways:
        for place in way.places:
            if place not in seen:
                held = held_mg(stock, place, material=ingredient)
                offers.append((way.instrument, place, held))
                seen.add(place)
    parts = _split(offers, target_mg)
    missing_mg = max(0, target_mg - sum(held for _tool, _place, held in offers))
    pieces = [
        Piece(ingredient=ingredient, place=place, instrument=tool, target_mg=mass)
        for tool, place, whole in parts
        for mass in _weighings(tool, whole)
    ]
    return tuple(pieces), missing_mg


def _split(
    offers: Sequence[tuple[Instrument, str, int]], target_mg: int
) -> list[tuple[Instrument, str, int]]:
    """What each bin gives."""
    parts: list[tuple[Instrument, str, int]] = []
    left_mg = target_mg
    for at, (tool, place, held) in enumerate(offers):
        rest = offers[at + 1 :]
        give_mg = min(left_mg, tool.mass_mg(tool.whole_steps(held)))
        if give_mg < left_mg and rest:
            smallest = rest[0][0].smallest_mg
            if left_mg - give_mg < smallest:
                give_mg = max(0, tool.mass_mg(tool.whole_steps(left_mg - smallest)))
        if give_mg < left_mg and give_mg < tool.smallest_mg:
            continue  # dregs stay where they are
        if give_mg > 0:
            parts.append((tool, place, give_mg))
            left_mg -= give_mg
        if left_mg <= 0:
            return parts
    if parts:
        tool, place, give_mg = parts[0]
        parts[0] = (tool, place, give_mg + left_mg)
    else:
        tool, place, _held = offers[0]
        parts.append((tool, place, left_mg))
    return parts


def _weighings(tool: Instrument, mass_mg: int) -> list[int]:
    """Fillings of an instrument, equal to a division, the larger ones first. [mg]"""
    times = tool.weighings(mass_mg)
    if times == 1:
        return [mass_mg]
    each, more = divmod(tool.steps(mass_mg), times)
    return [tool.mass_mg(each + (1 if at < more else 0)) for at in range(times)]
