"""What was really made, as the record says: batches and flushes with their draws, clean-outs."""

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from typing import Any

from bedstone.desk.folding import folded
from bedstone.desk.plain_values import row_from_plain
from bedstone.desk.record import Record
from bedstone.errors import RecordDamaged, Unknown
from bedstone.ledger.model import Lot, LotKind, Recorded
from bedstone.mill.plan import BatchKind, Finding

__all__ = [
    "BATCH_MADE",
    "BATCH_STARTED",
    "CLEANED_OUT",
    "BatchOnRecord",
    "CleanedOut",
    "MadeBatch",
    "MadeDraw",
    "StartedBatch",
    "batch_from_fact",
    "batches_of_run",
    "clean_outs",
    "made_batch",
    "made_batches",
    "new_run",
    "run_of_order",
    "started_batches",
]

BATCH_MADE = "batching.batch_made/1"
BATCH_STARTED = "batching.batch_started/1"
CLEANED_OUT = "cleaning.cleaned_out/1"


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeDraw:
    """One draw as it was booked."""

    sequence: int
    ingredient: str
    from_place: str
    instrument: str
    target_mg: int
    actual_mg: int
    tolerance_mg: int
    lot: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeBatch:
    """A batch or flush that was made."""

    batch: str
    run: str
    plan: str
    kind: BatchKind
    material: str
    formula_version: int | None
    mixer: str
    route: tuple[str, ...]
    destination: str
    draws: tuple[MadeDraw, ...]
    dry_mix_s: float = 0.0
    wet_mix_s: float = 0.0
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchOnRecord:
    """A made batch with when, by whom and at which place of the journal."""

    made: MadeBatch
    happened_at: dt.datetime
    position: int
    by: str

    @property
    def mass_mg(self) -> int:
        """What was really put in."""
        return sum(draw.actual_mg for draw in self.made.draws)

    @property
    def target_mg(self) -> int:
        """What was to be put in."""
        return sum(draw.target_mg for draw in self.made.draws)


@dataclass(frozen=True, slots=True, kw_only=True)
class StartedBatch:
    """A batch that has begun."""

    batch: str
    run: str
    mixer: str
    plan: str
    formula_version: int | None
    happened_at: dt.datetime
    position: int
    findings: tuple[Finding, ...] = ()  # what the checks noted as it began


@dataclass(frozen=True, slots=True, kw_only=True)
class CleanedOut:
    """Places that were cleaned by hand."""

    places: tuple[str, ...]
    before_batch: str
    reason: str
    happened_at: dt.datetime
    position: int


@dataclass(frozen=True, slots=True)
class _Made:
    batches: Mapping[str, BatchOnRecord] = field(default_factory=dict)
    started: Mapping[str, StartedBatch] = field(default_factory=dict)
    cleaned: tuple[CleanedOut, ...] = ()


def _note(before: _Made, facts: Iterable[Recorded]) -> _Made:
    batches, started = dict(before.batches), dict(before.started)
    cleaned = list(before.cleaned)
    for item in facts:
        try:
            match item.fact.kind:
                case kind if kind == BATCH_MADE:
                    made = batch_from_fact(item)
                    batches[made.made.batch] = made
                case kind if kind == BATCH_STARTED:
                    begun = _begun(item)
                    started[begun.batch] = begun
                case _:
                    cleaned.append(_cleaned(item))
        except (KeyError, TypeError, ValueError) as error:
            raise RecordDamaged(
                f"Fact {item.position} ({item.fact.kind}) does not hold what it must.",
                seen=repr(error)[:80],
                do="bedstone verify DIR",
            ) from error
    return _Made(batches, started, tuple(cleaned))


# Thousands of these are read at a time: they are taken as the desk wrote them, field by field.
def batch_from_fact(item: Recorded) -> BatchOnRecord:
    """A batch as the fact that recorded it says."""
    content: dict[str, Any] = dict(item.fact.content)
    where = f"fact {item.position}"
    content["draws"] = tuple(MadeDraw(**draw) for draw in content["draws"])
    content["findings"] = tuple(
        row_from_plain(Finding, row, where=where) for row in content.get("findings", ())
    )
    content["kind"] = BatchKind(content["kind"])
    content["route"] = tuple(content["route"])
    return BatchOnRecord(
        made=MadeBatch(**content),
        happened_at=item.fact.happened_at,
        position=item.position,
        by=item.fact.by,
    )


def _begun(item: Recorded) -> StartedBatch:
    content: dict[str, Any] = dict(item.fact.content)
    content["findings"] = tuple(
        row_from_plain(Finding, row, where=f"fact {item.position}")
        for row in content.get("findings", ())
    )
    return StartedBatch(**content, happened_at=item.fact.happened_at, position=item.position)


def _cleaned(item: Recorded) -> CleanedOut:
    content: dict[str, Any] = dict(item.fact.content)
    return CleanedOut(
        places=tuple(content["places"]),
        before_batch=content["before_batch"],
        reason=content["reason"],
        happened_at=item.fact.happened_at,
        position=item.position,
    )


def _made(record: Record) -> _Made:
    kinds = (BATCH_MADE, BATCH_STARTED, CLEANED_OUT)
    return folded(record, "made", kinds=kinds, start=_Made(), fold=_note)


def made_batches(record: Record) -> Mapping[str, BatchOnRecord]:
    """Every batch and flush that was made, by its id."""
    return _made(record).batches


def started_batches(record: Record) -> Mapping[str, StartedBatch]:
    """Every batch that has begun, made or not, by its id."""
    return _made(record).started


def clean_outs(record: Record) -> tuple[CleanedOut, ...]:
    """Every clean-out by hand, in order of the journal."""
    return _made(record).cleaned


def made_batch(record: Record, batch_id: str) -> BatchOnRecord:
    """The batch of an id, as it was made.

    Raises
    ------
    Unknown
        If no such batch was made; near names are offered.
    """
    batches = made_batches(record)
    found = batches.get(batch_id)
    if found is None:
        near = get_close_matches(batch_id, batches, n=3)
        raise Unknown(
            f"No batch {batch_id!r} was made.",
            do=f"did you mean {', '.join(near)}?" if near else "see the plan of the day",
        )
    return found


def run_of_order(order: str) -> str:
    """The run that makes an order."""
    return f"R-{order}"


def batches_of_run(record: Record, run: str) -> tuple[str, ...]:
    """Feed batches of a run that are on record, in order of time."""
    rows = [row for row in made_batches(record).values() if row.made.run == run]
    rows.sort(key=lambda row: (row.happened_at, row.position))
    return tuple(row.made.batch for row in rows if row.made.kind is BatchKind.FEED)


def new_run(record: Record, run: str, product: str) -> tuple[Lot, ...]:
    """The run as a lot, unless an earlier fact made it one."""
    try:
        record.lot(run)
    except Unknown:
        return (Lot(lot=run, kind=LotKind.RUN, material=product),)
    return ()
