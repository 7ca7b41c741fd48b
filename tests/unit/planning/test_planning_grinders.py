"""What a feed may meet on a grinder or at a hand-add station: said, and never passed over."""

import dataclasses

import pytest

from bedstone.demo.quillback.packaged import packaged_mill
from bedstone.mill.before_mixer import meetings_of
from bedstone.mill.contents import limits_of
from bedstone.mill.model import Content, Limit, Machine, Mill, Route
from bedstone.mill.plan import Finding, Plan, Verdict
from bedstone.planning.day import plan_runs
from bedstone.planning.model import DayProblem
from bedstone.planning.paths import Paths
from bedstone.planning.verifier import verify_plan
from fakes.planned import plan_of
from fakes.planning_mill import planning_mill, problem, wanted

SHARED = planning_mill()


def asked(mill: Mill = SHARED, product: str = "HORSE-CF") -> DayProblem:
    """A day with one order."""
    return problem(wanted("4101", product, 2000), mill=mill)


def said(mill: Mill, plan: Plan) -> list[Finding]:
    """What the verifier says of grinders and stations."""
    found = verify_plan(mill, plan)
    return [row for row in found if row.code in ("residue.grinder", "residue.hand_add")]


def with_limits(*limits: Limit, mill: Mill = SHARED) -> Mill:
    """The mill with these limits alone."""
    return dataclasses.replace(mill, limits=limits)


def of_horse(kind: str, substance: str = "corn", **more: float) -> Limit:
    """A limit of the corn-free horse feed."""
    return Limit(product="HORSE-CF", substance=substance, kind=kind, source="customer", **more)


def with_barley_apart(mill: Mill = SHARED) -> Mill:
    """The mill with barley ground on a machine of its own."""
    apart = {("B2", "HM1"): ("B2", "HM2"), ("HM1", "G2"): ("HM2", "G2")}
    return dataclasses.replace(
        mill,
        machines=(*mill.machines, Machine(machine="HM2", kind="grinder", rate_kg_s=2.0)),
        routes=tuple(
            Route(start=start, end=end, hold_up_kg=row.hold_up_kg, clean_out_s=row.clean_out_s)
            for row in mill.routes
            for start, end in (apart.get((row.start, row.end), (row.start, row.end)),)
        ),
    )


@pytest.mark.parametrize(
    "limit",
    [of_horse("procedure", flush_kg=100.0), of_horse("clean-out")],
    ids=lambda row: row.kind,
)
def test_barley_ground_where_corn_is_ground_is_said(limit: Limit):
    """The corn-free feed takes ground barley from the corn's hammer mill: somebody must see to it."""
    mill = with_limits(limit)
    found = said(mill, plan_of(asked(mill)))
    assert [(row.code, row.verdict, row.about) for row in found] == [
        ("residue.grinder", Verdict.ACT, "R-4101")
    ]
    assert "HM1" in found[0].text
    assert "Corn-G" in found[0].text
    assert "not reckoned" in found[0].text
    assert "customer" in found[0].text


def test_a_grinder_of_its_own_is_nothing_to_say():
    """Barley that is ground alone brings no corn."""
    mill = with_barley_apart()
    assert said(mill, plan_of(asked(mill))) == []


def test_what_must_never_meet_is_left_out_for_its_grinder():
    """A feed that must never meet corn is left out, and a plan with it is refused."""
    never = with_limits(of_horse("never"))
    outcome = plan_runs(asked(never))
    assert [(row.order, row.because) for row in outcome.left_out] == [("4101", "never")]
    assert "HM1" in outcome.left_out[0].text
    found = said(never, plan_of(asked()))
    assert [(row.code, row.verdict) for row in found] == [("residue.grinder", Verdict.STOP)]
    apart = with_barley_apart(never)
    assert plan_runs(asked(apart)).left_out == ()
    assert said(apart, plan_of(asked(apart))) == []


def test_a_level_counts_where_the_whole_part_being_the_other_would_break_it():
    """At 40 mg/kg of copper in corn a sheep's 15 might be broken, at 12 it could not be."""
    for content_mg_kg, count in ((40.0, 1), (12.0, 0)):
        copper = Content(
            ingredient="CORN", substance="copper", content_mg_kg=content_mg_kg, source="assay"
        )
        mill = dataclasses.replace(SHARED, contents=(*SHARED.contents, copper))
        level = Limit(
            species="sheep", substance="copper", kind="level", level_mg_kg=15.0, source="policy"
        )
        found = said(mill, plan_of(asked(with_limits(level, mill=mill), "SHEEP")))
        found = [row for row in found if "copper" in row.text]
        assert len(found) == count
        assert {row.verdict for row in found} <= {Verdict.ACT}


def test_a_flush_is_ground_on_a_shared_grinder_too():
    """Where the flush material may bring corn, no flush goes where a feed must never meet it."""
    never = with_limits(
        Limit(product="HORSE-CF", substance="corn", kind="never", source="customer")
    )
    assert "corn" in Paths(never).never_flushed()["MX2"]
    assert Paths(with_barley_apart(never)).never_flushed() == {}


def test_a_hand_add_station_between_two_mixers_is_on_the_way_of_both():
    """Monensin weighed by hand at the station that serves the horses' mixer bars horse feed."""
    lines = tuple(
        dataclasses.replace(row, ingredient="PX-SHEEP")
        if (row.product, row.ingredient) == ("HORSE-PL", "LIME")
        else row
        for row in SHARED.formula_lines
    )
    station = Machine(machine="HA1", kind="hand-add station")
    both = (Route(start="HA1", end="MX1"), Route(start="HA1", end="MX2"))
    for routes, machines in ((both, ["HA1"]), (both[1:], [])):
        mill = dataclasses.replace(
            SHARED,
            formula_lines=lines,
            bins=tuple(
                dataclasses.replace(row, feeds="SC1 SC2") if row.bin == "P2" else row
                for row in SHARED.bins
            ),
            machines=(*SHARED.machines, station),
            routes=(*SHARED.routes, *routes),
        )
        limits = limits_of(mill, "HORSE-PL")
        found = meetings_of(mill, "HORSE-PL", version=1, limits=limits)
        assert [row.machine for row in found] == machines
        because = [row.because for row in plan_runs(asked(mill, "HORSE-PL")).left_out]
        assert because == (["never"] if machines else [])


def test_nothing_of_the_demo_mill_meets_what_it_must_not_before_the_mixer():
    """Barley has a hammer mill of its own at Quillback, so that corn-free feed can be true."""
    mill = packaged_mill()
    for product in mill.products:
        formula = mill.running_formula(product.product)
        assert formula is not None
        limits = limits_of(mill, product.product)
        found = meetings_of(mill, product.product, version=formula.version, limits=limits)
        assert found == ()
    assert any(limit.substance == "corn" for limit in limits_of(mill, "HORSE-PEL"))
