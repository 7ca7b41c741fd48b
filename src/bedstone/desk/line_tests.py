"""Tests by hand that tell how pellets were made: tumbled pellets, sieved grain and mash."""

import datetime as dt
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from bedstone.desk.checks import must_be_machine
from bedstone.desk.folding import folded
from bedstone.desk.made import made_batches
from bedstone.desk.plain_values import iso, row_from_plain
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.desk.roles import check
from bedstone.errors import BadInput, Unknown
from bedstone.ledger.model import Fact, Json, Recorded
from bedstone.mill.model import Mill
from bedstone.pelleting.durability import TEST_G, Durability, durability
from bedstone.pelleting.particle_size import ParticleSize, particle_size

__all__ = [
    "SIEVED",
    "TUMBLED",
    "DurabilityTest",
    "SieveTest",
    "durability_tests",
    "record_durability",
    "record_sieving",
    "sieve_tests",
    "size_at_um",
]

TUMBLED = "quality.durability_tested/1"
SIEVED = "quality.sieved/1"
MOST_TESTS = 10
MOST_SIEVES = 30
LEAST_G, MOST_G = 50.0, 1000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class DurabilityTest:
    """Pellets of a run tumbled once or several times."""

    run: str
    product: str
    line: str
    retained_g: tuple[float, ...]
    test_g: float
    note: str
    tested_at: dt.datetime
    by: str
    position: int

    @property
    def found(self) -> Durability:
        """The index with its interval."""
        return durability(self.retained_g, test_g=self.test_g)


@dataclass(frozen=True, slots=True, kw_only=True)
class SieveTest:
    """A sample of ground grain or mash on a stack of sieves; the pan's mass is the last."""

    of: str
    machine: str
    openings_um: tuple[float, ...]
    retained_g: tuple[float, ...]
    sample_g: float | None
    note: str
    tested_at: dt.datetime
    by: str
    position: int

    @property
    def found(self) -> ParticleSize:
        """Mean and spread."""
        return particle_size(
            self.openings_um,
            self.retained_g,
            sample_g=self.sample_g,
        )


def durability_tests(
    record: Record, *, run: str = "", line: str = ""
) -> tuple[DurabilityTest, ...]:
    """Tumbling tests in order of time, of one run or line or of all."""

    def note(
        before: tuple[DurabilityTest, ...], facts: Iterable[Recorded]
    ) -> tuple[DurabilityTest, ...]:
        return before + tuple(
            row_from_plain(DurabilityTest, _whole(item), where=f"fact {item.position}")
            for item in facts
        )

    start: tuple[DurabilityTest, ...] = ()
    found = folded(record, "durability tests", kinds=(TUMBLED,), start=start, fold=note)
    rows = [row for row in found if run in ("", row.run) and line in ("", row.line)]
    return tuple(sorted(rows, key=lambda row: (row.tested_at, row.position)))


def sieve_tests(record: Record, *, of: str = "") -> tuple[SieveTest, ...]:
    """Sieve stacks in order of time, of one material or of all."""

    def note(before: tuple[SieveTest, ...], facts: Iterable[Recorded]) -> tuple[SieveTest, ...]:
        return before + tuple(
            row_from_plain(SieveTest, _whole(item), where=f"fact {item.position}") for item in facts
        )

    start: tuple[SieveTest, ...] = ()
    found = folded(record, "sieve tests", kinds=(SIEVED,), start=start, fold=note)
    rows = [row for row in found if of in ("", row.of)]
    return tuple(sorted(rows, key=lambda row: (row.tested_at, row.position)))


def _whole(item: Recorded) -> dict[str, object]:
    return {
        **item.fact.content,
        "tested_at": iso(item.fact.happened_at),
        "by": item.fact.by,
        "position": item.position,
    }


def record_durability(
    record: Record,
    *,
    run: str,
    line: str,
    retained_g: Sequence[float],
    test_g: float = TEST_G,
    note: str = "",
    by: str,
    at: dt.datetime,
) -> Recorded:
    """Record what the sieve kept of tumbled pellets.

    Asks: who may, a run with a batch on record, a pellet line, one test to ten, no more left than
    was put in. Records: ``quality.durability_tested/1``.
    """
    mill = current_mill(record)
    check(mill, by, "readings")
    must_be_machine(mill, line, kind="pellet line")
    product = _product_of(record, run)
    if not LEAST_G <= test_g <= MOST_G or len(retained_g) > MOST_TESTS:
        raise BadInput(
            "A durability test cannot be right.",
            seen=f"{len(retained_g)} tests of {test_g:g} g",
            allowed=f"1 to {MOST_TESTS} tests of {LEAST_G:g} to {MOST_G:g} g, 500 g by the standard",
        )
    durability(retained_g, test_g=test_g)
    content: dict[str, Json] = {
        "run": run,
        "product": product,
        "line": line,
        "retained_g": [float(mass) for mass in retained_g],
        "test_g": float(test_g),
        "note": note.strip(),
    }
    fact = Fact(kind=TUMBLED, happened_at=at, by=by, content=content)
    return record.append(fact, recorded_at=at)


def _product_of(record: Record, run: str) -> str:
    for row in made_batches(record).values():
        if row.made.run == run:
            return row.made.material
    raise Unknown(
        f"No batch of run {run[:40]!r} is on record.",
        allowed="the number of a run, as on its sheet",
        do="look it up under Runs",
    )


def record_sieving(
    record: Record,
    *,
    of: str,
    machine: str = "",
    openings_um: Sequence[float],
    retained_g: Sequence[float],
    sample_g: float | None = None,
    note: str = "",
    by: str,
    at: dt.datetime,
) -> Recorded:
    """Record a sample on a stack of sieves.

    Asks: who may, an ingredient or product, a grinder if one is named, openings from coarse to
    fine, a mass for each and the pan, no more than 5 % lost. Records: ``quality.sieved/1``.
    """
    mill = current_mill(record)
    check(mill, by, "readings")
    if of not in mill.ingredient_by_code and of not in mill.product_by_code:
        raise Unknown(f"There is no ingredient or product {of[:40]!r}.", do="choose from the list")
    if machine:
        must_be_machine(mill, machine, kind="grinder")
    if len(openings_um) > MOST_SIEVES:
        raise BadInput(
            "So many sieves are in no stack.",
            seen=str(len(openings_um)),
            allowed=f"up to {MOST_SIEVES}",
        )
    particle_size(openings_um, retained_g, sample_g=sample_g)
    content: dict[str, Json] = {
        "of": of,
        "machine": machine,
        "openings_um": [float(one) for one in openings_um],
        "retained_g": [float(one) for one in retained_g],
        "sample_g": None if sample_g is None else float(sample_g),
        "note": note.strip(),
    }
    fact = Fact(kind=SIEVED, happened_at=at, by=by, content=content)
    return record.append(fact, recorded_at=at)


def size_at_um(
    mill: Mill, tests: Sequence[SieveTest], product: str, at: dt.datetime
) -> float | None:
    """Particle size of a product's mash at a time, by what was sieved last before it.

    The mash itself if it was sieved; else the geometric mean, by mass, of the ground ingredients of its
    running formula that were. None if none was.
    """
    before = {row.of: row.found.mean_um for row in tests if row.tested_at <= at}
    if product in before:
        return before[product]
    formula = mill.running_formula(product)
    if formula is None:
        return None
    parts = [
        (line.parts_frac, math.log(before[line.ingredient]))
        for line in mill.lines_of(product, formula.version)
        if line.ingredient in before
    ]
    whole = sum(part for part, _ in parts)
    return math.exp(sum(part * size for part, size in parts) / whole) if whole else None
