"""Whole plans of the made-up planning mill, with draws as simple as can be."""

from collections.abc import Mapping

from bedstone.mill.plan import Draw, Finding, Plan, Verdict
from bedstone.mill.tolerances import scale_tolerance_divisions
from bedstone.planning.assemble import assemble
from bedstone.planning.day import plan_runs
from bedstone.planning.model import DayOutcome, DayProblem
from bedstone.planning.verifier import verify_plan

__all__ = ["plain_draws", "plan_of", "stops"]


def plain_draws(problem: DayProblem, outcome: DayOutcome) -> dict[str, tuple[Draw, ...]]:
    """One draw for each part, exact to the milligram, out of the one bin kept for it."""
    mill = problem.mill
    bins = {row.holds: row.bin for row in mill.bins if row.holds}
    draws: dict[str, tuple[Draw, ...]] = {}
    for batch in outcome.batches:
        parts: Mapping[str, float] = {batch.material: 1.0}
        if batch.formula_version is not None:
            lines = mill.lines_of(batch.material, batch.formula_version)
            parts = {row.ingredient: row.parts_frac for row in lines}
        instrument = {"MX1": "SC1", "MX2": "SC2"}[batch.mixer]
        division_mg = round(mill.scale_by_code[instrument].division_kg * 1e6)
        draws[batch.batch] = tuple(
            Draw(
                sequence=number,
                ingredient=ingredient,
                from_place=bins[ingredient],
                instrument=instrument,
                how="weighed",
                target_mg=round(batch.mass_mg * part),
                tolerance_mg=scale_tolerance_divisions(
                    max(1, round(batch.mass_mg * part / division_mg))
                )
                * division_mg,
                division_mg=division_mg,
                caution=mill.ingredient_by_code[ingredient].caution
                if ingredient in mill.ingredient_by_code
                else "",
            )
            for number, (ingredient, part) in enumerate(sorted(parts.items()), start=1)
        )
    return draws


def plan_of(problem: DayProblem) -> Plan:
    """The planner's plan, with draws."""
    outcome = plan_runs(problem)
    return assemble(
        outcome,
        plain_draws(problem, outcome),
        made_at=problem.now,
        revision=problem.mill.revision,
        position=7,
        head="ab" * 32,
    )


def stops(problem: DayProblem, plan: Plan) -> list[Finding]:
    """What the verifier refuses."""
    found = verify_plan(problem.mill, plan, stock_mg=problem.stock_mg)
    return [finding for finding in found if finding.verdict is Verdict.STOP]
