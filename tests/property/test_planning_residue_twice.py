"""The planner's residue and the verifier's are two reckonings of one thing."""

import dataclasses

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bedstone.mill.contents import contents_of
from bedstone.mill.residue import CleanedOut, MaterialPassed, Residue
from bedstone.planning.paths import Paths
from bedstone.planning.plain_residue import PlainResidue
from fakes.planning_mill import PRODUCTS, planning_mill

MILL = planning_mill()
WAYS = {
    code: Paths(MILL).for_pack(MILL.product(code), pack)
    for code, pack in ((code, "bags") for code in PRODUCTS)
}


@st.composite
def events(draw: st.DrawFn) -> MaterialPassed | CleanedOut:
    """A batch of any product along any of its ways, or a clean-out of any places."""
    if draw(st.integers(0, 5)) == 0:
        places = [row.place for row in Residue(MILL).places.all]
        return CleanedOut(places=tuple(draw(st.lists(st.sampled_from(places), max_size=4))))
    product = draw(st.sampled_from(sorted(PRODUCTS)))
    route = draw(st.sampled_from(WAYS[product]))
    return MaterialPassed(
        route=route[: draw(st.integers(1, len(route)))],
        material=product,
        mass_mg=draw(st.integers(20_000_000, 2_000_000_000)),
        contents=contents_of(MILL, product),
    )


@st.composite
def hold_ups(draw: st.DrawFn) -> dict[str, float]:
    """What each place keeps, from nothing to much."""
    return {
        row.place: draw(st.just(0.0) | st.floats(0.2, 150.0)) for row in Residue(MILL).places.all
    }


@given(st.lists(events(), min_size=1, max_size=8), hold_ups())
@settings(max_examples=40, deadline=None)
def test_both_reckonings_agree(happened: list[MaterialPassed | CleanedOut], kept: dict[str, float]):
    """Each portion of each batch, and the state after all, agree to a millionth of the worst."""
    mill = dataclasses.replace(
        MILL,
        machines=tuple(
            dataclasses.replace(row, hold_up_kg=kept.get(row.machine, 0.0)) for row in MILL.machines
        ),
        bins=tuple(
            dataclasses.replace(row, hold_up_kg=kept.get(row.bin, 0.0)) for row in MILL.bins
        ),
        routes=tuple(
            dataclasses.replace(row, hold_up_kg=kept.get(f"{row.start}>{row.end}", 0.0))
            for row in MILL.routes
        ),
    )
    residue, plain = Residue(mill), PlainResidue(mill)
    state = residue.unknown()
    for event in happened:
        if isinstance(event, CleanedOut):
            residue.clean(state, event.places)
            plain.clean(event.places)
            continue
        mass_kg = event.mass_mg / 1e6
        way, own = residue.way(event.route), residue.own(event.contents)
        carried = residue.map(way, masses_kg=(mass_kg,), sack_kg=25.0)
        sacks = residue.sacks(state, way, carried=carried, own=own)
        residue.pass_through(
            state, way, carried=carried, own=own, mass_kg=mass_kg, material=event.material
        )
        portions = plain.pass_batch(
            event.route,
            material=event.material,
            mass_kg=mass_kg,
            contents=event.contents,
            sack_kg=25.0,
        )
        for number, substance in enumerate(residue.substances):
            worst = max(1e-9, float(sacks[:, number].max()))
            assert portions[substance] == pytest.approx(
                list(sacks[:, number]), rel=1e-6, abs=1e-7 * worst
            )
    for row in residue.to_held(state):
        holding = plain.at(row.place, row.substance)
        if kept.get(row.place, 0.0) > 0 or row.place in ("MX1", "MX2"):
            assert holding.held_mg_kg == pytest.approx(row.concentration_mg_kg, rel=1e-6, abs=1e-9)
        passed_mg = None if holding.passed_kg == float("inf") else holding.passed_kg * 1e6
        assert passed_mg == pytest.approx(row.passed_mg, abs=1.0)
        assert (holding.known, holding.left_by) == (row.known, row.left_by)
        assert holding.ever_handled == row.ever_handled
