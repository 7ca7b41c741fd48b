"""No random mill and day makes a plan that the verifier refuses."""

import dataclasses
import datetime as dt

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bedstone.mill.contents import contents_of
from bedstone.mill.model import Limit, Mill, Shift
from bedstone.mill.residue import MaterialPassed, replay
from bedstone.planning.model import DayProblem, OrderToMake
from bedstone.planning.paths import Paths
from fakes.planned import plan_of, stops
from fakes.planning_mill import PRODUCTS, clean_start, planning_mill, problem, stock, wanted

SPECIES = sorted({species for species, _, _ in PRODUCTS.values()})


@st.composite
def limits(draw: st.DrawFn) -> Limit:
    """Any limit of any species for any substance."""
    kind = draw(st.sampled_from(("level", "level", "procedure", "clean-out", "never")))
    return Limit(
        species=draw(st.sampled_from(SPECIES)),
        substance=draw(st.sampled_from(("copper", "monensin", "corn"))),
        kind=kind,
        level_mg_kg=draw(st.floats(0.5, 300.0)) if kind == "level" else None,
        flush_kg=float(draw(st.integers(50, 2500))) if kind == "procedure" else None,
        source="mill policy",
    )


@st.composite
def mills(draw: st.DrawFn) -> Mill:
    """The made-up mill with any hold-ups, limits, shifts with a break, and flush material."""
    kept = st.just(0.0) | st.floats(0.3, 120.0)
    first = draw(st.integers(4, 9))
    pause = draw(st.integers(first + 3, 15))
    shifts = (
        Shift(machine="", weekday="Wed", start_time=dt.time(first), end_time=dt.time(pause)),
        Shift(machine="", weekday="Wed", start_time=dt.time(pause, 30), end_time=dt.time(22)),
    )
    mill = planning_mill(
        limits=tuple(draw(st.lists(limits(), max_size=6))),
        shifts=shifts,
        flush_material=draw(st.sampled_from(("BARLEY-G", "CORN-G", ""))),
    )
    return dataclasses.replace(
        mill,
        machines=tuple(
            dataclasses.replace(row, hold_up_kg=draw(kept), exchange_frac=draw(st.floats(0.1, 1)))
            for row in mill.machines
        ),
        routes=tuple(dataclasses.replace(row, hold_up_kg=draw(kept)) for row in mill.routes),
    )


@st.composite
def orders(draw: st.DrawFn, number: int) -> OrderToMake:
    """Any order of any product."""
    return wanted(
        str(4100 + number),
        draw(st.sampled_from(sorted(PRODUCTS))),
        float(draw(st.integers(20, 9000))),
        pack=draw(st.sampled_from(("bags", "bulk"))),
        due_h=draw(st.floats(-2.0, 30.0)),
        entered_h=draw(st.floats(-40.0, 0.0)),
    )


@st.composite
def days(draw: st.DrawFn) -> DayProblem:
    """Any day: orders, stock scarce or plentiful, machines clean, dirty or unknown."""
    mill = draw(mills())
    starting = draw(st.sampled_from(("clean", "unknown", "dirty")))
    held = clean_start(mill) if starting == "clean" else ()
    if starting == "dirty":
        product = draw(st.sampled_from(sorted(PRODUCTS)))
        route = draw(st.sampled_from(Paths(mill).all_of(mill.product(product))))
        mass_mg = draw(st.integers(10**8, 2 * 10**9))
        event = MaterialPassed(
            route=route, material=product, mass_mg=mass_mg, contents=contents_of(mill, product)
        )
        held = replay(mill, [event], starting=clean_start(mill))
    lying = stock(
        G1=float(draw(st.integers(0, 8000))),
        G2=float(draw(st.integers(0, 8000))),
        B1=float(draw(st.integers(0, 40_000))),
        P1=float(draw(st.integers(0, 300))),
    )
    return problem(
        *(draw(orders(number)) for number in range(draw(st.integers(1, 7)))),
        mill=mill,
        starting=held,
        stock_mg=lying,
        evaluations=8,
        seed=draw(st.integers(0, 99)),
    )


@given(days())
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_no_day_makes_a_plan_that_is_refused(asked: DayProblem):
    """Whatever the mill, its residue, stock and orders: the plan is safe, and no order is lost."""
    plan = plan_of(asked)
    assert [finding.text for finding in stops(asked, plan)] == []
    made = {run.order for run in plan.runs if run.order}
    left = {row.order for row in plan.left_out}
    assert made | left == {row.order.order for row in asked.orders}
    assert not made & left
    assert all(row.text and row.because for row in plan.left_out)
