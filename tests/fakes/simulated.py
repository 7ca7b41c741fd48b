"""The demo's past run in a test, with or without faults, beside its truth."""

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass, replace

from bedstone.demo.faults import Fault, FaultKind, Faults
from bedstone.demo.past.truth import Truth
from bedstone.demo.quillback import quillback_folder
from bedstone.demo.quillback.demand import DEMANDS, LEAVE_KG
from bedstone.demo.simulator import NOTHING_WRONG, Past, Scenario
from bedstone.ledger.model import Fact

DAY = dt.date(2026, 11, 26)
FOLDER = quillback_folder(DAY)
MILL = FOLDER.mill
MG_KG = 1_000_000
START = dt.datetime(2026, 10, 22, 5, tzinfo=dt.UTC)


@dataclass(frozen=True)
class Ran:
    """A past with its truth."""

    past: Past
    facts: list[Fact]

    @property
    def truth(self) -> Truth:
        """What the simulator knows."""
        return self.past.truth


def run(scenario: Scenario = NOTHING_WRONG, *, seed: int = 0, days: int = 35) -> Ran:
    """So many days of the demo's past under a scenario."""
    past = Past(MILL, FOLDER.opening_stock, seed=seed, scenario=scenario)
    first = DAY - dt.timedelta(days=35)
    facts = past.run(first, days=days, demands=DEMANDS, leave_kg=LEAVE_KG)
    return Ran(past, list(facts))


def with_fault(kind: FaultKind, where: str, size: float, **more: object) -> Scenario:
    """A scenario of one fault from the third day on."""
    fault = Fault(kind=kind, where=where, size=size, begins_at=START + dt.timedelta(days=3))
    return Scenario(faults=Faults((replace(fault, **more),)))  # type: ignore[arg-type]


def draws(facts: list[Fact]) -> Iterator[tuple[Fact, dict[str, object]]]:
    """Every draw of every batch and flush."""
    for fact in facts:
        if fact.kind == "batching.batch_made/1":
            rows = fact.content["draws"]
            assert isinstance(rows, list)
            for row in rows:
                assert isinstance(row, dict)
                yield fact, row
