"""Tests by hand that tell how pellets were made: tumbled pellets, sieved grain and mash."""

import datetime as dt
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from bedstone.desk.checks import must_be_machine
from bedstone.desk.folding import folded
from bedstone.desk.line_model import lines_of_product
from bedstone.desk.made import made_batches
from bedstone.desk.plain_values import iso, row_from_plain
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.desk.roles import check
from bedstone.errors import BadInput, Unknown
from bedstone.ledger.model import Fact, Json, Recorded
from bedstone.mill.cells import near_words
from bedstone.mill.model import Mill
from bedstone.pelleting.durability import TEST_G, Durability, Repeats, durability, repeats_of
from bedstone.pelleting.particle_size import ParticleSize, particle_size

__all__ = [
    "SIEVED",
    "TUMBLED",
    "DurabilityTest",
    "SieveTest",
    "Sizes",
    "durability_fact",
    "durability_tests",
    "mill_repeats",
    "record_durability",
    "record_sieving",
    "run_products",
    "sieve_tests",
    "sieving_fact",
    "size_at_um",
    "sizes_of",
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
    def index(self) -> float:
        """The index in per cent, the mean of its tumblings."""
        return 100 * sum(self.retained_g) / len(self.retained_g) / self.test_g

    def found_by(self, repeats: Repeats | None = None) -> Durability:
        """The index with its interval, by how far the mill's own repeats lie apart."""
        return durability(self.retained_g, test_g=self.test_g, repeats=repeats)


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


def mill_repeats(tests: Iterable[DurabilityTest]) -> Repeats:
    """How far repeats of the tumbling test lie apart in this mill, in points."""
    return repeats_of((row.retained_g, row.test_g) for row in tests)


def record_durability(
    record: Record,
    *,
    run: str,
    line: str,
    retained_g: Sequence[float],
    test_g: float = TEST_G,
    note: str = "",
    tested_at: dt.datetime | None = None,
    by: str,
    at: dt.datetime,
) -> Recorded:
    """Record what the sieve kept of tumbled pellets.

    Asks: who may, a run with a batch on record, a pellet line of its product, one test to ten, no
    more left than was put in, not ahead of now. Records: ``quality.durability_tested/1``.
    """
    fact = durability_fact(
        record,
        products=run_products(record),
        run=run,
        line=line,
        retained_g=retained_g,
        test_g=test_g,
        note=note,
        by=by,
        tested_at=tested_at or at,
        at=at,
    )
    return record.append(fact, recorded_at=at)


def run_products(record: Record) -> Mapping[str, str]:
    """What each run with a batch on record made."""
    return {row.made.run: row.made.material for row in made_batches(record).values()}


def durability_fact(
    record: Record,
    *,
    products: Mapping[str, str],
    run: str,
    line: str,
    retained_g: Sequence[float],
    test_g: float,
    note: str,
    by: str,
    tested_at: dt.datetime,
    at: dt.datetime,
) -> Fact:
    """The fact of a tumbling test, if it can be taken; ``products`` are those of the runs."""
    mill = current_mill(record)
    check(mill, by, "readings")
    must_be_machine(mill, line, kind="pellet line")
    if run not in products:
        raise Unknown(
            f"No batch of run {run[:40]!r} is on record.",
            allowed="the number of a run, as on its sheet",
            do="look it up under Runs",
        )
    product = products[run]
    lines = lines_of_product(mill, product) if product in mill.product_by_code else ()
    if line not in lines:
        raise BadInput(
            f"Run {run} does not go over this line.",
            seen=f"{line}, for {mill.name_of(product)}",
            allowed=", ".join(lines) or "no pellet line: it is not pelleted",
        )
    if not LEAST_G <= test_g <= MOST_G or len(retained_g) > MOST_TESTS:
        raise BadInput(
            "A durability test cannot be right.",
            seen=f"{len(retained_g)} tests of {test_g:g} g",
            allowed=f"1 to {MOST_TESTS} tests of {LEAST_G:g} to {MOST_G:g} g, 500 g by the standard",
        )
    durability(retained_g, test_g=test_g)
    _not_ahead(tested_at, at)
    content: dict[str, Json] = {
        "run": run,
        "product": product,
        "line": line,
        "retained_g": [float(mass) for mass in retained_g],
        "test_g": float(test_g),
        "note": note.strip(),
    }
    return Fact(kind=TUMBLED, happened_at=tested_at, by=by, content=content)


def _not_ahead(tested_at: dt.datetime, at: dt.datetime) -> None:
    if tested_at > at:
        raise BadInput("A test is not made ahead of now.", seen=iso(tested_at), allowed="up to now")


def record_sieving(
    record: Record,
    *,
    of: str,
    machine: str = "",
    openings_um: Sequence[float],
    retained_g: Sequence[float],
    sample_g: float | None = None,
    note: str = "",
    tested_at: dt.datetime | None = None,
    by: str,
    at: dt.datetime,
) -> Recorded:
    """Record a sample on a stack of sieves.

    Asks: who may, an ingredient or product, a grinder if one is named, openings from coarse to
    fine, a mass for each and the pan, no more than 5 % lost, not ahead of now. Records:
    ``quality.sieved/1``.
    """
    fact = sieving_fact(
        record,
        of=of,
        machine=machine,
        openings_um=openings_um,
        retained_g=retained_g,
        sample_g=sample_g,
        note=note,
        by=by,
        tested_at=tested_at or at,
        at=at,
    )
    return record.append(fact, recorded_at=at)


def sieving_fact(
    record: Record,
    *,
    of: str,
    machine: str,
    openings_um: Sequence[float],
    retained_g: Sequence[float],
    sample_g: float | None,
    note: str,
    by: str,
    tested_at: dt.datetime,
    at: dt.datetime,
) -> Fact:
    """The fact of a sample on a stack of sieves, if it can be taken."""
    mill = current_mill(record)
    check(mill, by, "readings")
    if of not in mill.ingredient_by_code and of not in mill.product_by_code:
        known = [*mill.ingredient_by_code, *mill.product_by_code]
        raise Unknown(
            f"There is no ingredient or product {of[:40]!r}.",
            allowed="a code of the ingredients or of the products",
            do=near_words(of, known) or "look it up in the tables",
        )
    if machine:
        must_be_machine(mill, machine, kind="grinder")
    if len(openings_um) > MOST_SIEVES:
        raise BadInput(
            "So many sieves are in no stack.",
            seen=str(len(openings_um)),
            allowed=f"up to {MOST_SIEVES}",
        )
    particle_size(openings_um, retained_g, sample_g=sample_g)
    _not_ahead(tested_at, at)
    content: dict[str, Json] = {
        "of": of,
        "machine": machine,
        "openings_um": [float(one) for one in openings_um],
        "retained_g": [float(one) for one in retained_g],
        "sample_g": None if sample_g is None else float(sample_g),
        "note": note.strip(),
    }
    return Fact(kind=SIEVED, happened_at=tested_at, by=by, content=content)


Sizes = Sequence[tuple[dt.datetime, str, float]]


def sizes_of(record: Record) -> Sizes:
    """When what was sieved, and its geometric mean [um], in order of time."""
    return [(row.tested_at, row.of, row.found.mean_um) for row in sieve_tests(record)]


def size_at_um(mill: Mill, sizes: Sizes, product: str, at: dt.datetime) -> float | None:
    """Particle size of a product's mash at a time, by what was sieved last before it.

    The mash itself if it was sieved; else the geometric mean, by mass, of the ground ingredients of its
    running formula that were. None if none was.
    """
    before = {of: mean_um for tested_at, of, mean_um in sizes if tested_at <= at}
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
