"""What a plan says that it costs, reckoned again from its batches, bars, clean-outs and times.

Nothing of the planner's is used: money is counted here from what stands in the plan and in the
tables, run by run and for the whole. Two figures cannot be counted from a plan alone: what the
orders would cost as they came is of another plan, and the least possible cost is only held against
what the plan costs.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from bedstone.mill.model import Mill
from bedstone.mill.plan import Bar, BarKind, Batch, BatchKind, CleanOut, Finding, Plan, Run, Verdict
from bedstone.planning.paths import Paths
from bedstone.planning.verify_known import Known
from bedstone.planning.verify_runs import lost_frac, more_kg

__all__ = ["cost_findings"]

CENTS100_USD = 10_000
HOUR_S = 3600
MG_KG = 1_000_000
MG_T = 1_000_000_000
KG_T = 1000
WHOLE_S = 1.0  # what a time of the plan may be rounded by
ROUNDINGS = 6  # whole hundredths of a cent that one run's figures may be rounded by
EXACT = 1e-9  # of a figure: what floating point may make it differ


@dataclass(slots=True, eq=False)
class _Spent:
    """What one run makes the mill spend, counted from the plan [hundredths of a cent]."""

    run: Run
    feed: list[Batch] = field(default_factory=list)
    flushes: list[Batch] = field(default_factory=list)
    changeover_s: float = 0.0
    clean_s: float = 0.0
    ingredients: float = 0.0
    flush: float = 0.0
    changeover: float = 0.0
    clean_out: float = 0.0
    wanted_t: tuple[float, float] = (0.0, 0.0)  # what its price and lateness count: least, most
    late_s: tuple[float, float] = (0.0, 0.0)  # least, most: a plan's times are whole seconds


def cost_findings(mill: Mill, plan: Plan, known: Known) -> list[Finding]:
    """Figures of money, mass, number and time that are not what the plan itself makes them.

    A plan made with the tables that stand is refused for a wrong figure; of one made with older
    tables, whose prices may have been others, it is only said. Runs that have begun are not judged,
    nor the whole when one has: part of it is on record and not before us.
    """
    verdict = Verdict.STOP if plan.revision == mill.revision else Verdict.NOTE
    runs = [run for run in plan.runs if run.product in mill.product_by_code]
    begun = {run.run for run in runs if known.has_begun(run)}
    spent = {run.run: _spent(mill, plan, run) for run in runs if run.run not in begun}
    findings = [row for one in spent.values() for row in _of_run(mill, one, verdict)]
    if not begun and len(runs) == len(plan.runs):
        findings.extend(_of_plan(mill, plan, list(spent.values()), verdict))
    return findings


def _spent(mill: Mill, plan: Plan, run: Run) -> _Spent:
    own = [batch for batch in plan.batches if batch.run == run.run]
    one = _Spent(
        run,
        feed=[batch for batch in own if batch.kind is BatchKind.FEED],
        flushes=[batch for batch in own if batch.kind is BatchKind.FLUSH],
    )
    one.changeover_s = sum(
        _lasts_s(bar)
        for bar in plan.bars
        if bar.kind is BarKind.CHANGEOVER and bar.about == run.run
    )
    ids = {batch.batch for batch in own}
    one.clean_s = sum(_lasts_s(row) for row in plan.clean_outs if row.before_batch in ids)
    labour = mill.settings.labour_usd_h / HOUR_S * CENTS100_USD
    one.ingredients = sum(_material_cents100(mill, batch) for batch in one.feed)
    one.flush = sum(
        _material_cents100(mill, batch) + _lasts_s(batch) * labour for batch in one.flushes
    )
    one.changeover = one.changeover_s * labour
    one.clean_out = one.clean_s * labour
    if run.order:
        one.wanted_t = _wanted_t(mill, run, one.feed)
        if run.due_at is not None:
            over_s = (run.ready_at - run.due_at).total_seconds()
            one.late_s = max(0.0, over_s - WHOLE_S), max(0.0, over_s + WHOLE_S)
    return one


def _lasts_s(row: Bar | Batch | CleanOut) -> float:
    return (row.end_at - row.start_at).total_seconds()


def _wanted_t(mill: Mill, run: Run, feed: Sequence[Batch]) -> tuple[float, float]:
    """What of a run is for its order, least and most: bags are counted, bulk lies between. [t]"""
    product = mill.product_by_code[run.product]
    if run.pack == "bags" and product.pack_kg is not None:
        bags_t = run.bags * product.pack_kg / KG_T
        return bags_t, bags_t
    made_t = sum(batch.mass_mg for batch in feed) / MG_T
    kept_t = made_t * (1 - lost_frac(mill, Paths(mill), product))
    least_t = kept_t - more_kg(mill, feed, number=len(feed)) / KG_T
    return max(0.0, least_t), made_t


def _material_cents100(mill: Mill, batch: Batch) -> float:
    usd_t = (
        _usd_t(mill, batch.material, ())
        if batch.formula_version is None
        else _formula_usd_t(mill, batch.material, batch.formula_version, ())
    )
    return batch.mass_mg / MG_T * usd_t * CENTS100_USD


def _usd_t(mill: Mill, material: str, above: tuple[str, ...]) -> float:
    """Price of an ingredient, or of what a product that goes into others is made of. [USD/t]"""
    row = mill.ingredient_by_code.get(material)
    if row is not None:
        return row.price_usd_t
    formula = mill.running_formula(material)
    if formula is None or material in above:
        return 0.0
    return _formula_usd_t(mill, material, formula.version, above)


def _formula_usd_t(mill: Mill, product: str, version: int, above: tuple[str, ...]) -> float:
    return sum(
        line.parts_frac * _usd_t(mill, line.ingredient, (*above, product))
        for line in mill.lines_of(product, version)
    )


def _of_run(mill: Mill, one: _Spent, verdict: Verdict) -> Iterator[Finding]:
    """Cost and price of one run."""
    run = one.run
    cost = one.ingredients + one.flush + one.changeover + one.clean_out
    price = mill.product_by_code[run.product].price_usd_t * CENTS100_USD
    least, most = (wanted_t * price for wanted_t in one.wanted_t)
    says = run.price_cents100
    for code, stated, reckoned in (
        ("run.cost", run.cost_cents100, cost),
        ("run.price", says, min(max(says, least), most)),
    ):
        if abs(stated - reckoned) > ROUNDINGS + EXACT * abs(reckoned):
            what = f"{run.run} {'costs' if code == 'run.cost' else 'is sold for'}"
            yield _wrong(code, run.run, what, _money(stated, reckoned), verdict)


def _of_plan(mill: Mill, plan: Plan, spent: list[_Spent], verdict: Verdict) -> Iterator[Finding]:
    """What the plan says of the whole."""
    costs, late_usd_t_h = plan.costs, mill.settings.late_usd_t_h * CENTS100_USD
    late = [
        sum(one.late_s[at] / HOUR_S * late_usd_t_h * one.wanted_t[at] for one in spent)
        for at in (0, 1)
    ]
    made = sum(one.ingredients for one in spent if one.run.order)
    for what, says, reckoned in (
        ("ingredients cost", costs.ingredients_cents100, made),
        ("flushes cost", costs.flush_cents100, sum(one.flush for one in spent)),
        ("changeovers cost", costs.changeover_cents100, sum(one.changeover for one in spent)),
        ("clean-outs cost", costs.clean_out_cents100, sum(one.clean_out for one in spent)),
        ("lateness counts", costs.late_cents100, min(max(costs.late_cents100, late[0]), late[1])),
    ):
        if abs(says - reckoned) > ROUNDINGS * len(spent) + EXACT * abs(reckoned):
            yield _wrong("plan.costs", plan.plan, what, _money(says, reckoned), verdict)
    flush_kg = sum(batch.mass_mg for one in spent for batch in one.flushes) / MG_KG
    counted: tuple[tuple[str, float, float, str], ...] = (
        ("flushes take", costs.flush_mg / MG_KG, flush_kg, "kg"),
        ("changeovers last", costs.changeover_s, sum(one.changeover_s for one in spent), "s"),
        ("it has", costs.flushes, sum(1 for one in spent if one.flushes), "runs with flushes"),
        ("it has", costs.clean_outs, len(plan.clean_outs), "clean-outs"),
    )
    for what, said, found, unit in counted:
        if abs(said - found) > EXACT * abs(found):
            yield _wrong("plan.costs", plan.plan, what, (said, found, unit), verdict)
    least = costs.least_possible_cents100
    if not 0 <= least <= costs.running_cents100 + ROUNDINGS * len(spent):
        figures = _money(least, costs.running_cents100)
        what = "no order of running can cost less than"
        yield _wrong("plan.least_cost", plan.plan, what, figures, verdict)


def _money(says: float, reckoned: float) -> tuple[float, float, str]:
    return says / CENTS100_USD, reckoned / CENTS100_USD, "USD"


def _wrong(
    code: str, about: str, what: str, figures: tuple[float, float, str], verdict: Verdict
) -> Finding:
    says, reckoned, unit = figures
    return Finding(
        code=code,
        verdict=verdict,
        about=about,
        text=f"The plan says that {what} {says:,.2f} {unit}; what stands in it makes "
        f"{reckoned:,.2f} {unit}.",
        value=float(says),
        limit=float(reckoned),
        unit=unit,
        source="the plan itself, with prices and labour of the tables",
        do="do not go by its figures; plan the day again for true ones",
    )
