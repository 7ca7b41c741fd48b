"""The plain verifier on good plans and on plans damaged by hand."""

import dataclasses
import datetime as dt

import pytest

from bedstone.mill.contents import contents_of
from bedstone.mill.plan import Batch, BatchKind, Plan, Run, Verdict
from bedstone.mill.residue import CleanedOut, MaterialPassed
from bedstone.planning.model import DayProblem
from bedstone.planning.verifier import verify_plan, verify_sequence
from bedstone.planning.verify_known import Known
from fakes.planned import plan_of, stops
from fakes.planning_mill import clean_start, planning_mill, problem, stock, wanted

ROUTE = ("MX1", "SB1", "PL1", "FB1", "SK1")
ASKED = problem(
    wanted("1", "PIG-CU", 3000),
    wanted("2", "SHEEP", 2000),
    wanted("3", "HORSE-TX", 1500),
    wanted("4", "LAYER", 6000, pack="bulk"),
)


@pytest.fixture(scope="module")
def plan() -> Plan:
    """A good plan of four orders, one of them with feed for stock before it."""
    return plan_of(ASKED)


def codes(asked: DayProblem, plan: Plan) -> set[str]:
    """Codes of what is refused."""
    return {finding.code for finding in stops(asked, plan)}


def with_batch(plan: Plan, batch_id: str, **changed: object) -> Plan:
    """The plan with one batch changed, and its bar moved with it."""
    batches, bars = [], list(plan.bars)
    for batch in plan.batches:
        if batch.batch != batch_id:
            batches.append(batch)
            continue
        new = dataclasses.replace(batch, **changed)
        batches.append(new)
        bars = [
            dataclasses.replace(bar, start_at=new.start_at, end_at=new.end_at)
            if bar.about == batch_id and bar.machine == batch.mixer
            else bar
            for bar in bars
        ]
    return dataclasses.replace(plan, batches=tuple(batches), bars=tuple(bars))


def batch_of(plan: Plan, batch_id: str) -> Batch:
    """A batch by its id."""
    return next(batch for batch in plan.batches if batch.batch == batch_id)


def run_of(plan: Plan, product: str) -> Run:
    """A run by its product."""
    return next(run for run in plan.runs if run.product == product)


def test_a_good_plan_passes(plan: Plan):
    """The planner's plan has nothing that must not happen."""
    assert stops(ASKED, plan) == []


def test_a_late_order_is_noted():
    """An order due before it can be ready is noted, not refused."""
    late = problem(wanted("1", "PIG-CU", 3000, due_h=0.5))
    found = verify_plan(late.mill, plan_of(late), stock_mg=late.stock_mg)
    assert [(finding.code, finding.verdict) for finding in found] == [("time.due", Verdict.NOTE)]


def test_an_unsafe_order_is_refused_with_batch_number_and_source():
    """Sheep feed on what a copper feed left is refused: first batch, worst sack, limit, source."""
    mill = planning_mill()
    copper = MaterialPassed(
        route=ROUTE,
        material="PIG-CU",
        mass_mg=2_000_000_000,
        contents=contents_of(mill, "PIG-CU"),
    )
    sheep = batch_of(plan_of(problem(wanted("2", "SHEEP", 2000))), "2-01")
    sheep = dataclasses.replace(sheep, route=ROUTE)
    (finding,) = verify_sequence(mill, starting=clean_start(mill), made=[copper], then=[sheep])
    assert (finding.code, finding.about, finding.verdict) == ("residue.level", "2-01", Verdict.STOP)
    # the mixer alone, by hand: 10 kg of it in 2010 kg; the chain after it carries far more at first
    mixed = (2000 * 4.9 + 10 * (2000 * 200 / 2010)) / 2010
    assert mixed == pytest.approx(5.865, abs=0.001)
    assert finding.value is not None
    assert finding.value > 100
    assert (finding.limit, finding.source) == (15.0, "mill policy")
    assert "Sack 1 of 2-01" in finding.text
    assert "from Pig-Cu" in finding.text


def test_the_mixer_alone_gives_the_number_of_the_hand():
    """Where only the mixer keeps anything, the refused number is the one worked by hand."""
    mill = planning_mill()
    bare = dataclasses.replace(
        mill,
        machines=tuple(
            dataclasses.replace(row, hold_up_kg=100.0 if row.kind == "mixer" else 0.0)
            for row in mill.machines
        ),
        routes=tuple(dataclasses.replace(row, hold_up_kg=0.0) for row in mill.routes),
    )
    copper = MaterialPassed(
        route=ROUTE, material="PIG-CU", mass_mg=2_000_000_000, contents={"copper": 400.0}
    )
    sheep = batch_of(plan_of(problem(wanted("2", "SHEEP", 2000))), "2-01")
    sheep = dataclasses.replace(sheep, route=ROUTE)
    (finding,) = verify_sequence(bare, starting=clean_start(bare), made=[copper], then=[sheep])
    left = 400 * 2000 / 2100
    assert finding.value == pytest.approx((2000 * 4.9 + 100 * left) / 2100, rel=1e-12)


def test_cleaning_by_hand_lifts_the_refusal():
    """The same sheep feed after the same copper feed passes once every place is cleaned."""
    mill = planning_mill()
    copper = MaterialPassed(
        route=ROUTE, material="PIG-CU", mass_mg=10**9, contents=contents_of(mill, "PIG-CU")
    )
    clean = CleanedOut(places=tuple(row.place for row in clean_start(mill)))
    sheep = batch_of(plan_of(problem(wanted("2", "SHEEP", 2000))), "2-01")
    assert (
        verify_sequence(mill, starting=clean_start(mill), made=[copper, clean], then=[sheep]) == ()
    )


def test_without_its_flush_a_plan_is_refused():
    """A flush taken out of a plan by hand: the batch after it is refused by name."""
    mill = planning_mill()
    made = problem(wanted("2", "SHEEP", 2000), mill=mill, starting=())
    plan = plan_of(made)
    assert stops(made, plan) == []
    flushes = [row.batch for row in plan.batches if row.kind is BatchKind.FLUSH]
    assert flushes
    without = dataclasses.replace(
        plan,
        batches=tuple(row for row in plan.batches if row.kind is BatchKind.FEED),
        bars=tuple(bar for bar in plan.bars if bar.about not in flushes),
    )
    found = stops(made, without)
    said = {(row.code, row.about) for row in found}
    assert said == {
        ("residue.level", "2-01"), ("residue.procedure", "2-01"),
        ("run.cost", "R-2"), ("plan.costs", plan.plan),
    }  # fmt: skip


def test_a_batch_moved_onto_another_is_an_overlap(plan: Plan):
    """Two batches at once in one mixer are refused."""
    first, second = [row for row in plan.batches if row.mixer == "MX1"][:2]
    moved = with_batch(plan, second.batch, start_at=first.start_at, end_at=first.end_at)
    assert "time.overlap" in codes(ASKED, moved)


def test_a_batch_in_the_night_is_outside_its_shift(plan: Plan):
    """A batch before the shift begins is refused."""
    first = plan.batches[0]
    early = dt.timedelta(hours=3)
    moved = with_batch(
        plan, first.batch, start_at=first.start_at - early, end_at=first.end_at - early
    )
    assert "time.shift" in codes(ASKED, moved)


def test_a_batch_with_half_its_mixing_time_is_refused(plan: Plan):
    """A batch shortened to three minutes has not been mixed."""
    first = plan.batches[0]
    hurried = with_batch(plan, first.batch, end_at=first.start_at + dt.timedelta(minutes=3))
    assert "mixer.time" in codes(ASKED, hurried)


@pytest.mark.parametrize(("mass_kg", "code"), [(2500.0, "mixer.full"), (300.0, "mixer.empty")])
def test_a_batch_must_fit_its_mixer(plan: Plan, mass_kg: float, code: str):
    """More than the mixer takes, or less than it mixes, is refused."""
    batch = next(row for row in plan.batches if row.mixer == "MX1")
    assert code in codes(ASKED, with_batch(plan, batch.batch, mass_mg=round(mass_kg * 1e6)))


def test_a_batch_must_fit_its_mixer_by_the_volume_of_what_goes_in(plan: Plan):
    """A mill whose ingredients are all at 200 kg/m3 cannot put 1.5 t of feed into 4 m3."""
    batch = next(row for row in plan.batches if row.mixer == "MX1")
    full = with_batch(plan, batch.batch, mass_mg=1_500_000_000)
    light = dataclasses.replace(
        ASKED.mill,
        ingredients=tuple(
            dataclasses.replace(row, density_kg_m3=200.0) for row in ASKED.mill.ingredients
        ),
    )
    said = [(row.code, row.limit) for row in verify_plan(light, full) if row.about == batch.batch]
    limit = next(limit for code, limit in said if code == "mixer.full")
    volume_m3 = ASKED.mill.machine_by_code["MX1"].volume_max_m3
    assert volume_m3 is not None
    assert limit == pytest.approx(200.0 * volume_m3, rel=1e-6)


def test_a_route_that_is_none_is_refused(plan: Plan):
    """A batch sent where no route leads is refused."""
    assert "route.none" in codes(ASKED, with_batch(plan, "1-01", route=("MX1", "PL1", "SK2")))


def test_an_unknown_machine_is_refused_before_anything_else(plan: Plan):
    """A machine that the mill does not have ends the checking with one clear refusal."""
    found = stops(ASKED, with_batch(plan, "1-01", route=("MX7",)))
    assert [(finding.code, finding.about) for finding in found] == [("plan.unknown", "1-01")]
    assert "MX7" in found[0].text


def test_a_formula_that_does_not_run_is_refused(plan: Plan):
    """A batch by a version that is not running is refused."""
    draft = dataclasses.replace(
        ASKED.mill,
        formulas=tuple(
            dataclasses.replace(row, status="approved") if row.product == "SHEEP" else row
            for row in ASKED.mill.formulas
        ),
    )
    found = verify_plan(draft, plan, stock_mg=ASKED.stock_mg)
    assert ("formula.status", "2-01") in {(row.code, row.about) for row in found}


def test_tables_that_changed_are_said(plan: Plan):
    """A plan of an older revision is judged by the newer one, and told so."""
    newer = dataclasses.replace(ASKED.mill, revision=4)
    found = verify_plan(newer, plan)
    assert ("plan.revision", Verdict.ACT) in {(row.code, row.verdict) for row in found}


def _with_draw(plan: Plan, **changed: object) -> Plan:
    batch = batch_of(plan, "1-01")
    draw = dataclasses.replace(batch.draws[0], **changed)
    return with_batch(plan, "1-01", draws=(draw, *batch.draws[1:]))


@pytest.mark.parametrize(
    ("changed", "code"),
    [
        ({"target_mg": 5_000_000}, "draws.total"),
        ({"target_mg": 5_000_000}, "draws.formula"),
        ({"ingredient": "LIME", "from_place": "B3"}, "draws.formula"),
        ({"instrument": "SC2"}, "draws.instrument"),
        ({"from_place": "B1"}, "draws.bin"),
    ],
)
def test_draws_must_match_formula_scale_and_bin(plan: Plan, changed: dict[str, object], code: str):
    """A draw of another mass, ingredient, scale or bin than the formula and tables say is refused."""
    assert code in codes(ASKED, _with_draw(plan, **changed))


def test_draws_beyond_what_lies_there_are_refused(plan: Plan):
    """The same plan on a mill with hardly any premix is refused where it runs out."""
    poor = dataclasses.replace(ASKED, stock_mg=stock(P1=30))
    found = [row for row in stops(poor, plan) if row.code == "stock.short"]
    assert [row.about for row in found] == ["1-02"]
    assert "Px-Pig" in found[0].text


def test_feed_for_stock_must_come_first(plan: Plan):
    """Textured feed whose pellets are not made before it takes what is not there."""
    without = dataclasses.replace(
        plan,
        batches=tuple(row for row in plan.batches if row.run != run_of(plan, "HORSE-PL").run),
        runs=tuple(row for row in plan.runs if row.product != "HORSE-PL"),
    )
    assert "stock.short" in codes(ASKED, without)


def test_a_finished_bin_holds_one_feed_at_a_time(plan: Plan):
    """Two runs of different feeds in one bin at once are refused, and so is old feed in it."""
    one, other = run_of(plan, "PIG-CU"), run_of(plan, "SHEEP")
    first = one if one.start_at < other.start_at else other
    old = {**ASKED.stock_mg, (first.finished_bin, "LAYER"): 2_000_000_000}
    assert "bin.taken" in codes(dataclasses.replace(ASKED, stock_mg=old), plan)


def test_a_flush_goes_to_the_flush_bin():
    """A flush sent into a finished bin is refused with the rule's number."""
    made = problem(wanted("2", "SHEEP", 2000), starting=())
    plan = plan_of(made)
    flush = next(row for row in plan.batches if row.kind is BatchKind.FLUSH)
    found = stops(made, with_batch(plan, flush.batch, destination="FB1"))
    assert [(row.code, row.source) for row in found] == [
        ("flush.destination", "21 CFR 225.65(b)(2)")
    ]


def test_a_full_flush_bin_is_refused():
    """Flushes beyond what the flush bin holds are refused."""
    made = problem(wanted("2", "SHEEP", 2000), starting=())
    full = {**made.stock_mg, ("FL1", "BARLEY-G"): 9_950_000_000}
    assert "bin.full" in codes(dataclasses.replace(made, stock_mg=full), plan_of(made))


def test_lines_run_in_the_order_of_the_mixer(plan: Plan):
    """A run that overtakes another between mixer and line cannot be followed and is refused."""
    pellets = [run for run in plan.runs if run.product in ("PIG-CU", "SHEEP")]
    one, other = sorted(pellets, key=lambda run: run.start_at)
    moved = dataclasses.replace(
        plan,
        bars=tuple(
            dataclasses.replace(bar, about=other.run if bar.about == one.run else one.run)
            if bar.machine == "PL1" and bar.about in (one.run, other.run)
            else bar
            for bar in plan.bars
        ),
    )
    assert {"steps.overtakes", "steps.order"} & codes(ASKED, moved)


def test_a_line_without_time_for_a_run_is_refused(plan: Plan):
    """A plan whose pellet line has no bar for a run says so."""
    run = run_of(plan, "SHEEP").run
    bare = dataclasses.replace(
        plan,
        bars=tuple(row for row in plan.bars if not (row.machine == "PL1" and row.about == run)),
    )
    assert "steps.no_time" in codes(ASKED, bare)


def test_what_is_left_of_a_plan_can_be_judged(plan: Plan):
    """With its first batches made and gone, the rest of a good plan is still good."""
    for count in range(1, len(plan.batches)):
        rest = dataclasses.replace(plan, batches=plan.batches[count:])
        known = Known(batches={batch.batch: batch.run for batch in plan.batches[:count]})
        found = verify_plan(ASKED.mill, rest, known=known)
        residue = [finding for finding in found if finding.verdict is Verdict.STOP]
        assert residue == []
