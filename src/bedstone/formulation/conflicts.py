"""When nothing fits: which demands contradict each other, and the cheapest way to give in."""

import math
from collections.abc import Callable
from dataclasses import replace

from bedstone.errors import Fault, NoAnswer
from bedstone.formulation.answers import Clash, Demand, GiveIn
from bedstone.formulation.arrays import Compiled, compile_problem
from bedstone.formulation.demands import Entry, entries_of
from bedstone.formulation.giving import alone_give_in, may_move, together_give_in
from bedstone.formulation.model import FormulaProblem
from bedstone.formulation.trial import Trial

__all__ = ["irreducible", "nothing_fits", "why_not"]


def why_not(problem: FormulaProblem) -> Clash:
    """Which demands contradict each other, and what each would have to give.

    Raises
    ------
    BadInput
        If the problem cannot be understood.
    ValueError
        If something fits after all.
    """
    return _clash(compile_problem(problem))


def _clash(compiled: Compiled) -> Clash:
    entries = entries_of(compiled)
    clash = irreducible(compiled, entries)
    alone = [alone_give_in(compiled, entries, entry) for entry in clash if may_move(entry.demand)]
    together, cost = together_give_in(compiled, entries)
    return Clash(
        product=compiled.problem.product,
        demands=tuple(entry.demand for entry in reversed(clash)),
        alone=tuple(sorted(alone, key=_cost)),
        together=together,
        together_cost_usd_t=cost,
    )


def _cost(row: GiveIn) -> float:
    return math.inf if row.cost_usd_t is None else row.cost_usd_t


def nothing_fits(compiled: Compiled) -> NoAnswer:
    """The error for a problem that nothing fits, with the clash as its faults."""
    clash = _clash(compiled)
    ways = {id(row.demand): row for row in clash.alone if row.cost_usd_t is not None}
    faults = tuple(
        Fault(found=demand.words, allowed="not together with the others", do=_do(ways, demand))
        for demand in clash.demands
    )
    return NoAnswer(
        f"No formula of {compiled.problem.product} keeps every demand.",
        seen=f"{len(clash.demands)} demands that contradict each other",
        do="let one of them give in; any one is enough",
        faults=faults,
    )


def _do(ways: dict[int, GiveIn], demand: Demand) -> str:
    way = ways.get(id(demand))
    if way is None:
        return ""
    return f"{way.limit_words} would do, at {way.cost_usd_t:.2f} USD/t"


def irreducible(compiled: Compiled, entries: list[Entry]) -> list[Entry]:
    """Demands that contradict each other, none of which can be left out.

    Demands are dropped, many at a time at first, as long as nothing fits; one whose dropping alone
    lets something fit is needed. So each that is left has been shown to be needed.

    Raises
    ------
    ValueError
        If something fits.
    """
    # contradictions among expected values are told without odds, those of limits without choices,
    # and both are found faster
    free = replace(compiled, at_least={}, count=None)
    for source in (replace(free, cones=()), free, replace(compiled, cones=()), compiled):
        trial = Trial(source)
        if not trial.fits(entries):
            return _needed(entries, trial.fits)
    raise ValueError(f"{compiled.problem.product} has an answer")


def _needed(entries: list[Entry], fits: Callable[[list[Entry]], bool]) -> list[Entry]:
    needed: list[Entry] = []
    rest, size = list(entries), max(1, len(entries) // 2)
    while rest:
        if not fits([*needed, *rest[size:]]):
            rest, size = rest[size:], size * 2
        elif size == 1:
            needed.append(rest.pop(0))
        else:
            size = max(1, min(size, len(rest)) // 2)
    return needed
