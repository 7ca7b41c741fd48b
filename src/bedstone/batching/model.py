"""The values of batching: what lies where, what is to be drawn, what was drawn."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field

from bedstone.mill.plan import Draw, Finding

__all__ = [
    "Arrival",
    "BatchDraws",
    "BatchToDraw",
    "DayDraws",
    "DrawSeen",
    "Layer",
    "Part",
    "Stock",
    "Taking",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """Part of what lies in a bin: one lot. ``lot`` is "" where the lot is not known."""

    lot: str
    mass_mg: int
    since_at: dt.datetime  # when it came into the bin


Stock = Mapping[tuple[str, str], tuple[Layer, ...]]
"""What lies where: (place, material) -> layers, oldest first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A part of what goes into a batch: an ingredient (or a product) and its part of the mass."""

    ingredient: str
    parts_frac: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchToDraw:
    """A batch that needs its draws. A flush has one part, its material."""

    batch: str
    material: str
    mixer: str
    mass_mg: int
    parts: tuple[Part, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrival:
    """Something that comes to lie in a place during the day: feed made earlier, a load."""

    place: str
    material: str
    lot: str
    mass_mg: int
    at: dt.datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Taking:
    """Something that leaves a place during the day, not into a batch: packed, loaded out."""

    place: str
    material: str
    mass_mg: int


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchDraws:
    """The draws of one batch in weighing order, what is wrong with them, the stock after them."""

    batch: str
    draws: tuple[Draw, ...]
    findings: tuple[Finding, ...] = ()
    stock: Stock = field(default_factory=dict)

    @property
    def mass_mg(self) -> int:
        """What the draws add up to."""
        return sum(draw.target_mg for draw in self.draws)


@dataclass(frozen=True, slots=True, kw_only=True)
class DayDraws:
    """The draws of each batch of a day, what is wrong with them, the stock at its end."""

    draws: Mapping[str, tuple[Draw, ...]]
    findings: tuple[Finding, ...]
    stock: Stock


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawSeen:
    """What was really drawn. ``number`` and ``unit`` are as they were read."""

    sequence: int
    actual_mg: int
    number: str = ""
    unit: str = ""
    lot: str | None = None
