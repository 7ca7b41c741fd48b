"""Each figure that a plan states changed by hand: each is refused by what stands in the plan."""

import dataclasses
import datetime as dt

import pytest

from bedstone.mill.plan import Plan, Verdict
from bedstone.planning.verifier import verify_plan
from fakes.plan_changes import ASKED, HOUR, KNOWN, Change, named, run
from fakes.planned import plan_of


@pytest.fixture(scope="module")
def plan() -> Plan:
    """The plan before anybody laid hands on it."""
    return plan_of(ASKED)


def costs(figure: str, more: float) -> Change:
    """Say more (or less) of one figure of the whole."""
    return lambda plan: dataclasses.replace(
        plan,
        costs=dataclasses.replace(plan.costs, **{figure: getattr(plan.costs, figure) + more}),
    )


def lateness(plan: Plan, after: dt.timedelta, *, late_s: float) -> Plan:
    """R-1 due so long after it is ready, and what the plan says of its lateness."""
    return run("R-1", due_at=named(plan.runs, "R-1").ready_at + after, late_s=late_s)(plan)


MUTATIONS: dict[str, tuple[Change, str, str]] = {
    "a run said to cost less": (
        lambda plan: run("R-2", cost_cents100=named(plan.runs, "R-2").cost_cents100 - 100)(plan),
        "run.cost", "R-2"),
    "its flush not in its cost": (
        lambda plan: run("R-2", cost_cents100=named(plan.runs, "R-2").cost_cents100
            - plan.costs.flush_cents100)(plan), "run.cost", "R-2"),
    "bags sold for more": (
        lambda plan: run("R-1", price_cents100=named(plan.runs, "R-1").price_cents100 + 100)(plan),
        "run.price", "R-1"),
    "bulk sold for more": (
        lambda plan: run("R-4", price_cents100=named(plan.runs, "R-4").price_cents100 * 101 // 100)
        (plan), "run.price", "R-4"),
    "stock sold": (run("R-HORSE-PL-1125", price_cents100=10_000), "run.price", "R-HORSE-PL-1125"),
    "late and not said": (
        lambda plan: lateness(plan, -HOUR, late_s=0.0), "run.order", "R-1"),
    "late and not counted": (lambda plan: lateness(plan, -HOUR, late_s=3600.0), "plan.costs", ""),
    "lateness counted twice": (costs("late_cents100", 5_000), "plan.costs", ""),
    "cheaper ingredients": (costs("ingredients_cents100", -1_000), "plan.costs", ""),
    "cheaper flushes": (costs("flush_cents100", -100), "plan.costs", ""),
    "cheaper changeovers": (costs("changeover_cents100", -100), "plan.costs", ""),
    "cheaper clean-outs": (costs("clean_out_cents100", -100), "plan.costs", ""),
    "less flush material": (costs("flush_mg", -1_000_000), "plan.costs", ""),
    "a flush less": (costs("flushes", -1), "plan.costs", ""),
    "a clean-out more": (costs("clean_outs", 1), "plan.costs", ""),
    "shorter changeovers": (costs("changeover_s", -60), "plan.costs", ""),
    "a least cost above the cost": (
        lambda plan: costs("least_possible_cents100", plan.costs.running_cents100 + 10_000)(plan),
        "plan.least_cost", ""),
}  # fmt: skip


@pytest.mark.parametrize("name", MUTATIONS)
def test_a_figure_changed_by_hand_is_refused(plan: Plan, name: str):
    """The figure is refused under its code, with what stands in the plan beside what it says."""
    change, code, about = MUTATIONS[name]
    changed = change(plan)
    assert changed != plan
    found = verify_plan(ASKED.mill, changed, stock_mg=ASKED.stock_mg, known=KNOWN)
    rows = [row for row in found if (row.code, row.about) == (code, about or plan.plan)]
    assert rows
    assert {row.verdict for row in rows} == {Verdict.STOP}
    assert any(row.value is not None and row.value != row.limit for row in rows)


def test_figures_of_older_tables_are_noted_only(plan: Plan):
    """A plan of an older revision had other prices: figures that differ are said, not refused."""
    newer = dataclasses.replace(
        ASKED.mill,
        revision=plan.revision + 1,
        settings=dataclasses.replace(ASKED.mill.settings, labour_usd_h=99.0),
    )
    found = verify_plan(newer, plan, stock_mg=ASKED.stock_mg, known=KNOWN)
    said = {(row.code, row.verdict) for row in found if row.code in ("plan.costs", "run.cost")}
    assert said == {("plan.costs", Verdict.NOTE), ("run.cost", Verdict.NOTE)}


def test_figures_of_what_has_begun_are_not_judged(plan: Plan):
    """A run that has begun, and so the whole, cannot be counted from what is left of the plan."""
    wrong = costs("flush_mg", 5_000_000)(run("R-1", cost_cents100=0)(plan))
    rest = dataclasses.replace(wrong, batches=tuple(b for b in wrong.batches if b.batch != "1-01"))
    for on_record, expected in (({"1-01": "R-1"}, set()), ({}, {"run.cost", "plan.costs"})):
        known = dataclasses.replace(KNOWN, batches=on_record)
        found = verify_plan(ASKED.mill, rest, stock_mg=ASKED.stock_mg, known=known)
        assert {row.code for row in found} & {"run.cost", "plan.costs"} == expected
