"""What the mill's own batching controls weighed, out of their CSV into the record."""

import datetime as dt

from bedstone.batching.import_draws import read_draws
from bedstone.batching.model import DrawSeen
from bedstone.desk.made import started_batches
from bedstone.desk.plans import find_plan
from bedstone.desk.record import Record
from bedstone.desk.record_batch import ActualDraw, BatchRecorded, check_batch, record_batch
from bedstone.desk.revisions import current_mill
from bedstone.ledger.model import Reading

__all__ = ["import_batches"]


def import_batches(
    record: Record,
    plan_id: str,
    text: str,
    *,
    by: str,
    at: dt.datetime,
    file: str = "the controls' CSV",
) -> tuple[BatchRecorded, ...]:
    """Record every batch that the controls' CSV names: those whose beginning is on record in the
    order in which they began, then the others in the order of the file.

    Asks: rows for batches of the plan, columns as ``mill.toml`` names them. Refused when: one of
    them may not be recorded. Everything is read, matched and checked before the first batch is recorded.
    """
    plan = find_plan(record, plan_id).plan
    seen = read_draws(text, plan.batches, mill=current_mill(record), file=file)
    draws = {code: tuple(_actual(draw) for draw in rows) for code, rows in seen.items()}
    for code, actual in draws.items():
        check_batch(record, plan_id, code, actual)
    started = started_batches(record)
    order = sorted(
        draws,
        key=lambda code: (
            code not in started,
            (started[code].happened_at, started[code].position) if code in started else (at, 0),
        ),
    )
    return tuple(record_batch(record, plan_id, code, draws[code], by=by, at=at) for code in order)


def _actual(seen: DrawSeen) -> ActualDraw:
    return ActualDraw(
        sequence=seen.sequence,
        actual_mg=seen.actual_mg,
        seen=Reading(number=seen.number, unit=seen.unit) if seen.number else None,
        lot=seen.lot,
    )
