"""The values of tracing: lots, how one became part of another, what a trace answers."""

import datetime as dt
from dataclasses import dataclass
from enum import StrEnum

__all__ = ["CARRIED_FRAC", "Degree", "LotEdge", "Trace", "TraceLink", "TracedLot"]

CARRIED_FRAC = 1e-4
"""Carry-over is traced down to this part of a lot unless asked otherwise (100 mg/kg)."""


class Degree(StrEnum):
    """How surely one lot is in another."""

    CERTAIN = "certain"
    POSSIBLE = "possible"
    CARRY_OVER = "carry-over"


@dataclass(frozen=True, slots=True, kw_only=True)
class TracedLot:
    """A lot, or a firm at the end of a trace ("supplier/FIRM", "customer/FIRM")."""

    lot: str
    kind: str  # "load", "batch", "run", "supplier" or "customer"
    material: str
    made_at: dt.datetime | None = None
    mass_mg: int = 0  # all that was made of it, nought where nothing says so


@dataclass(frozen=True, slots=True, kw_only=True)
class LotEdge:
    """One lot that went into another, or came from or went to a firm.

    ``mass_mg`` is nominal, None where only possible without a nominal share; ``share_frac`` is
    the part of the receiving lot that carry-over makes up, 1 for anything but carry-over.
    """

    from_lot: str
    to_lot: str
    degree: Degree
    mass_mg: int | None
    through: str
    happened_at: dt.datetime
    share_frac: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class TraceLink:
    """A lot that a trace reached, by way of the lot ``from_lot`` one step nearer to the start.

    ``degree`` is that of the surest way from the start through this step: certain only if every
    step is. ``share_frac`` multiplies the parts that carry-over makes up along it, 1 if there is
    none. For a firm at the end, name, address and telephone stand with it.
    """

    lot: str
    kind: str
    material: str
    degree: Degree
    mass_mg: int | None
    through: str
    happened_at: dt.datetime
    depth: int
    firm: str | None
    from_lot: str
    share_frac: float = 1.0
    firm_name: str = ""
    address: str = ""
    phone: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Trace:
    """Where a lot came from and where it went; nearest first, the surest way first."""

    lot: str
    kind: str
    material: str
    made_at: dt.datetime | None
    mass_mg: int
    back: tuple[TraceLink, ...]
    forward: tuple[TraceLink, ...]
    carried_frac: float = CARRIED_FRAC
