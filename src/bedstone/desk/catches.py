"""Proofs as people do them: catches of a meter, known weights on a scale; judged, then recorded."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from bedstone.batching.liquids import catch_test
from bedstone.desk.checks import must_be_instrument
from bedstone.desk.merged_rows import MG_IN_KG
from bedstone.desk.proofs import ProofPoint, record_proof
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.errors import BadInput, Refused
from bedstone.ledger.model import Recorded
from bedstone.mill.model import Meter, Mill, Scale
from bedstone.mill.tolerances import (
    METER_SOURCE,
    SCALE_SOURCE,
    meter_tolerance_mg,
    scale_tolerance_mg,
)

__all__ = ["FEWEST_CATCHES", "Judged", "judge_proof", "prove"]

FEWEST_CATCHES = 2
FIGURES = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """What known masses say of an instrument before anything is recorded.

    ``factor`` is what its reading is to be multiplied with; of a scale it is of the worst weight.
    """

    factor: float
    factor_sd: float | None
    off_frac: float  # what it shows too much, as part
    allowed_frac: float
    repeats_within_frac: float | None
    passes: bool
    may_adjust: bool  # repeats agree well enough that a factor means something
    why: str
    source: str


def judge_proof(mill: Mill, instrument: str, points: Sequence[ProofPoint]) -> Judged:
    """Judge known masses against what the instrument showed.

    Raises
    ------
    BadInput
        If a meter has fewer than two catches, a scale no weight, or a mass cannot be.
    """
    tool = must_be_instrument(mill, instrument)
    if not points or any(row.reference_mg <= 0 or row.seen_mg <= 0 for row in points):
        raise BadInput(
            "A proof needs known masses, and what the instrument showed of each.",
            seen=f"{len(points)} pairs",
            allowed="two catches or more for a meter, one weight or more for a scale, above 0",
        )
    return _caught(tool, points) if isinstance(tool, Meter) else _weighed(tool, points)


def _caught(meter: Meter, points: Sequence[ProofPoint]) -> Judged:
    if len(points) < FEWEST_CATCHES:
        raise BadInput(
            "One catch does not show whether the meter repeats.",
            seen="1 catch",
            allowed="two catches or more; three are usual",
        )
    mean_mg = round(sum(row.reference_mg for row in points) / len(points))
    division_mg = round(meter.division_kg * MG_IN_KG)
    allowed = meter_tolerance_mg(mean_mg, division_mg, sd_frac=meter.sd_frac) / mean_mg
    found = catch_test(
        [row.seen_mg / MG_IN_KG for row in points],
        [row.reference_mg / MG_IN_KG for row in points],
        tolerance_frac=allowed,
    )
    return Judged(
        factor=found.factor,
        factor_sd=found.factor_sd,
        off_frac=1 / found.factor - 1,
        allowed_frac=allowed,
        repeats_within_frac=found.repeats_within_frac,
        passes=found.passes,
        may_adjust=found.repeats_within_frac <= allowed,
        why=found.why,
        source=METER_SOURCE,
    )


def _weighed(scale: Scale, points: Sequence[ProofPoint]) -> Judged:
    division_mg = round(scale.division_kg * MG_IN_KG)

    def beyond(row: ProofPoint) -> float:
        return abs(row.seen_mg - row.reference_mg) / scale_tolerance_mg(
            row.reference_mg, division_mg
        )

    worst = max(points, key=beyond)
    allowed = scale_tolerance_mg(worst.reference_mg, division_mg) / worst.reference_mg
    off = worst.seen_mg / worst.reference_mg - 1
    passes = beyond(worst) <= 1
    return Judged(
        factor=worst.reference_mg / worst.seen_mg,
        factor_sd=None,
        off_frac=off,
        allowed_frac=allowed,
        repeats_within_frac=None,
        passes=passes,
        may_adjust=True,
        why=""
        if passes
        else f"its worst weight is off by {100 * off:+.2f} %, more than {100 * allowed:.2f} %: have "
        "it set by whoever may, and prove it again",
        source=SCALE_SOURCE,
    )


def prove(
    record: Record,
    instrument: str,
    points: Sequence[ProofPoint],
    *,
    adjusted: bool,
    note: str = "",
    by: str,
    at: dt.datetime,
) -> Recorded:
    """Record a proof as it was judged, the new factor with it where the instrument was adjusted.

    Asks: what :func:`judge_proof` asks. Refused when: a meter was adjusted on catches that do not
    repeat. Records: ``quality.instrument_proved/1``.
    """
    mill = current_mill(record)
    found = judge_proof(mill, instrument, points)
    if adjusted and not found.may_adjust:
        raise Refused(
            "A meter that does not repeat must not be adjusted.",
            seen=found.why,
            do="find the cause, catch again, and adjust on catches that agree",
        )
    return record_proof(
        record,
        instrument=instrument,
        kind="catch test" if instrument in mill.meter_by_code else "test weights",
        points=points,
        adjusted=adjusted,
        factor_after=round(found.factor, FIGURES) if adjusted else 1.0,
        note=note,
        by=by,
        at=at,
    )
