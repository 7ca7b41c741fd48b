"""A limit of kind never: no place on the way has ever handled the substance."""

import dataclasses

import pytest

from bedstone.mill.contents import contents_of
from bedstone.mill.plan import Batch, HeldSubstance
from bedstone.mill.residue import CleanedOut, MaterialPassed, Residue, replay
from bedstone.planning.day import plan_runs
from bedstone.planning.plan_json import plan_from_json, plan_to_json
from bedstone.planning.verifier import verify_sequence
from fakes.planned import plan_of, stops
from fakes.planning_mill import clean_start, planning_mill, problem, wanted

MILL = planning_mill()
HORSE = problem(wanted("4101", "HORSE-CF", 2000), mill=MILL)
EVERYWHERE = CleanedOut(places=tuple(row.place for row in Residue(MILL).places.all))


def passed(product: str, route: tuple[str, ...], mass_kg: float = 1000.0) -> MaterialPassed:
    """A batch of a product along a route."""
    return MaterialPassed(
        route=route,
        material=product,
        mass_mg=round(mass_kg * 1e6),
        contents=contents_of(MILL, product),
    )


def horse_batch() -> Batch:
    """A batch of horse feed as it is planned on clean machines."""
    return next(row for row in plan_of(HORSE).batches if row.material == "HORSE-CF")


def after(*events: MaterialPassed | CleanedOut) -> tuple[HeldSubstance, ...]:
    """What machines hold after events, all of them clean before."""
    return replay(MILL, events, starting=clean_start(MILL))


def test_a_clean_out_does_not_make_a_place_one_that_never_handled_it():
    """Monensin feed on the horses' line, then every place cleaned by hand: no horse feed there."""
    batch = horse_batch()
    made = (passed("BEEF-M", batch.route), EVERYWHERE)
    found = verify_sequence(MILL, starting=clean_start(MILL), made=made, then=(batch,))
    assert [row.code for row in found] == ["residue.never"]
    outcome = plan_runs(dataclasses.replace(HORSE, starting=after(*made)))
    assert [row.because for row in outcome.left_out] == ["never"]


def test_no_amount_of_flush_makes_a_place_one_that_never_handled_it():
    """Twenty tons of clean feed after monensin do not let horse feed on the line."""
    batch = horse_batch()
    made = (passed("BEEF-M", batch.route), *(passed("LAYER", batch.route) for _ in range(20)))
    found = verify_sequence(MILL, starting=clean_start(MILL), made=made, then=(batch,))
    assert "residue.never" in [row.code for row in found]
    outcome = plan_runs(dataclasses.replace(HORSE, starting=after(*made)))
    assert [row.because for row in outcome.left_out] == ["never"]


def test_what_a_feed_carries_on_counts_as_handled_after_a_clean_out():
    """Feed that picked monensin up in the mixer brings it to the line; cleaning leaves the mark."""
    batch = horse_batch()
    made = (passed("BEEF-M", batch.route[:1]), passed("LAYER", batch.route), EVERYWHERE)
    marked = {row.place for row in after(*made) if row.substance == "monensin" and row.ever_handled}
    assert set(batch.route) <= marked
    found = verify_sequence(MILL, starting=clean_start(MILL), made=made, then=(batch,))
    assert [row.code for row in found] == ["residue.never"]


def test_where_the_record_is_silent_the_tables_alone_count():
    """Unknown machines, cleaned or not, may run horse feed: nothing with monensin is routed there."""
    batch = horse_batch()
    for made in ((), (EVERYWHERE,)):
        found = verify_sequence(MILL, starting=(), made=made, then=(batch,))
        assert "residue.never" not in [row.code for row in found]


def test_the_mark_is_kept_by_the_plan_and_read_back():
    """A plan keeps the mark, judges by it, and one written before the mark was there is read."""
    held = after(passed("BEEF-M", horse_batch().route), EVERYWHERE)
    plan = dataclasses.replace(plan_of(HORSE), starting=held)
    content = plan_to_json(plan)
    assert plan_from_json(content) == plan
    assert "residue.never" in [row.code for row in stops(HORSE, plan)]
    for row in content["starting"]:
        del row["ever_handled"]
    old = plan_from_json(content)
    assert not any(row.ever_handled for row in old.starting)


@pytest.mark.parametrize("passed_mg", [0, 5_000_000_000])
def test_a_plan_from_before_the_mark_still_says_what_has_passed(passed_mg: int):
    """A row without the mark that says something has passed since counts as having handled it."""
    place = horse_batch().route[0]
    row = HeldSubstance(
        place=place, substance="monensin", concentration_mg_kg=0.1, passed_mg=passed_mg, known=True
    )
    found = verify_sequence(MILL, starting=(row,), made=(), then=(horse_batch(),))
    assert "residue.never" in [finding.code for finding in found]
    outcome = plan_runs(dataclasses.replace(HORSE, starting=(row,)))
    assert [left.because for left in outcome.left_out] == ["never"]
