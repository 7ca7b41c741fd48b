"""Feed that goes into others is judged by what lies in its bin, by planner and verifier alike."""

from dataclasses import replace

import pytest

from bedstone.mill.contents import contents_of, formula_contents
from bedstone.mill.model import Limit
from bedstone.planning.verifier import verify_plan
from bedstone.planning.verify_known import Known
from fakes.planned import plan_of
from fakes.planning_mill import planning_mill, problem, stock, wanted

LYING = {"HORSE-PL": {"monensin": 50.0}}
LEVEL = Limit(
    product="HORSE-TX", substance="monensin", kind="level", level_mg_kg=1.0, source="mill policy"
)


def asked(**changes: object):
    """A textured horse feed ordered, pellets for it in their bin."""
    mill = planning_mill(limits=(LEVEL,))
    made = problem(wanted("3", "HORSE-TX", 1500), mill=mill, stock_mg=stock(FB5=2000.0))
    return replace(made, **changes)


def test_contents_take_the_worse_of_what_lies_and_what_would_be_made():
    """Pellets that lie with a drug bring it in by their part; weaker ones do not dilute."""
    mill = planning_mill()
    version = mill.running_formula("HORSE-TX").version
    made = formula_contents(mill, "HORSE-TX", version)
    with_drug = formula_contents(mill, "HORSE-TX", version, lying=LYING)
    assert with_drug["monensin"] == pytest.approx(0.4 * 50.0)
    assert {**with_drug, "monensin": 0.0} == {**made, "monensin": 0.0}
    assert contents_of(mill, "HORSE-PL", lying=LYING)["monensin"] == 50.0
    weak = {"HORSE-PL": {"copper": 0.0}}
    assert formula_contents(mill, "HORSE-TX", version, lying=weak) == made


def test_the_planner_leaves_out_what_the_pellets_in_the_bin_spoil():
    """A textured feed whose pellets in the bin hold too much of a drug is not planned."""
    plan = plan_of(asked(lying_contents=LYING))
    assert [(row.order, row.because) for row in plan.left_out] == [("3", "formula")]
    assert plan_of(asked()).left_out == ()


def test_the_verifier_stops_what_the_pellets_in_the_bin_spoil():
    """A plan made without looking at what lies there is refused by the verifier that knows it."""
    good = asked()
    plan = plan_of(good)
    known = Known(lying_contents=LYING)
    found = verify_plan(good.mill, plan, stock_mg=good.stock_mg, known=known)
    assert "residue.level" in {row.code for row in found}
    fine = verify_plan(good.mill, plan, stock_mg=good.stock_mg, known=Known())
    assert "residue.level" not in {row.code for row in fine}
