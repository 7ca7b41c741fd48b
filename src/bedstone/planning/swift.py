"""The compiled evaluator of a day, as the search uses it: orders walked, runs put in, neighbours."""

from collections.abc import Sequence

from bedstone.planning.compiled.encode import Encoded
from bedstone.planning.compiled.moves import BEST, NOW, PLACED, TAKEN, TRIES
from bedstone.planning.compiled.pack import NUMBERS, pack
from bedstone.planning.compiled.run import ANNEAL, INSERT, SETTLE, run
from bedstone.planning.compiled.step import MISSING_CENTS100
from bedstone.planning.compiled.tables import MISSING, STEPS
from bedstone.planning.evaluate import Evaluator, Item
from bedstone.planning.jobs import Job

__all__ = ["Swift"]


class Swift:
    """Orders of running of one day, tried by the thousand.

    The order that stands begins empty. A run that finds no place is passed over where it stands,
    and counts more than any day costs.
    """

    def __init__(self, evaluator: Evaluator, jobs: Sequence[Job], *, seed: int = 0) -> None:
        """Put the day down as arrays."""
        self._day = Encoded(evaluator, jobs)
        self._numbers = {id(job): number for number, job in enumerate(self._day.jobs)}
        self._rows = pack(self._day, seed=seed)

    def _entry(self, name: str, row: int = 0, column: int = 0) -> int:
        first, wide = self._rows.ti[2 * NUMBERS[name] : 2 * NUMBERS[name] + 2]
        return int(first + row * wide + column)

    def _noted(self, name: str, row: int) -> int:
        return int(self._rows.wi[self._entry(name, row)])

    @property
    def cost(self) -> float:
        """Of the order that stands [hundredths of a cent]."""
        return float(self._rows.wf[self._entry("SEARCH_COST", NOW)])

    @property
    def best_cost(self) -> float:
        """Of the cheapest order so far [hundredths of a cent]."""
        return float(self._rows.wf[self._entry("SEARCH_COST", 1)])

    @property
    def scale(self) -> float:
        """What the best order costs, orders without a place not counted [hundredths of a cent]."""
        return self.best_cost % MISSING_CENTS100

    @property
    def missing(self) -> int:
        """Orders that find no place in the order that stands."""
        return round(self.costs()[MISSING] / MISSING_CENTS100)

    @property
    def tried(self) -> int:
        """Orders of running tried so far."""
        return self._noted("COUNT", TRIES)

    @property
    def taken(self) -> int:
        """How many of them were taken."""
        return self._noted("COUNT", TAKEN)

    @property
    def walked(self) -> int:
        """Runs walked so far."""
        return self._noted("NOTED", STEPS)

    def costs(self) -> tuple[float, ...]:
        """Flush, changeover, cleaning, lateness, ties and missing orders of the order that stands."""
        first = self._entry("COST")
        return tuple(self._rows.days_f[self._noted("COUNT", PLACED), first : first + 6].tolist())

    def items(self, *, best: bool = False) -> list[Item]:
        """The order that stands, or the best so far."""
        row, placed = BEST if best else NOW, self._noted("COUNT", PLACED)
        order, which = self._entry("ORDER", row), self._entry("WHICH", row)
        numbers = zip(
            self._rows.wi[order : order + placed],
            self._rows.wi[which : which + placed],
            strict=True,
        )
        jobs = self._day.jobs
        return [(jobs[job], jobs[job].options[option]) for job, option in numbers]

    def set_order(self, items: Sequence[Item]) -> float:
        """Let an order stand; its cost."""
        for number, (job, option) in enumerate(items):
            self._rows.wi[self._entry("ORDER", NOW, number)] = self._numbers[id(job)]
            self._rows.wi[self._entry("WHICH", NOW, number)] = job.options.index(option)
        self._rows.wi[self._entry("COUNT", PLACED)] = len(items)
        return self._run(SETTLE, 0)

    def insert(self, job: Job) -> float:
        """Put a run where the whole order stays cheapest; the cost then."""
        return self._run(INSERT, self._numbers[id(job)])

    def anneal(self, tries: int, *, hot: float, cold: float) -> float:
        """Try neighbours of the order that stands while it cools; the best cost so far."""
        return self._run(ANNEAL, tries, hot, cold)

    def _run(self, what: int, number: int, hot: float = 0.0, cold: float = 0.0) -> float:
        return float(run(*self._rows, what, number, hot, cold))
