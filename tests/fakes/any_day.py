"""Any mill and any day, small: for properties of the planner."""

import dataclasses
import datetime as dt

from hypothesis import strategies as st

from bedstone.mill.contents import contents_of
from bedstone.mill.model import Limit, Mill, Route, Shift
from bedstone.mill.residue import MaterialPassed, replay
from bedstone.planning.model import DayProblem, OrderToMake
from bedstone.planning.paths import Paths
from fakes.planning_mill import PRODUCTS, clean_start, planning_mill, problem, stock, wanted

__all__ = ["days", "mills"]

SPECIES = sorted({species for species, _, _ in PRODUCTS.values()})


OWN = {
    (species, substance): max(
        contents_of(planning_mill(), code).get(substance, 0.0)
        for code, (its, _, _) in PRODUCTS.items()
        if its == species
    )
    for species in SPECIES
    for substance in ("copper", "monensin", "corn")
}


@st.composite
def limits(draw: st.DrawFn) -> Limit:
    """A limit that the feeds of a species keep by themselves: of any kind where they have nothing
    of it, else a level somewhat above their own.
    """
    species, substance = draw(st.sampled_from(sorted(OWN)))
    own = OWN[species, substance]
    kinds = ("level",) if own > 0 else ("level", "level", "procedure", "procedure", "clean-out")
    kind = draw(st.sampled_from(kinds))
    largest = 1_000_000.0 if substance == "corn" else 200.0
    return Limit(
        species=species,
        substance=substance,
        kind=kind,
        level_mg_kg=own + largest * draw(st.floats(0.002, 0.3)) if kind == "level" else None,
        flush_kg=float(draw(st.integers(50, 2500))) if kind == "procedure" else None,
        source="mill policy",
    )


WILD = st.builds(
    Limit,
    species=st.sampled_from(SPECIES),
    substance=st.sampled_from(("copper", "monensin", "corn")),
    kind=st.just("never"),
    source=st.just("mill policy"),
)


def _with_shared_ways(mill: Mill) -> Mill:
    """The mill with mash from either mixer into the same bins, and pellets too."""
    routes = {
        "LAYER": "MX1|MX2 > FB1|FB2 > SK1|LO1",
        "BEEF-M": "MX2|MX1 > FB1|FB2 > SK1|LO1",
        "SHEEP": "MX1|MX2 > SB1 > PL1 > FB1|FB2 > SK1|LO1",
    }
    return dataclasses.replace(
        mill,
        products=tuple(
            dataclasses.replace(row, route=routes.get(row.product, row.route))
            for row in mill.products
        ),
        bins=tuple(
            dataclasses.replace(row, feeds="SC1 SC2") if row.feeds == "SC1" else row
            for row in mill.bins
        ),
        routes=(
            *mill.routes,
            *(Route(start="MX2", end=end) for end in ("FB1", "FB2", "SB1")),
        ),
    )


@st.composite
def mills(draw: st.DrawFn) -> Mill:
    """The made-up mill with any hold-ups, limits, shifts with a break, and flush material."""
    kept = st.sampled_from((20.0, 60.0, 0.0, 5.0, 120.0)) | st.floats(0.3, 120.0)
    first = draw(st.integers(4, 9))
    pause = draw(st.integers(first + 3, 15))
    shifts = (
        Shift(machine="", weekday="Wed", start_time=dt.time(first), end_time=dt.time(pause)),
        Shift(machine="", weekday="Wed", start_time=dt.time(pause, 30), end_time=dt.time(22)),
    )
    mill = planning_mill(
        limits=tuple(
            draw(st.lists(limits(), min_size=2, max_size=7)) + draw(st.lists(WILD, max_size=1))
        ),
        shifts=shifts,
        flush_material=draw(st.sampled_from(("BARLEY-G", "BARLEY-G", "CORN-G", ""))),
    )
    if draw(st.booleans()):
        mill = _with_shared_ways(mill)
    labour_usd_h = draw(st.sampled_from((600.0, 60.0)))  # dear: flushes; cheap: clean-outs
    return dataclasses.replace(
        mill,
        settings=dataclasses.replace(mill.settings, labour_usd_h=labour_usd_h),
        machines=tuple(
            dataclasses.replace(row, hold_up_kg=draw(kept), exchange_frac=draw(st.floats(0.1, 1)))
            for row in mill.machines
        ),
        routes=tuple(dataclasses.replace(row, hold_up_kg=draw(kept)) for row in mill.routes),
    )


@st.composite
def orders(draw: st.DrawFn, number: int) -> OrderToMake:
    """Any order of any product."""
    product = draw(st.sampled_from(sorted(PRODUCTS)))
    packs = ("bags",) if product.startswith("HORSE") else ("bags", "bulk")
    return wanted(
        str(4100 + number),
        product,
        float(draw(st.integers(20, 9000))),
        pack=draw(st.sampled_from(packs)),
        due_h=draw(st.floats(-2.0, 30.0)),
        entered_h=draw(st.floats(-40.0, 0.0)),
    )


@st.composite
def days(draw: st.DrawFn) -> DayProblem:
    """Any day: orders, stock scarce or plentiful, machines clean, dirty or unknown."""
    mill = draw(mills())
    starting = draw(st.sampled_from(("dirty", "unknown", "clean")))
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
        B1=float(draw(st.sampled_from((40_000, 5_000)))),
        P1=float(draw(st.sampled_from((2_000, 60)))),
    )
    return problem(
        *(draw(orders(number)) for number in range(draw(st.integers(2, 7)))),
        mill=mill,
        starting=held,
        stock_mg=lying,
        evaluations=8,
        seed=draw(st.integers(0, 99)),
    )
