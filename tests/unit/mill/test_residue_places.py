"""What places hold, batch after batch: reckoned by hand on a small mill."""

import math

import pytest

from bedstone.errors import NoAnswer, Unknown
from bedstone.mill.contents import contents_of, limits_of, worst_contents
from bedstone.mill.plan import HeldSubstance
from bedstone.mill.residue import CleanedOut, MaterialPassed, Residue, replay
from fakes.planning_mill import clean_start, planning_mill

MASH = ("MX1", "FB1", "SK1")


def passed(product: str, mass_kg: float, route: tuple[str, ...] = MASH) -> MaterialPassed:
    """A batch of a product of the made-up mill."""
    contents = contents_of(planning_mill(), product)
    mass_mg = round(mass_kg * 1e6)
    return MaterialPassed(route=route, material=product, mass_mg=mass_mg, contents=contents)


def held(rows: tuple[HeldSubstance, ...], place: str, substance: str) -> HeldSubstance | None:
    """The row of one place and substance."""
    return next((row for row in rows if (row.place, row.substance) == (place, substance)), None)


def test_contents_follow_formulas_and_grinding():
    """A product contains what its parts bring: a premix, ground grain, a product inside it."""
    mill = planning_mill()
    assert contents_of(mill, "PIG-CU") == {"copper": 200.0, "corn": 980_000.0}
    assert contents_of(mill, "CORN-G") == {"corn": 1_000_000.0}
    assert contents_of(mill, "HORSE-TX") == {"copper": pytest.approx(0.4 * 4.5 + 0.6 * 5)}


def test_contents_of_what_is_not_there_are_refused():
    """A material that the mill does not have has no contents, and the error says so."""
    with pytest.raises(Unknown, match="NOWHERE"):
        contents_of(planning_mill(), "NOWHERE")


def test_a_product_without_running_formula_has_no_contents():
    """A product whose formula does not run cannot be resolved."""
    mill = planning_mill()
    bare = type(mill)(settings=mill.settings, products=mill.products)
    with pytest.raises(NoAnswer, match="no running formula"):
        contents_of(bare, "SHEEP")


def test_limits_of_a_product_are_its_own_and_its_species():
    """The corn-free horse feed has its customer's limit and that of all horse feeds."""
    kinds = {(row.kind, row.substance) for row in limits_of(planning_mill(), "HORSE-CF")}
    assert kinds == {("procedure", "corn"), ("never", "monensin")}


def test_an_unknown_mill_holds_the_worst_it_handles():
    """With no history each place holds the worst content, nothing has passed, nobody knows."""
    mill = planning_mill()
    assert worst_contents(mill)["copper"] == (200.0, "PIG-CU")
    row = held(replay(mill, []), "PL1", "copper")
    assert row == HeldSubstance(
        place="PL1",
        substance="copper",
        concentration_mg_kg=200.0,
        passed_mg=0,
        known=False,
        left_by="PIG-CU",
    )


def test_the_mixer_thins_what_it_holds_by_hand():
    """Ten kilograms of 30 mg/kg monensin in 1,000 kg of clean feed leave 30 x 10 / 1010."""
    mill = planning_mill()
    events = [passed("BEEF-M", 2000), passed("LAYER", 1000)]
    rows = replay(mill, events, starting=clean_start(mill))
    after = held(rows, "MX1", "monensin")
    assert after is not None
    assert after.concentration_mg_kg == pytest.approx(30 * 2000 / 2010 * 10 / 1010)
    assert (after.passed_mg, after.left_by) == (1_000_000_000, "BEEF-M")


def test_what_has_passed_counts_from_the_last_that_contains_it():
    """The feed itself puts the count to nothing; clean batches add up; a clean-out ends it."""
    mill = planning_mill()
    events = [passed("BEEF-M", 2000), passed("LAYER", 500), passed("LAYER", 700)]
    rows = replay(mill, events, starting=clean_start(mill))
    assert held(rows, "SK1", "monensin").passed_mg == 1_200_000_000
    cleaned = replay(mill, [*events, CleanedOut(places=("SK1",))], starting=clean_start(mill))
    after = held(cleaned, "SK1", "monensin")
    assert after is not None
    assert (after.concentration_mg_kg, after.passed_mg, after.ever_handled) == (0.0, None, True)
    assert held(cleaned, "MX1", "monensin") is not None


def test_a_flush_carries_what_it_picks_up():
    """A place that never saw the drug counts as having seen it once feed from a dirty place came."""
    mill = planning_mill()
    events = [passed("BEEF-M", 2000), passed("LAYER", 600, ("MX1", "FB2", "LO1"))]
    rows = replay(mill, events, starting=clean_start(mill))
    after = held(rows, "LO1", "monensin")
    assert after is not None
    assert after.passed_mg == 600_000_000
    assert after.concentration_mg_kg > 0
    assert after.left_by == "BEEF-M"


def test_what_machines_hold_survives_a_way_through_plain_values():
    """Plain values describe the state exactly: replaying on them gives what replaying at once does."""
    mill = planning_mill()
    first = [passed("PIG-CU", 1500), CleanedOut(places=("MX1",)), passed("BEEF-M", 2000)]
    second = [passed("LAYER", 800), passed("SHEEP", 900, ("MX1", "SB1", "PL1", "FB2", "SK1"))]
    at_once = replay(mill, [*first, *second])
    in_two = replay(mill, second, starting=replay(mill, first))
    assert len(at_once) == len(in_two)
    for one, two in zip(at_once, in_two, strict=True):
        assert (one.place, one.substance, one.known) == (two.place, two.substance, two.known)
        assert one.passed_mg == two.passed_mg
        assert math.isclose(one.concentration_mg_kg, two.concentration_mg_kg, rel_tol=1e-12)


def test_every_place_of_every_route_counts():
    """Machines, bins and the ways between them are places; bins that only feed scales are not."""
    places = set(Residue(planning_mill()).places.number)
    assert {"MX1", "MX1>SB1", "SB1", "SB1>PL1", "PL1", "PL1>FB2", "FB2>LO1", "LO1"} <= places
    assert not places & {"B1", "G1", "FL1", "HM1"}
