"""A day of the made-up mill planned: what runs before what, what is needed between, what is left out."""

import dataclasses
import datetime as dt

import pytest

from bedstone.errors import BadInput
from bedstone.mill.model import Limit, Mill, Route, Shift
from bedstone.mill.plan import Batch, BatchKind, HeldSubstance, Verdict
from bedstone.mill.residue import MaterialPassed, replay
from bedstone.planning.day import plan_runs
from bedstone.planning.model import DayOutcome, OrderToMake
from fakes.planned import plan_of, stops
from fakes.planning_mill import NOW, clean_start, planning_mill, problem, stock, wanted


def flushes(outcome: DayOutcome) -> list[Batch]:
    """The flush batches of an outcome."""
    return [batch for batch in outcome.batches if batch.kind is BatchKind.FLUSH]


def held_after(
    mill: Mill, product: str, route: tuple[str, ...], contents: dict[str, float]
) -> tuple[HeldSubstance, ...]:
    """What a clean mill holds after one full batch of a product."""
    event = MaterialPassed(route=route, material=product, mass_mg=2_000_000_000, contents=contents)
    return replay(mill, [event], starting=clean_start(mill))


def test_a_clean_mill_needs_no_flush():
    """One sheep order on a clean mill runs with nothing before it."""
    outcome = plan_runs(problem(wanted("4107", "SHEEP", 3000)))
    assert [batch.batch for batch in outcome.batches] == ["4107-01", "4107-02"]
    assert (flushes(outcome), outcome.clean_outs, outcome.left_out) == ([], (), ())
    assert outcome.costs.running_cents100 == 0


def test_copper_before_sheep_is_turned_round():
    """Sheep feed goes before the copper feed when nothing speaks against it: no flush at all."""
    outcome = plan_runs(
        problem(wanted("1", "PIG-CU", 2000, entered_h=-30), wanted("2", "SHEEP", 2000))
    )
    assert [run.product for run in outcome.runs] == ["SHEEP", "PIG-CU"]
    assert flushes(outcome) == []
    assert outcome.as_orders_came is not None
    assert outcome.as_orders_came.flushes == 1
    assert outcome.costs.running_cents100 < outcome.as_orders_came.running_cents100


def test_sheep_feed_after_copper_is_flushed_and_says_why():
    """A mill that has just run copper feed flushes before sheep feed, with number and source."""
    mill = planning_mill()
    route = ("MX1", "SB1", "PL1", "FB1", "SK1")
    starting = held_after(mill, "PIG-CU", route, {"copper": 200.0})
    outcome = plan_runs(problem(wanted("4107", "SHEEP", 2000), mill=mill, starting=starting))
    (flush,) = flushes(outcome)
    assert flush.batch == "4107-01-flush"
    assert (flush.material, flush.destination) == ("BARLEY-G", "FL1")
    assert "the first sacks would carry" in flush.reason
    assert "the limit of Sheep is 15 (mill policy)" in flush.reason
    assert "FL1" in flush.fate
    assert "21 CFR 225.65(b)(2)" in flush.fate


def test_the_flush_is_the_smallest_that_is_enough():
    """Less by the scale's tolerance still does; one division less again and it is refused."""
    mill = planning_mill()
    route = ("MX1", "SB1", "PL1", "FB1", "SK1")
    starting = held_after(mill, "PIG-CU", route, {"copper": 200.0})
    asked = problem(wanted("4107", "SHEEP", 2000), mill=mill, starting=starting)
    plan = plan_of(asked)
    assert stops(asked, plan) == []

    def codes_with_less(divisions: int) -> set[str]:
        smaller = tuple(
            dataclasses.replace(batch, mass_mg=batch.mass_mg - divisions * 1_000_000)
            if batch.kind is BatchKind.FLUSH
            else batch
            for batch in plan.batches
        )
        return {row.code for row in stops(asked, dataclasses.replace(plan, batches=smaller))}

    least = next(batch.mass_mg for batch in plan.batches if batch.kind is BatchKind.FLUSH)
    assert 100_000_000 < least < 500_000_000  # above the least flush; up to 500 divisions: one
    assert "residue.level" not in codes_with_less(1)
    assert "residue.level" in codes_with_less(2)


def test_a_procedure_passes_what_it_says_and_the_scale_s_tolerance():
    """Three hundred kilograms are declared after monensin: one division more is weighed out."""
    mill = planning_mill()
    route = ("MX1", "SB1", "PL1", "FB1", "SK1")
    starting = held_after(mill, "BEEF-M", route, {"monensin": 30.0})
    outcome = plan_runs(problem(wanted("4107", "SHEEP", 2000), mill=mill, starting=starting))
    flush = flushes(outcome)[0]
    assert flush.mass_mg == 301_000_000  # Handbook 44: one division up to 500 of them
    assert flush.route[-1] in ("SK1", "LO1")  # the sacking line has run it too
    assert "300 kg must pass" in flush.reason


def test_a_clean_out_limit_is_cleaned_by_hand():
    """Layer feed after monensin wants the machines cleaned by hand: a flush is no help."""
    mill = planning_mill()
    starting = held_after(mill, "BEEF-M", ("MX1", "FB1", "SK1"), {"monensin": 30.0})
    two_used = problem(wanted("1", "LAYER", 1000), mill=mill, starting=starting, stock_mg=stock())
    outcome = plan_runs(two_used)
    (clean,) = outcome.clean_outs
    assert clean.before_batch == "1-01"
    assert "MX1" in clean.places
    assert clean.end_at <= outcome.batches[0].start_at
    assert flushes(outcome) == []
    assert outcome.costs.clean_out_cents100 > 0


def test_what_must_never_meet_is_left_out_with_the_place():
    """Monensin feed routed over the horses' sacking line leaves horse feed out as never."""
    mill = planning_mill()
    beef = dataclasses.replace(mill.product("BEEF-M"), route="MX1|MX2 > FB1|FB3 > SK1|SK2|LO1")
    mill = dataclasses.replace(
        mill,
        products=tuple(beef if row.product == "BEEF-M" else row for row in mill.products),
    )
    outcome = plan_runs(problem(wanted("1", "HORSE-CF", 500), mill=mill))
    (left,) = outcome.left_out
    assert left.because == "never"
    assert "monensin" in left.text
    assert "21 CFR 558.355" in left.text


def test_an_own_formula_above_its_limit_is_left_out():
    """Sheep feed with 5 mg/kg of its own cannot run under a limit of 4."""
    limit = Limit(
        species="sheep", substance="copper", kind="level", level_mg_kg=4.0, source="customer"
    )
    outcome = plan_runs(problem(wanted("1", "SHEEP", 500), mill=planning_mill(limits=(limit,))))
    (left,) = outcome.left_out
    assert left.because == "formula"
    assert "4.9 mg/kg" in left.text
    assert "limit is 4 mg/kg (customer)" in left.text


def test_who_is_due_first_gets_what_is_scarce():
    """With premix for one of two orders, the one due first is made, the other named with numbers."""
    orders = (wanted("1", "PIG-CU", 2000, due_h=9), wanted("2", "PIG-CU", 2000, due_h=5))
    outcome = plan_runs(problem(*orders, stock_mg=stock(P1=50)))
    assert [run.order for run in outcome.runs] == ["2"]
    (left,) = outcome.left_out
    assert (left.order, left.because) == ("1", "stock")
    assert "40 kg of Px-Pig; 10 kg is left" in left.text


def test_what_does_not_fit_into_the_shift_is_named_and_the_rest_is_made():
    """More than a shift's work: what fits is made, what does not says how much time is missing."""
    short_day = Shift(machine="", weekday="Wed", start_time=dt.time(6), end_time=dt.time(10))
    asked = problem(
        *(wanted(str(number), "PIG-CU", 8_000, pack="bulk") for number in range(5)),
        mill=planning_mill(shifts=(short_day,)),
    )
    plan = plan_of(asked)
    assert {run.order for run in plan.runs} | {row.order for row in plan.left_out} == set("01234")
    assert len(plan.runs) >= 2
    assert {row.because for row in plan.left_out} == {"time"}
    assert all("of its shifts today is left" in row.text for row in plan.left_out)
    assert stops(asked, plan) == []


def test_grain_is_ground_before_it_is_needed_and_the_bin_never_overflows():
    """With 500 kg of ground corn and 5,000 wanted, jobs are planned and levels stay in the bin."""
    asked = problem(wanted("1", "LAYER", 6000, pack="bulk"), stock_mg=stock(G1=500))
    plan = plan_of(asked)
    assert {job.makes for job in plan.grinding} == {"CORN-G"}
    job = plan.grinding[0]
    assert job.mass_in_mg == pytest.approx(job.mass_out_mg / 0.99, abs=1)
    assert stops(asked, plan) == []


def test_feed_that_goes_into_another_is_made_first():
    """Without horse pellets in stock a run for stock comes first, and the textured feed waits."""
    asked = problem(wanted("9", "HORSE-TX", 1500))
    plan = plan_of(asked)
    by_product = {run.product: run for run in plan.runs}
    made = by_product["HORSE-PL"]
    assert (made.pack, made.order, made.finished_bin) == ("stock", "", "FB5")
    assert by_product["HORSE-TX"].start_at >= made.ready_at
    assert made.mass_mg >= 0.4 * by_product["HORSE-TX"].mass_mg
    assert stops(asked, plan) == []


def test_feed_in_stock_is_not_made_again():
    """With enough horse pellets in their bin no run for stock is planned."""
    lying = {**stock(), ("FB5", "HORSE-PL"): 1_000_000_000}
    outcome = plan_runs(problem(wanted("9", "HORSE-TX", 1500), stock_mg=lying))
    assert [run.product for run in outcome.runs] == ["HORSE-TX"]


def test_a_finished_bin_that_is_not_empty_is_left_alone():
    """With old feed in one bin and in the other, nothing that needs them can be made."""
    lying = {
        **stock(),
        ("FB1", "LAYER"): 3_000_000_000,
        ("FB2", "LAYER"): 3_000_000_000,
    }
    outcome = plan_runs(problem(wanted("1", "SHEEP", 1000), stock_mg=lying))
    (left,) = outcome.left_out
    assert left.because == "bin"
    assert "holds 3,000 kg Layer" in left.text


def test_an_order_too_small_for_the_mixer_says_what_is_left_over():
    """Twelve bags on a mixer of 500 kg smallest fill make a finding that asks for something."""
    outcome = plan_runs(problem(wanted("1", "LAYER", 300)))
    (run,) = outcome.runs
    (finding,) = run.findings
    assert (finding.code, finding.value) == ("batches.surplus", 200.0)
    assert (finding.verdict, finding.limit) == (Verdict.ACT, 500.0)
    assert "200 kg more than is ordered: the smallest fill" in finding.text
    assert run.bags == 12


def test_an_order_beside_which_more_is_left_over_than_it_asks_for_is_left_out():
    """Twelve kilograms are not made by a mixer of 500 kg smallest fill; half a fill is."""
    outcome = plan_runs(problem(wanted("1", "LAYER", 12, pack="bulk"), wanted("2", "LAYER", 250)))
    (left,) = outcome.left_out
    assert (left.order, left.because) == ("1", "size")
    assert "488 kg more than is ordered" in left.text
    assert [run.order for run in outcome.runs] == ["2"]


def test_the_rest_of_a_large_order_is_not_too_small():
    """What is missing of an order of two tonnes is made, however little it is."""
    asked = dataclasses.replace(wanted("1", "LAYER", 2000), remaining_mg=25_000_000)
    outcome = plan_runs(problem(asked))
    assert [run.order for run in outcome.runs] == ["1"]


def test_numbers_of_batches_go_on_where_they_stopped():
    """What is left of an order is planned with the numbers after those that are made."""
    asked = wanted("4107", "LAYER", 3000)
    asked = dataclasses.replace(asked, remaining_mg=1_000_000_000, batches_used=2)
    outcome = plan_runs(problem(asked))
    assert [batch.batch for batch in outcome.batches] == ["4107-03"]


def test_nothing_begins_before_now():
    """A plan made at noon plans the afternoon."""
    asked = dataclasses.replace(
        problem(wanted("1", "LAYER", 1000)), now=NOW + dt.timedelta(hours=7)
    )
    outcome = plan_runs(asked)
    assert min(bar.start_at for bar in outcome.bars) >= NOW + dt.timedelta(hours=7)


def test_the_same_day_gives_the_same_plan():
    """Planning is a pure function of the problem and its seed."""
    orders = [
        wanted("1", "PIG-CU", 3000),
        wanted("2", "SHEEP", 3000),
        wanted("3", "LAYER", 2500),
        wanted("4", "HORSE-CF", 1500),
        wanted("5", "BEEF-M", 4000, pack="bulk"),
    ]
    assert plan_of(problem(*orders, seed=4)) == plan_of(problem(*orders, seed=4))


def test_what_is_busy_is_waited_for():
    """With the mixer busy until nine and a bin until noon, the run takes the other bin at nine."""
    nine, noon = NOW + dt.timedelta(hours=4), NOW + dt.timedelta(hours=7)
    asked = dataclasses.replace(
        problem(wanted("1", "LAYER", 1000)), free_at={"MX1": nine, "FB1": noon}
    )
    (run,) = plan_runs(asked).runs
    assert run.start_at == nine
    assert run.finished_bin == "FB2"


def test_with_nothing_to_make_nothing_is_planned():
    """A day without orders is an empty plan, not a fault."""
    outcome = plan_runs(problem())
    assert (outcome.runs, outcome.batches, outcome.left_out) == ((), (), ())
    assert outcome.as_orders_came is None


@pytest.mark.parametrize(
    ("order", "because"),
    [
        (wanted("1", "NO-SUCH", 1000), "formula"),
        (wanted("1", "HORSE-CF", 1000, pack="bulk"), "route"),
        (wanted("1", "SHEEP", 1000, entered_h=20.0), "time"),
    ],
)
def test_every_order_left_out_has_its_reason(order: OrderToMake, because: str):
    """An unknown product, a pack with no way, an order that comes tonight: each is named."""
    (left,) = plan_runs(problem(order)).left_out
    assert left.because == because
    assert left.text.endswith(".")


def test_a_product_without_a_way_is_left_out():
    """A product whose route is empty cannot be made, and that is said."""
    mill = planning_mill()
    lost = dataclasses.replace(mill.product("SHEEP"), route="")
    products = tuple(lost if row.product == "SHEEP" else row for row in mill.products)
    asked = problem(wanted("1", "SHEEP", 1000), mill=dataclasses.replace(mill, products=products))
    (left,) = plan_runs(asked).left_out
    assert left.because == "route"


def test_a_closed_day_makes_nothing():
    """On a day without shifts every order waits."""
    sunday = Shift(machine="", weekday="Sun", start_time=dt.time(6), end_time=dt.time(10))
    asked = problem(wanted("1", "SHEEP", 1000), mill=planning_mill(shifts=(sunday,)))
    (left,) = plan_runs(asked).left_out
    assert (left.because, left.text) == ("time", "MX1 has no shift left today.")


def test_a_time_without_zone_is_refused():
    """A plan needs to know when now is."""
    asked = dataclasses.replace(problem(), now=NOW.replace(tzinfo=None))
    with pytest.raises(BadInput, match="zone"):
        plan_runs(asked)


def test_each_mixer_is_served_from_its_own_ground_bin():
    """Where each mixer has a barley bin of its own, what lies in the other's does not help."""
    mill = planning_mill()
    own = dataclasses.replace(mill.bin_by_code["G2"], feeds="SC1")
    other = dataclasses.replace(own, bin="G3", feeds="SC2", capacity_kg=3_000.0)
    bins = tuple(own if row.bin == "G2" else row for row in mill.bins)
    mill = dataclasses.replace(
        mill, bins=(*bins, other), routes=(*mill.routes, Route(start="HM1", end="G3"))
    )
    lying = {**stock(), ("G3", "BARLEY-G"): 200_000_000}
    outcome = plan_runs(problem(wanted("1", "HORSE-CF", 2000), mill=mill, stock_mg=lying))
    (run,) = outcome.runs
    assert run.product == "HORSE-CF"
    assert {job.to_place for job in outcome.grinding} == {"G3"}
    assert sum(job.mass_out_mg for job in outcome.grinding) >= 1_800_000_000
    no_grain = {key: mass for key, mass in lying.items() if key[0] != "B2"}
    outcome = plan_runs(problem(wanted("1", "HORSE-CF", 2000), mill=mill, stock_mg=no_grain))
    (left,) = outcome.left_out
    assert left.because == "stock"
    assert "4,000 kg more lies where MX2 cannot draw it" in left.text
