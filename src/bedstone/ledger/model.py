"""The values of the record: facts, movements, lots and places. No database here.

Every kilogram is in one place at a time. A movement takes mass out of one place and puts it into
another, so the masses of all places, outside ones included, always add up to nothing.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum

__all__ = [
    "OUTSIDE",
    "Fact",
    "FlowPattern",
    "How",
    "Json",
    "Lot",
    "LotKind",
    "Movement",
    "Reading",
    "Recorded",
    "is_outside",
]

type_json_scalar = str | int | float | bool | None
Json = type_json_scalar | list["Json"] | Mapping[str, "Json"]

OUTSIDE: frozenset[str] = frozenset(
    {
        "supplier",  # supplier/NAME: loads come from here
        "customer",  # customer/NAME: shipments go here
        "opening",  # stock that was there when the record began
        "steam",  # water and steam put in
        "air",  # water and dust that left with air
        "scrap",  # thrown away
        "unaccounted",  # found too much or too little by a count
    }
)
"""Places outside the mill. A place is outside when its first part (before "/") is one of these."""


def is_outside(place: str) -> bool:
    """True when the place lies outside the mill, so that mass in it is not stock."""
    return place.split("/", 1)[0] in OUTSIDE


class How(StrEnum):
    """How the mass of a movement is known."""

    WEIGHED = "weighed"
    METERED = "metered"
    COUNTED = "counted"
    RECKONED = "reckoned"


class LotKind(StrEnum):
    """What a lot is: received, mixed, or a run of consecutive batches of one order on one line."""

    LOAD = "load"
    BATCH = "batch"
    RUN = "run"


class FlowPattern(StrEnum):
    """How what lies in a place comes out of it."""

    MASS = "mass flow"  # first in, first out
    FUNNEL = "funnel flow"  # a core that draws from the top: last in comes out first
    MIXED = "well mixed"  # a stirred tank or a mixer
    SEPARATE = "kept apart"  # a floor of sacks or totes: each lot can be taken alone


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """A reading as it was read from an instrument, before any conversion."""

    number: str
    unit: str
    division: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Movement:
    """Mass that went from one place to another. The mass is whole milligrams and above zero."""

    from_place: str
    to_place: str
    mass_mg: int
    material: str  # code of the ingredient, product or flush material, as it was booked
    how: How
    instrument: str = ""
    seen: Reading | None = None
    target_mg: int | None = None
    mass_sd_mg: int = 0
    lot: str | None = None  # only where it is known: a sack scanned, a tote, a batch, a run


@dataclass(frozen=True, slots=True, kw_only=True)
class Lot:
    """A load, a batch or a run, named by the fact that made it."""

    lot: str
    kind: LotKind
    material: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """Something that happened. Stable name and version, when, by whom, content, movements, lots.

    ``kind`` is stable text such as ``receiving.load_accepted/1``, never a Python path.
    ``content`` holds plain JSON values; numbers must be finite.
    """

    kind: str
    happened_at: datetime
    by: str
    content: Mapping[str, Json] = field(default_factory=dict)
    movements: tuple[Movement, ...] = ()
    lots: tuple[Lot, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Recorded:
    """A fact as the record keeps it.

    ``position`` counts from 1 without gaps, ``text`` is the canonical text as written (it holds
    position, recorded_at and the whole fact), ``head`` is the chain's hash up to and with it.
    """

    position: int
    recorded_at: datetime
    fact: Fact
    text: str
    head: str
