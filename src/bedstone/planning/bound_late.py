"""The least lateness that a day's runs can have, whatever their order.

Each run by itself cannot be ready before it has been mixed and has gone its way on an empty floor
without changeovers, flushes or waiting for grain. Together they cannot be mixed (pelleted, packed)
faster than the machines of a kind work: runs are cut into pieces, and pieces put into the time of the
machines where they count least. A piece put into a time says that its run cannot be ready before
that time, what is left of it then, and its way after it.

Sources
-------
[1] Gelders, Kleindorfer, Coordinating aggregate and detailed scheduling decisions in the one-machine
    job shop, Operations Research 22 (1974): pieces of jobs in a transport problem as a lower bound
    of weighted tardiness; from memory.
"""

import dataclasses
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bedstone.planning.between import Treatment
from bedstone.planning.evaluate import CENTS100_USD, Evaluator
from bedstone.planning.floor import DoesNotFit
from bedstone.planning.jobs import Job, Option
from bedstone.planning.timetable import place

__all__ = ["earliest_ready_s", "least_late_cents100"]

PIECE_S = 300
HOUR_S = 3600.0
TOO_LATE = 1e15
STAGES = (("mixer",), ("pellet line",), ("sacking line", "load-out"))

Way = tuple[Option, tuple[str, ...]]


@dataclass(frozen=True, slots=True, eq=False)
class _Work:
    """A run at one kind of machine: where it can be worked, for how long at least, what follows."""

    job: Job
    machines: frozenset[str]
    worked_s: float
    head_s: float  # cannot reach the machine before
    tail_s: float  # cannot be ready sooner after it
    alone_cents100: float


def least_late_cents100(evaluator: Evaluator, jobs: Sequence[Job]) -> float:
    """What lateness costs at least, for all runs together.

    Parameters
    ----------
    evaluator : Evaluator
        The day.
    jobs : sequence of Job
        The runs that are to be made in it.

    Returns
    -------
    late_cents100 : float
        No order of running has less. [0.0001 USD]
    """
    due = [job for job in jobs if job.order is not None]
    alone = {job.run: _alone_cents100(evaluator, job) for job in due}
    least = sum(alone.values())
    for kinds in STAGES:
        there, others_cents100 = [], 0.0
        for job in due:
            work = _work_at(evaluator, job, kinds, alone[job.run])
            if work is None or work.worked_s < PIECE_S:
                others_cents100 += alone[job.run]
            else:
                there.append(work)
        least = max(least, others_cents100 + _together_cents100(evaluator, there))
    return least


def _usd_h(evaluator: Evaluator, job: Job) -> float:
    return job.tonnes * evaluator.floor.mill.settings.late_usd_t_h


def _ways(job: Job) -> Iterator[Way]:
    for option in job.options:
        for path in option.paths:
            yield option, path


def _alone_cents100(evaluator: Evaluator, job: Job) -> float:
    ready_s = earliest_ready_s(evaluator, job)
    late_s = 0 if ready_s is None else max(0, ready_s - job.due_s)
    return late_s / HOUR_S * _usd_h(evaluator, job) * CENTS100_USD


def earliest_ready_s(evaluator: Evaluator, job: Job) -> int | None:
    """When a run could be ready if it were the only one, with everything there; None if never.

    Parameters
    ----------
    evaluator : Evaluator
        The day.
    job : Job
        The run.

    Returns
    -------
    ready_s : int or None
        From midnight; no order of running has it ready sooner. [s]
    """
    bare = dataclasses.replace(job, parts={})
    ready_s: int | None = None
    for option, path in _ways(job):
        state = evaluator.opening.state.copy()
        state.last, state.dies = {}, {}
        try:
            placed = place(
                evaluator.floor,
                state,
                evaluator.between,
                job=bare,
                option=option,
                path=path,
                treatment=Treatment(),
            )
        except DoesNotFit:
            continue
        ready_s = placed.ready_s if ready_s is None else min(ready_s, placed.ready_s)
    return ready_s


def _work_at(
    evaluator: Evaluator, job: Job, kinds: tuple[str, ...], alone_cents100: float
) -> _Work | None:
    """A run at the machines of some kinds; None if it has a way that goes over none of them."""
    machines: set[str] = set()
    found: list[tuple[float, float, float]] = []
    for option, path in _ways(job):
        at = next(
            (number for number, code in enumerate(path) if _kind(evaluator, code) in kinds), None
        )
        if at is None:
            return None
        machines.add(path[at])
        found.append(_times(evaluator, job, option, path=path, at=at))
    worked_s, head_s, tail_s = (min(column) for column in zip(*found, strict=True))
    from_s = max(job.release_s, evaluator.floor.now_s, 0)
    return _Work(job, frozenset(machines), worked_s, from_s + head_s, tail_s, alone_cents100)


def _times(
    evaluator: Evaluator, job: Job, option: Option, *, path: tuple[str, ...], at: int
) -> tuple[float, float, float]:
    """Least time of a run at a place of its way, before it, and of its last batch after it [s]."""
    batch_s = option.proc_s + option.discharge_s
    rest = [code for code in path[max(at, 0) + 1 :] if not evaluator.floor.is_bin(code)]
    last_kg = option.masses_kg[-1]
    tail_s = sum(last_kg / rate for code in rest if (rate := _rate(evaluator, job, code)) > 0)
    if at == 0:
        return float(batch_s * len(option.masses_kg)), 0.0, tail_s
    rate = _rate(evaluator, job, path[at])
    return (sum(option.masses_kg) / rate if rate > 0 else 0.0), float(batch_s), tail_s


def _rate(evaluator: Evaluator, job: Job, machine: str) -> float:
    """The highest rate of the day [kg/s]."""
    return max(evaluator.floor.line(machine, job.product.product).rates, default=0.0)


def _kind(evaluator: Evaluator, code: str) -> str:
    row = evaluator.floor.mill.machine_by_code.get(code)
    return row.kind if row is not None else ""


def _together_cents100(evaluator: Evaluator, works: Sequence[_Work]) -> float:
    """The least that lateness costs for runs that share the time of some machines."""
    if not works:
        return 0.0
    from scipy.optimize import linear_sum_assignment

    slots = [
        (machine, start_s)
        for machine in sorted({code for work in works for code in work.machines})
        for start_s in _slots(evaluator, machine)
    ]
    starts = np.array([start_s for _, start_s in slots], dtype=np.float64)
    rows = np.concatenate([_pieces(evaluator, work, slots, starts) for work in works])
    if rows.shape[0] > rows.shape[1]:
        return sum(work.alone_cents100 for work in works)
    chosen = linear_sum_assignment(rows)
    costs = rows[chosen]
    if (costs >= TOO_LATE).any():
        return sum(work.alone_cents100 for work in works)
    return float(costs.sum())


def _slots(evaluator: Evaluator, machine: str) -> Iterator[int]:
    """Starts of pieces of the time in which a machine may run. [s]"""
    free_s = evaluator.opening.state.free_s.get(machine, 0)
    for begin_s, end_s in evaluator.floor.windows(machine).spans:
        yield from range(max(begin_s, free_s), end_s, PIECE_S)


def _pieces(
    evaluator: Evaluator,
    work: _Work,
    slots: Sequence[tuple[str, int]],
    starts: NDArray[np.float64],
) -> NDArray[np.float64]:
    """What each piece of a run costs in each slot, shape (pieces, slots)."""
    count = int(work.worked_s // PIECE_S)
    done = np.arange(1, count + 1)
    left_s = work.worked_s * (1.0 - done / count) + work.tail_s
    ready_s = starts[None, :] + left_s[:, None]
    late_h = np.maximum(0.0, ready_s - work.job.due_s) / HOUR_S
    cents100 = late_h * _usd_h(evaluator, work.job) * CENTS100_USD
    costs = np.maximum(cents100, work.alone_cents100) / count
    may = np.array([machine in work.machines for machine, _ in slots])
    costs[:, ~may | (starts + PIECE_S <= work.head_s)] = TOO_LATE
    return costs
