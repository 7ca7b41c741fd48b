"""A drug carried into a feed for which nobody has stated a limit of it."""

import datetime as dt

from bedstone.demo.quillback import quillback_folder
from bedstone.mill.contents import contents_of
from bedstone.mill.model import Limit
from bedstone.mill.plan import Batch, BatchKind, Verdict
from bedstone.planning.verifier import verify_plan, verify_sequence
from bedstone.planning.verify_no_limit import unlimited_drugs
from fakes.planned import plan_of
from fakes.planning_mill import clean_start, planning_mill, problem, wanted

ROUTE = ("MX1", "SB1", "PL1", "FB1", "SK1")


def batch(code: str, material: str) -> Batch:
    """A tonne of a product along the pellet line."""
    return Batch(
        batch=code, kind=BatchKind.FEED, run=code[:2], material=material, formula_version=1,
        mass_mg=10**9, mixer="MX1", route=ROUTE, destination="FB1", draws=(), dry_mix_s=180.0,
        wet_mix_s=0.0, start_at=dt.datetime(2026, 11, 25, 12, tzinfo=dt.UTC),
        end_at=dt.datetime(2026, 11, 25, 13, tzinfo=dt.UTC),
    )  # fmt: skip


def after_medicated(limits: tuple[Limit, ...] | None = None) -> list[str]:
    """What is said of pig feed right after the medicated feed, without a flush."""
    mill = planning_mill() if limits is None else planning_mill(limits=limits)
    findings = verify_sequence(
        mill,
        starting=clean_start(mill),
        made=(),
        then=(batch("1-1", "BEEF-M"), batch("2-1", "PIG-CU")),
    )
    assert all(row.verdict is Verdict.ACT for row in findings if row.code == "residue.no_limit")
    return [row.text for row in findings if row.code == "residue.no_limit"]


def test_a_drug_without_a_limit_is_not_carried_in_silence():
    """Pig feed after the monensin feed gets a finding with how much it carries, and from what."""
    (text,) = after_medicated()
    assert text.startswith("No limit is stated for monensin in Pig-Cu; the first sacks of 2-1")
    assert "mg/kg" in text
    assert "(from Beef-M)" in text


def test_a_stated_limit_ends_it():
    """With any limit of the drug for the species there is no such finding."""
    limit = Limit(
        species="pig", substance="monensin", kind="level", level_mg_kg=1000.0, source="policy"
    )
    assert after_medicated((limit,)) == []


def test_a_feed_that_contains_the_drug_needs_no_limit():
    """The medicated feed itself, and what is no drug, are never named."""
    mill = planning_mill()
    assert unlimited_drugs(mill, "BEEF-M", contents_of(mill, "BEEF-M")) == ()
    assert unlimited_drugs(mill, "PIG-CU", contents_of(mill, "PIG-CU")) == ("monensin",)


def test_it_is_said_once_for_a_run():
    """A run of several batches that each carry the drug has one finding in the plan."""
    asked = problem(
        wanted("1", "BEEF-M", 1000, due_h=1.0),
        wanted("2", "PIG-CU", 6000, due_h=8.0, entered_h=-1.0),
        evaluations=0,
    )
    plan = plan_of(asked)
    assert plan.batches[0].material == "BEEF-M"
    run = next(row for row in plan.runs if row.product == "PIG-CU")
    assert len(run.batches) > 1
    found = [
        row.about
        for row in verify_plan(asked.mill, plan, stock_mg=asked.stock_mg)
        if row.code == "residue.no_limit"
    ]
    assert found == [run.batches[0]]


def test_every_drug_of_the_demo_has_a_limit_for_every_feed():
    """No product of the demo mill may carry one of its drugs without a limit."""
    mill = quillback_folder(dt.date(2026, 11, 25)).mill
    for product in mill.products:
        contents = contents_of(mill, product.product)
        assert unlimited_drugs(mill, product.product, contents) == (), product.product
