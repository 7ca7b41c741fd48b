"""The plan of a day, from orders to a timetable: what a station hands to the desk."""

import dataclasses
from collections.abc import Callable
from dataclasses import dataclass, field

from bedstone.errors import BadInput
from bedstone.mill.plan import Costs, LeftOut
from bedstone.mill.residue import Residue
from bedstone.planning.between import Between
from bedstone.planning.bound import least_cost
from bedstone.planning.evaluate import Costing, Evaluator, Item, Step
from bedstone.planning.floor import floor_of, opening_state
from bedstone.planning.jobs import Job
from bedstone.planning.model import DayOutcome, DayProblem
from bedstone.planning.orders_in import DayWork, left_out_of, work_of
from bedstone.planning.outcome import costs_of, parts_of
from bedstone.planning.paths import Paths
from bedstone.planning.reasons import why_left_out
from bedstone.planning.sequence import Order, in_order_of, search

__all__ = ["OpenDay", "open_day", "outcome_of", "plan_runs"]


@dataclass(frozen=True, slots=True, eq=False)
class OpenDay:
    """A day ready to be planned: what is to be made of its orders, and who reckons it."""

    problem: DayProblem
    paths: Paths
    work: DayWork
    evaluator: Evaluator
    came: dict[frozenset[tuple[str, str]], Costs | None] = field(default_factory=dict)
    """What runs on these mixers cost in the order in which they came: the same however they run."""
    least: dict[frozenset[str], int] = field(default_factory=dict)
    """What these runs cost at least, likewise."""


def open_day(problem: DayProblem) -> OpenDay:
    """Orders cut into runs, and the floor, residue and costs by which orders of running are judged.

    Raises
    ------
    BadInput
        If the time is without a zone.
    """
    if problem.now.tzinfo is None:
        raise BadInput("A plan needs a time with its zone.", seen=str(problem.now))
    paths = Paths(problem.mill)
    work = work_of(problem, paths)
    return OpenDay(problem, paths, work, _evaluator(problem, work, paths, has_overtime=False))


def plan_runs(
    problem: DayProblem, *, keep_going: Callable[[float], bool] | None = None
) -> DayOutcome:
    """Runs, batches, flushes and times of the day, and what is left out of it and why.

    Parameters
    ----------
    problem : DayProblem
        The mill, the orders, what lies where, and what the machines hold.
    keep_going : callable, optional
        Asked now and then, with what the best order so far costs (an order that finds no place
        counts far more than a day costs), whether to look for a better one. A first safe order is
        always looked for. What depends on a clock is for the caller to say. [0.0001 USD]

    Returns
    -------
    outcome : DayOutcome
        Everything of a plan but its draws.

    Raises
    ------
    BadInput
        If the time is without a zone.
    """
    day = open_day(problem)
    order = search(
        day.evaluator,
        day.work.jobs,
        evaluations=problem.evaluations,
        seed=problem.seed,
        also=_as_came([(job, job.options[0]) for job in day.work.jobs]),
        in_force=_in_force(problem, day.work),
        keep_going=keep_going,
    )
    return outcome_of(day, order)


def outcome_of(day: OpenDay, order: Order, *, held_against: bool = True) -> DayOutcome:
    """What an order of running becomes: everything of a plan but its draws.

    What it is ``held_against`` - the least that these runs can cost, and their cost in the order
    in which they came - is worked out anew for each set of runs, and takes most of a second.
    """
    problem, evaluator = day.problem, day.evaluator
    costs = costs_of(evaluator, order)
    if held_against:
        costs = dataclasses.replace(costs, least_possible_cents100=_least_cents100(day, order))
    parts = parts_of(evaluator, order)
    return DayOutcome(
        day=problem.day,
        seed=problem.seed,
        runs=tuple(parts.runs),
        batches=tuple(parts.batches),
        clean_outs=tuple(parts.clean_outs),
        grinding=tuple(parts.grinding),
        bars=tuple(parts.bars),
        left_out=_left_out(problem, evaluator, work=day.work, order=order),
        starting=evaluator.residue.to_held(evaluator.opening.residue),
        costs=costs,
        as_orders_came=_costs_as_came(day, order) if held_against else None,
    )


def _evaluator(
    problem: DayProblem, work: DayWork, paths: Paths, *, has_overtime: bool
) -> Evaluator:
    residue = Residue(problem.mill)
    opening = Step(
        opening_state(problem, work, has_overtime=has_overtime),
        residue.from_held(problem.starting),
        Costing(),
        None,
    )
    return Evaluator(
        floor_of(problem, work, has_overtime=has_overtime),
        residue,
        Between(problem.mill, residue, paths),
        opening,
    )


def _in_force(problem: DayProblem, work: DayWork) -> list[Item]:
    """What is left of the plan in force: its runs in its order, on its mixers."""
    jobs = {job.run: job for job in work.jobs}
    return [
        (job, next((option for option in job.options if option.mixer == mixer), job.options[0]))
        for run, mixer in dict(problem.in_force).items()
        if (job := jobs.get(run)) is not None
    ]


def _as_came(items: list[Item]) -> list[Item]:
    """Runs in the order in which their orders came, feed for stock before what needs it."""
    stock = [item for item in items if item[0].order is None]
    ordered = sorted(
        (item for item in items if item[0].order is not None),
        key=lambda item: _came(item[0]),
    )
    came: list[Item] = []
    for item in ordered:
        _with_stock(item, stock, came)
    return came


def _with_stock(item: Item, stock: list[Item], came: list[Item]) -> None:
    for other in list(stock):
        if other[0].product.product in item[0].parts:
            stock.remove(other)
            _with_stock(other, stock, came)
    came.append(item)


def _came(job: Job) -> tuple[float, str]:
    return (job.order.entered_at.timestamp(), job.order.order) if job.order else (0.0, job.run)


def _costs_as_came(day: OpenDay, order: Order) -> Costs | None:
    """What the same orders would cost in the order in which they came, with overtime if need be."""
    if not order.items:
        return None
    runs = frozenset((job.run, option.mixer) for job, option in order.items)
    if runs not in day.came:
        evaluator = _evaluator(day.problem, day.work, day.paths, has_overtime=True)
        items = sorted(order.items, key=lambda item: item[0].rank)
        came = in_order_of(evaluator, _as_came(items))
        day.came[runs] = costs_of(evaluator, came) if came is not None else None
    return day.came[runs]


def _least_cents100(day: OpenDay, order: Order) -> int:
    """What no order of running of the same runs can undercut."""
    jobs = [job for job, _ in order.items]
    runs = frozenset(job.run for job in jobs)
    if runs not in day.least:
        day.least[runs] = least_cost(day.evaluator, jobs).total_cents100
    return day.least[runs]


def _left_out(
    problem: DayProblem, evaluator: Evaluator, *, work: DayWork, order: Order
) -> tuple[LeftOut, ...]:
    left_out = list(work.left_out)
    rows = {row.order.order: row for row in problem.orders}
    end = order.steps[-1] if order.steps else evaluator.opening
    inside = {job.product.product: (job, why) for job, why in order.out if job.order is None}
    for job, reason in order.out:
        if job.order is None:
            continue
        about = work.shelves.material(reason.about)
        blamed = inside.get(about) if reason.because == "stock" else None
        because, text = why_left_out(evaluator.floor, end, *(blamed or (job, reason)))
        if blamed is not None:
            name = problem.mill.name_of(about)
            text = f"{name} goes into it, and cannot be made first: {text}"
        left_out.append(left_out_of(rows[job.order.order], because, text))
    left_out.sort(key=lambda row: row.order)
    return tuple(
        dataclasses.replace(row, text=row.text[:1].upper() + row.text[1:] + ".") for row in left_out
    )
