"""What the planner is asked, and what it answers, before the draws are filled in."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field

from bedstone.mill.contents import Lying
from bedstone.mill.model import Mill, Order
from bedstone.mill.plan import (
    Bar,
    Batch,
    CleanOut,
    Costs,
    Finding,
    GrindJob,
    HeldSubstance,
    LeftOut,
    Run,
)

__all__ = ["EMPTY_FRAC", "DayOutcome", "DayProblem", "OrderToMake"]

EMPTY_FRAC = 0.01
"""A finished bin counts as empty below this part of its capacity (and its hold-up): book stock
of a bin that was run empty is seldom exactly nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderToMake:
    """An open order, what of it is still to be made, and the batch numbers it has used up."""

    order: Order
    remaining_mg: int
    batches_used: int = 0  # the next batch of 4107 is 4107-03 when two have been made


@dataclass(frozen=True, slots=True, kw_only=True)
class DayProblem:
    """A day to plan: the mill, what is wanted, what lies where, what the machines hold.

    ``stock_mg`` is book stock of each (place, material). ``starting`` is what machines hold
    before the first batch; places it does not name count as unknown: the worst that the mill
    handles. ``dies`` names the die in each pellet line, ``last_product`` what each machine ran
    last, ``free_at`` until when machines and bins are busy with what has begun, ``batches_used``
    the highest batch number already used of a stem (an order, or feed for stock of this day),
    ``in_force`` the runs of the plan in force with their mixers, in their order, which the answer
    is to beat, ``lying_contents`` what lots of products that go into others contain where they
    lie; all may be left out. ``evaluations`` bounds the orders of running that are
    tried, so that the same problem gives the same plan on any machine.
    """

    mill: Mill
    orders: tuple[OrderToMake, ...]
    stock_mg: Mapping[tuple[str, str], int]
    starting: tuple[HeldSubstance, ...]
    day: dt.date
    now: dt.datetime  # nothing starts before it; aware, UTC
    seed: int = 0
    dies: Mapping[str, str] = field(default_factory=dict)
    last_product: Mapping[str, str] = field(default_factory=dict)
    batches_used: Mapping[str, int] = field(default_factory=dict)
    free_at: Mapping[str, dt.datetime] = field(default_factory=dict)  # machines and bins under way
    in_force: tuple[tuple[str, str], ...] = ()  # ("R-4107", "MX1"), in order of running
    lying_contents: Lying = field(default_factory=dict)  # of products that go into others
    evaluations: int = 20_000


@dataclass(frozen=True, slots=True, kw_only=True)
class DayOutcome:
    """Everything of a plan but its draws, its id and its place in the journal.

    ``batches`` have empty ``draws``; :func:`bedstone.planning.assemble.assemble` puts them in.
    """

    day: dt.date
    seed: int
    runs: tuple[Run, ...]
    batches: tuple[Batch, ...]
    clean_outs: tuple[CleanOut, ...]
    grinding: tuple[GrindJob, ...]
    bars: tuple[Bar, ...]
    left_out: tuple[LeftOut, ...]
    starting: tuple[HeldSubstance, ...]
    costs: Costs
    as_orders_came: Costs | None
    findings: tuple[Finding, ...] = ()
