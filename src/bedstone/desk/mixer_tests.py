"""Tests of a mixer: samples of one batch, and how far they differ."""

import datetime as dt
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from bedstone.desk.checks import must_be_machine
from bedstone.desk.folding import folded
from bedstone.desk.plain_values import iso, row_from_plain
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.desk.roles import check
from bedstone.errors import BadInput
from bedstone.ledger.model import Fact, Recorded
from bedstone.mill.model import Machine

__all__ = [
    "COUNT",
    "MIXER_TESTED",
    "MixerTest",
    "is_mixed_in_full",
    "mixer_tests",
    "record_mixer_test",
]

MIXER_TESTED = "quality.mixer_tested/1"
FEWEST, MOST = 3, 200
LONGEST_S = 3_600.0
COUNT = "count"


@dataclass(frozen=True, slots=True, kw_only=True)
class MixerTest:
    """Results of samples of one batch, of a tracer or a nutrient."""

    mixer: str
    product: str
    batch: str
    tracer: str
    method: str
    values: tuple[float, ...]
    unit: str
    mixing_s: float
    tested_at: dt.datetime
    by: str
    position: int


def mixer_tests(record: Record, mixer: str | None = None) -> tuple[MixerTest, ...]:
    """Tests in order of time, of one mixer or of all."""

    def note(before: tuple[MixerTest, ...], facts: Iterable[Recorded]) -> tuple[MixerTest, ...]:
        return before + tuple(
            row_from_plain(
                MixerTest,
                {
                    **item.fact.content,
                    "tested_at": iso(item.fact.happened_at),
                    "by": item.fact.by,
                    "position": item.position,
                },
                where=f"fact {item.position}",
            )
            for item in facts
        )

    start: tuple[MixerTest, ...] = ()
    found = folded(record, "mixer tests", kinds=(MIXER_TESTED,), start=start, fold=note)
    rows = [row for row in found if mixer in (None, row.mixer)]
    return tuple(sorted(rows, key=lambda row: (row.tested_at, row.position)))


def is_mixed_in_full(mixer: Machine, test: MixerTest) -> bool:
    """Whether a test mixed at least as long as the mixer's dry time in the tables.

    A shorter one is of a series that looks for the time to mix: it says nothing of wear.
    """
    return test.mixing_s >= mixer.dry_mix_s


def record_mixer_test(
    record: Record,
    *,
    mixer: str,
    product: str,
    batch: str = "",
    tracer: str,
    method: str,
    values: Sequence[float],
    unit: str,
    mixing_s: float,
    tested_at: dt.datetime | None = None,
    by: str,
    at: dt.datetime,
) -> Recorded:
    """Record the samples of a mixer test.

    Asks: who may, a mixer, a product, a tracer and method in words, three samples or more, none
    below nothing, whole numbers where particles were counted. Records: ``quality.mixer_tested/1``.
    """
    mill = current_mill(record)
    check(mill, by, "mixer test")
    must_be_machine(mill, mixer, kind="mixer")
    mill.product(product)
    for what, text in (("tracer", tracer), ("method", method), ("unit", unit)):
        if not text.strip():
            raise BadInput(f"Say the {what} of the test.", seen="nothing", allowed="a few words")
    _must_be_samples(values, unit)
    if not 0 < mixing_s <= LONGEST_S:
        raise BadInput(
            "The mixing time cannot be.",
            seen=f"{mixing_s:g} s",
            allowed=f"above 0 and at most {LONGEST_S:g} s",
        )
    fact = Fact(
        kind=MIXER_TESTED,
        happened_at=tested_at or at,
        by=by,
        content={
            "mixer": mixer,
            "product": product,
            "batch": batch,
            "tracer": tracer.strip(),
            "method": method.strip(),
            "values": [float(value) for value in values],
            "unit": unit.strip(),
            "mixing_s": float(mixing_s),
        },
    )
    return record.append(fact, recorded_at=at)


def _must_be_samples(values: Sequence[float], unit: str) -> None:
    if not FEWEST <= len(values) <= MOST:
        raise BadInput(
            "A test has another number of samples.",
            seen=str(len(values)),
            allowed=f"{FEWEST} to {MOST}",
        )
    wrong = [value for value in values if not (math.isfinite(value) and value >= 0)]
    if unit == COUNT:
        wrong += [value for value in values if value != round(value)]
    if wrong:
        raise BadInput(
            "A sample cannot be.",
            seen=f"{wrong[0]:g} {unit}",
            allowed="0 or more; counts are whole",
        )
