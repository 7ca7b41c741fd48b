"""Batches on the floor: where each stands, and the acts on them."""

from typing import Literal

from bedstone.desk.clean_out import record_clean_out
from bedstone.desk.holds import held_lots
from bedstone.desk.made import made_batch, made_batches, started_batches
from bedstone.desk.record import Record
from bedstone.desk.record_batch import ActualDraw, BatchRecorded, record_batch
from bedstone.desk.start_batch import start_batch
from bedstone.mill.plan import Plan

__all__ = [
    "ActualDraw",
    "BatchRecorded",
    "Standing",
    "batch_standing",
    "made_batch",
    "record_batch",
    "record_clean_out",
    "start_batch",
]

Standing = Literal["planned", "started", "made", "held"]


def batch_standing(record: Record, plan: Plan) -> dict[str, Standing]:
    """Where each batch of a plan stands, in the order of the plan."""
    made, started, held = made_batches(record), started_batches(record), held_lots(record)

    def standing(batch: str) -> Standing:
        if batch in held:
            return "held"
        if batch in made:
            return "made"
        return "started" if batch in started else "planned"

    return {batch.batch: standing(batch.batch) for batch in plan.batches}
