"""What a plan of a day is: values read by every station, printed on papers, kept as ``plan/1``.

A plan says what should happen. Masses are whole milligrams, money whole hundredths of a cent,
times aware UTC. Batch ids stay the same when a day is planned again.
"""

import datetime as dt
from dataclasses import dataclass, field
from enum import StrEnum

__all__ = [
    "Bar",
    "BarKind",
    "Batch",
    "BatchKind",
    "CleanOut",
    "Costs",
    "Draw",
    "Finding",
    "GrindJob",
    "HeldSubstance",
    "LeftOut",
    "LotShare",
    "Plan",
    "Run",
    "Verdict",
]

MAY_BE_MISSING = {"may_be_missing": True}
"""Mark of a field that plans written before it came do not have: it takes its default then."""


class Verdict(StrEnum):
    """What a check says."""

    GOOD = "good"
    NOTE = "note"  # worth knowing, nothing to do
    ACT = "act"  # somebody must do something
    STOP = "stop"  # must not happen


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """What a check returns: number, limit, where the limit comes from, verdict, what to do.

    ``code`` is stable text such as ``residue.level``; ``about`` names the batch, run, bin or
    instrument; ``value`` and ``limit`` carry their unit in ``unit``.
    """

    code: str
    verdict: Verdict
    about: str
    text: str  # one sentence in the mill's words, numbers with units
    value: float | None = None
    limit: float | None = None
    unit: str = ""
    source: str = ""
    do: str = ""


class BatchKind(StrEnum):
    """What a batch is for."""

    FEED = "feed"
    FLUSH = "flush"


@dataclass(frozen=True, slots=True, kw_only=True)
class LotShare:
    """A lot, and how much of it the flow pattern says will be drawn."""

    lot: str
    mass_mg: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Draw:
    """One thing to weigh, meter or add by hand into a batch, in weighing order."""

    sequence: int  # 1, 2, 3 ... within the batch
    ingredient: str
    from_place: str
    instrument: str  # scale or meter
    how: str  # "weighed", "metered" or "hand"
    target_mg: int
    tolerance_mg: int  # each way
    division_mg: int
    lots: tuple[LotShare, ...] = ()
    caution: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch:
    """One mixer-full: feed of an order, or a flush."""

    batch: str  # stable id, becomes the lot of the batch: "4107-02", or "4107-01-flush"
    kind: BatchKind
    run: str
    material: str  # product, or the flush material
    formula_version: int | None  # None for a flush
    mass_mg: int
    mixer: str
    route: tuple[str, ...]  # machines and bins it really takes, mixer first
    destination: str  # finished bin, or the flush bin
    draws: tuple[Draw, ...]
    dry_mix_s: float
    wet_mix_s: float
    start_at: dt.datetime  # weighing begins
    end_at: dt.datetime  # mixer empty
    reason: str = ""  # why a flush is there: number, limit and source in words
    fate: str = ""  # what becomes of a flush
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """Consecutive batches of one order on one line; its id is the lot number on the tag."""

    run: str  # "R-4107"
    order: str  # "" for feed made for stock, as part of another
    customer: str
    product: str
    formula_version: int
    mass_mg: int
    pack: str  # "bags", "bulk" or "stock"
    bags: int  # 0 unless pack is "bags"
    batches: tuple[str, ...]
    finished_bin: str
    packing_machine: str  # sacking line or load-out; "" for stock
    start_at: dt.datetime
    ready_at: dt.datetime
    due_at: dt.datetime | None
    late_s: float  # 0 if in time
    cost_cents100: int  # ingredients, flushes before it, changeovers and cleaning before it
    price_cents100: int
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class CleanOut:
    """Machines cleaned by hand before a batch."""

    clean_out: str  # stable id: "4107-01-clean"
    before_batch: str
    places: tuple[str, ...]  # machines, bins, and routes as "A>B"
    start_at: dt.datetime
    end_at: dt.datetime
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class GrindJob:
    """Grain to grind so that a ground bin does not run out."""

    job: str  # "G-CORN-1"
    machine: str
    ingredient: str  # what is ground
    makes: str
    from_place: str
    to_place: str
    mass_in_mg: int
    mass_out_mg: int
    start_at: dt.datetime
    end_at: dt.datetime


class BarKind(StrEnum):
    """What a bar on the time axis shows."""

    BATCH = "batch"
    FLUSH = "flush"
    CLEAN_OUT = "clean-out"
    CHANGEOVER = "changeover"
    GRIND = "grind"
    RUN = "run"  # on a pellet line, sacking line or load-out


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """A machine busy from one time to another."""

    machine: str
    kind: BarKind
    about: str  # batch, run, clean-out or grind job
    label: str
    start_at: dt.datetime
    end_at: dt.datetime
    reason: str = ""


BECAUSE = {
    "stock": "not enough on stock",
    "bin": "no bin free",
    "time": "no time left",
    "never": "never on these machines",
    "formula": "its own formula breaks a limit",
    "route": "no way through the mill",
    "size": "too small for the mixer",
    "hand": "taken out by hand",
}
"""Why an order is not in a plan, in the words of pages, papers and terminal."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut:
    """An order that is not in the plan, and why."""

    order: str
    product: str
    mass_mg: int
    because: str  # one of BECAUSE
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldSubstance:
    """What one machine, bin or route ("A>B") holds of one substance before the first batch.

    ``passed_mg`` is what has passed since the last material that contains the substance, None if
    there never was any (or it was cleaned out since); ``known`` is False where the record is
    silent and the worst that the mill handles is taken. ``ever_handled`` says that the record has
    seen it there, however long ago: no flush and no clean-out takes that away.
    """

    place: str
    substance: str
    concentration_mg_kg: float
    passed_mg: int | None
    known: bool
    left_by: str = ""  # material that brought it
    ever_handled: bool = field(default=False, metadata=MAY_BE_MISSING)


@dataclass(frozen=True, slots=True, kw_only=True)
class Costs:
    """What a plan costs beside its ingredients, and its ingredients."""

    ingredients_cents100: int
    flush_cents100: int
    changeover_cents100: int
    clean_out_cents100: int
    late_cents100: int  # weighed lateness, not paid to anybody
    flush_mg: int
    flushes: int
    clean_outs: int
    changeover_s: float
    # no order of running of the same runs costs less; 0 where that was not reckoned
    least_possible_cents100: int = field(default=0, metadata=MAY_BE_MISSING)

    @property
    def running_cents100(self) -> int:
        """What the order of running can change: flushes, changeovers, cleaning, lateness."""
        return (
            self.flush_cents100
            + self.changeover_cents100
            + self.clean_out_cents100
            + self.late_cents100
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """The plan of one day (``plan/1``)."""

    plan: str  # id: "P-2026-11-25-3f9a1c", made from the content
    day: dt.date
    made_at: dt.datetime
    revision: int
    position: int  # of the journal when the plan was made
    head: str  # of the journal when the plan was made
    seed: int
    status: str  # "proposed", or "refused" when the verifier says no
    runs: tuple[Run, ...]
    batches: tuple[Batch, ...]  # in order of start on their mixer, all mixers merged by time
    clean_outs: tuple[CleanOut, ...]
    grinding: tuple[GrindJob, ...]
    bars: tuple[Bar, ...]
    left_out: tuple[LeftOut, ...]
    starting: tuple[HeldSubstance, ...]
    costs: Costs
    as_orders_came: Costs | None  # the same orders run in the order in which they came
    findings: tuple[Finding, ...] = ()  # of the verifier and of the plan as a whole
    format: str = field(default="plan/1")
