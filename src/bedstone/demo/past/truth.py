"""What only the simulator knows: kept beside the record, never in it, to score detectors with."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field

from bedstone.demo.faults import Fault, Faults
from bedstone.ledger.model import Json

__all__ = ["BadBags", "Sent", "Truth"]


def _text(at: dt.datetime | None) -> str | None:
    return None if at is None else at.astimezone(dt.UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


@dataclass(frozen=True, slots=True, kw_only=True)
class BadBags:
    """Bags of a run that are bad or will be, why, and when their customer will say so.

    ``first_bag`` and ``last_bag`` are numbers within the run; both nought for a bulk load.
    """

    run: str
    product: str
    customer: str
    first_bag: int
    last_bag: int
    what: str
    cause: str
    complaint_at: dt.datetime
    is_recorded: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Sent:
    """A run of pellets that truly left its cooler too warm or too damp."""

    run: str
    line: str
    what: str  # warm or damp
    above_air_dk: float
    moisture_wb: float
    done_at: dt.datetime


@dataclass
class Truth:
    """True flows, analyses and faults of a run of the simulator."""

    faults: Faults
    flows: dict[tuple[str, str], list[int]] = field(default_factory=dict)
    bad_bags: list[BadBags] = field(default_factory=list)
    runs: dict[str, Mapping[str, float]] = field(default_factory=dict)
    lots: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    stock: Mapping[tuple[str, str], int] = field(default_factory=dict)
    sellers: dict[str, float] = field(default_factory=dict)  # what tickets say above the truth
    coolers: Mapping[str, Mapping[str, float]] = field(default_factory=dict)  # their true factors
    sent: list[Sent] = field(default_factory=list)
    doubled: list[str] = field(default_factory=list)
    wrongly_drawn: list[str] = field(default_factory=list)

    def flowed(self, instrument: str, day: str, *, read_mg: int, true_mg: int) -> None:
        """Note what an instrument read and what truly went."""
        sums = self.flows.setdefault((instrument, day), [0, 0])
        sums[0] += read_mg
        sums[1] += true_mg

    def plain(self) -> dict[str, Json]:
        """Everything as plain values, in an order that depends on nothing but the content."""
        return {
            "note": "truth of a simulated mill; not part of the record and read by no check",
            "faults": [_fault(row) for row in self.faults.rows],
            "flows": [
                {"instrument": tool, "day": day, "read_mg": sums[0], "true_mg": sums[1]}
                for (tool, day), sums in sorted(self.flows.items())
            ],
            "bad_bags": [_bags(row) for row in self.bad_bags],
            "coolers": {line: _rounded(self.coolers[line]) for line in sorted(self.coolers)},
            "sent": [_sent(row) for row in self.sent],
            "doubled_in": list(self.doubled),
            "wrongly_drawn_in": list(self.wrongly_drawn),
            "sellers_tickets_over": {firm: self.sellers[firm] for firm in sorted(self.sellers)},
            "lots": {lot: _rounded(self.lots[lot]) for lot in sorted(self.lots)},
            "runs": {run: _rounded(self.runs[run]) for run in sorted(self.runs)},
            "stock": [
                {"place": place, "material": material, "true_mg": mass}
                for (place, material), mass in sorted(self.stock.items())
                if mass
            ],
        }


def _rounded(analysis: Mapping[str, float]) -> dict[str, Json]:
    return {name: round(value, 6) for name, value in sorted(analysis.items())}


def _fault(row: Fault) -> dict[str, Json]:
    return {
        "kind": row.kind.value,
        "where": row.where,
        "size": row.size,
        "begins_at": _text(row.begins_at),
        "ends_at": _text(row.ends_at),
        "other": row.other,
        "cause": row.cause,
    }


def _bags(row: BadBags) -> dict[str, Json]:
    return {
        "run": row.run,
        "product": row.product,
        "customer": row.customer,
        "first_bag": row.first_bag,
        "last_bag": row.last_bag,
        "what": row.what,
        "cause": row.cause,
        "complaint_at": _text(row.complaint_at),
        "is_recorded": row.is_recorded,
    }


def _sent(row: Sent) -> dict[str, Json]:
    return {
        "run": row.run,
        "line": row.line,
        "what": row.what,
        "above_air_dk": round(row.above_air_dk, 2),
        "moisture_wb": round(row.moisture_wb, 4),
        "done_at": _text(row.done_at),
    }
