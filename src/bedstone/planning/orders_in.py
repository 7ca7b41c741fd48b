"""Orders sorted into runs to be made and orders that cannot be, with runs for stock before them."""

from dataclasses import dataclass, field

from bedstone.mill.model import Mill
from bedstone.mill.plan import LeftOut
from bedstone.planning.batches import MG_KG
from bedstone.planning.jobs import CannotBeMade, Job, job_of_order, job_of_stock
from bedstone.planning.model import DayProblem, OrderToMake
from bedstone.planning.paths import Paths
from bedstone.planning.supply import GroundPool, Larder, Shelves, ground_pools

__all__ = ["DayWork", "work_of"]


@dataclass(slots=True, eq=False, kw_only=True)
class DayWork:
    """What is to be placed in the day, and what is left out before that."""

    jobs: list[Job]  # in order of due time, runs for stock first
    left_out: list[LeftOut]
    shelves: Shelves
    pools: dict[str, GroundPool]
    flush_left_kg: dict[str, float]  # by mixer
    needs_kg: dict[str, float]  # of all jobs together, by shelf
    lying_kg: dict[str, float]  # of each shelf


def work_of(problem: DayProblem, paths: Paths) -> DayWork:
    """Runs and orders left out for want of formula, route or stock."""
    wanted = sorted(
        problem.orders, key=lambda row: (row.order.due_at, row.order.entered_at, row.order.order)
    )
    left_out: list[LeftOut] = []
    jobs: list[tuple[Job, OrderToMake]] = []
    for row in wanted:
        if row.remaining_mg <= 0:
            continue
        try:
            jobs.append((job_of_order(problem, paths, wanted=row), row))
        except CannotBeMade as reason:
            left_out.append(left_out_of(row, reason.because, reason.text))
    shelves = Shelves(problem)
    pools = ground_pools(problem, shelves)
    larder = Larder(problem, shelves, pools)
    stock_jobs, cannot = _for_stock(problem, paths, jobs=[job for job, _ in jobs], larder=larder)
    placed: list[Job] = list(stock_jobs)
    for job, row in jobs:
        try:
            _blocked(job, cannot)
            larder.promise(job)
            placed.append(job)
        except CannotBeMade as reason:
            left_out.append(left_out_of(row, reason.because, reason.text))
    for rank, job in enumerate(placed):
        job.rank = rank
    needs_kg: dict[str, float] = {}
    for job in placed:
        for material, mass_kg in job.needs.items():
            key = shelves.key(material, job.options[0].mixer)
            needs_kg[key] = needs_kg.get(key, 0.0) + mass_kg
    return DayWork(
        jobs=placed,
        left_out=left_out,
        shelves=shelves,
        pools=pools,
        flush_left_kg=_flush_kg(problem, larder),
        needs_kg=needs_kg,
        lying_kg=_lying_kg(problem, shelves),
    )


def left_out_of(row: OrderToMake, because: str, text: str) -> LeftOut:
    """An order with the reason why it is not in the plan."""
    return LeftOut(
        order=row.order.order,
        product=row.order.product,
        mass_mg=row.remaining_mg,
        because=because,
        text=text,
    )


def _blocked(job: Job, cannot: dict[str, CannotBeMade]) -> None:
    for material in job.parts:
        if material in cannot:
            reason = cannot[material]
            text = f"{material} goes into it, and cannot be made: {reason.text}"
            raise CannotBeMade(reason.because, text)


@dataclass(slots=True, eq=False)
class _Shortages:
    """What is missing of products that go into others, found formula by formula."""

    mill: Mill
    shelves: Shelves
    lying_kg: dict[tuple[str, str], float]
    short_kg: dict[str, float] = field(default_factory=dict)  # deepest first

    def want(self, material: str, mass_kg: float, *, mixer: str) -> None:
        """Take what lies there; note what is missing, and what that needs in its turn."""
        formula = self.mill.running_formula(material)
        if material not in self.mill.product_by_code or formula is None:
            return
        for code in self.shelves.bins(material, mixer):
            here_kg = min(mass_kg, self.lying_kg.get((code, material), 0.0))
            self.lying_kg[code, material] = self.lying_kg.get((code, material), 0.0) - here_kg
            mass_kg -= here_kg
        if mass_kg <= 0:
            return
        for line in self.mill.lines_of(material, formula.version):
            self.want(line.ingredient, mass_kg * line.parts_frac, mixer=mixer)
        self.short_kg[material] = self.short_kg.get(material, 0.0) + mass_kg


def _for_stock(
    problem: DayProblem, paths: Paths, *, jobs: list[Job], larder: Larder
) -> tuple[list[Job], dict[str, CannotBeMade]]:
    """Runs of feed that goes into others, deepest first, and those that cannot be made."""
    mill = problem.mill
    shortages = _Shortages(mill, larder.shelves, dict(larder.left_kg))
    for job in jobs:
        option = job.options[0]
        for material, parts_frac in job.parts.items():
            mass_kg = option.cut.mass_mg / MG_KG * parts_frac
            shortages.want(material, mass_kg, mixer=option.mixer)
    made: list[Job] = []
    cannot: dict[str, CannotBeMade] = {}
    for material, mass_kg in shortages.short_kg.items():
        product = mill.product(material)
        try:
            job = job_of_stock(
                problem, paths, product=product, wanted_mg=round(mass_kg * MG_KG) + 1
            )
            _blocked(job, cannot)
            larder.promise(job)
        except CannotBeMade as reason:
            cannot[material] = reason
            continue
        larder.coming_kg[material] = job.options[0].cut.mass_mg / MG_KG
        made.append(job)
    return made, cannot


def _flush_kg(problem: DayProblem, larder: Larder) -> dict[str, float]:
    """What of the flush material is left for each mixer once every run has what it needs [kg]."""
    material = problem.mill.settings.flush_material
    mixers = [row.machine for row in problem.mill.machines if row.kind == "mixer"]
    if not material:
        return dict.fromkeys(mixers, 0.0)
    return {mixer: larder.within_reach_kg(material, mixer=mixer) for mixer in mixers}


def _lying_kg(problem: DayProblem, shelves: Shelves) -> dict[str, float]:
    """Book stock of each shelf; a book below nothing counts as nothing [kg]."""
    return {
        key: sum(max(0, problem.stock_mg.get((code, material), 0)) for code in bins) / MG_KG
        for key, (material, bins) in shelves.all().items()
    }
