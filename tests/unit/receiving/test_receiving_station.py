"""Rules of the gate: stricter wins, missing holds, money and mass to the last digit."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bedstone.mill.receiving_tables import CARGO_CLASSES
from bedstone.receiving.cargo import Cleaned, Leave, MillRule, Unloading, may_unload, shipped_rules
from bedstone.receiving.gate import Outcome, Seen, Wanted, judge_test
from bedstone.receiving.probes import CARRIERS, probe_plan
from bedstone.receiving.settlement import Terms, settle
from bedstone.receiving.weighing import net_weight

MOISTURE = Wanted(
    test="moisture", unit="%", minimum=None, maximum=15.5, reject_below=None, reject_above=18,
    at_gate=True, error_sd=0.3, risk_max_frac=0.5, source="",
)  # fmt: skip
CLASSES = st.sampled_from(sorted(CARGO_CLASSES))


def _asked(
    cargoes: tuple[str, ...], cleaned: Cleaned, rules: tuple[MillRule, ...] = ()
) -> Unloading:
    return may_unload(
        cargoes, makes={"ruminant", "horse"}, ingredient="C", cleaned=cleaned, mill_rules=rules
    )


def test_every_cargo_of_the_form_has_a_rule_for_each_place():
    """No class that can be chosen is without an answer as last cargo."""
    assert {rule.cargo for rule in shipped_rules()} == set(CARGO_CLASSES)
    for cargo in CARGO_CLASSES:
        assert any(rule.cargo == cargo and rule.back_from == 1 for rule in shipped_rules())


@given(
    cargoes=st.tuples(CLASSES, CLASSES, CLASSES),
    cleaned=st.sampled_from(Cleaned),
    tighter=st.sampled_from((Leave.SWEPT, Leave.WASH, Leave.REJECT)),
)
def test_a_mill_can_only_tighten(cargoes: tuple[str, str, str], cleaned: Cleaned, tighter: Leave):
    """A rule of the mill never lets in what the shipped rules keep out."""
    rules = tuple(
        MillRule(cargo=one, ingredient="", loads_back=3, leave=tighter, why="w", source="s")
        for one in cargoes
    )
    plain, strict = _asked(cargoes, cleaned), _asked(cargoes, cleaned, rules)
    assert strict.needed == max(plain.needed, tighter)
    assert plain.met or not strict.met


def test_a_wash_ticket_opens_what_asks_for_one_and_nothing_more():
    """Fertiliser needs a wash; no ticket helps chemicals; an unnamed cargo is turned away."""
    assert not _asked(("fertiliser", "grain", "grain"), Cleaned.SWEPT).met
    assert _asked(("fertiliser", "grain", "grain"), Cleaned.WASHED).met
    assert not _asked(("grain", "grain", "chemicals"), Cleaned.WASHED).met
    assert _asked((), Cleaned.WASHED).needed is Leave.REJECT


def test_a_missing_test_holds_a_far_one_rejects_a_priced_one_passes():
    """The four outcomes of one test, and the one too close to say."""
    assert judge_test(MOISTURE, None, priced=True).outcome is Outcome.HOLD

    def outcome(value: float, *, priced: bool) -> Outcome:
        return judge_test(MOISTURE, Seen(test="moisture", value=value, unit="%"), priced=priced).outcome  # fmt: skip

    assert outcome(15.5, priced=False) is Outcome.TAKE
    assert outcome(15.6, priced=True) is Outcome.PRICE_DOWN
    assert outcome(15.6, priced=False) is Outcome.HOLD
    assert outcome(18.1, priced=True) is Outcome.REJECT
    careful = Wanted(
        test="moisture", unit="%", minimum=None, maximum=15.5, reject_below=None,
        reject_above=None, at_gate=True, error_sd=0.3, risk_max_frac=0.05, source="",
    )  # fmt: skip
    close = judge_test(careful, Seen(test="moisture", value=15.3, unit="%"), priced=False)
    assert close.outcome is Outcome.HOLD
    assert close.odds_beyond == pytest.approx(0.2525, abs=1e-3)


@given(
    net_mg=st.integers(10**6, 10**11),
    moisture=st.fractions(0, Fraction(1, 2)),
    dockage=st.fractions(0, Fraction(1, 5)),
)
def test_what_is_paid_and_what_is_taken_off_is_what_came(
    net_mg: int, moisture: Fraction, dockage: Fraction
):
    """Masses add up to the net to the milligram of rounding; nothing is added for a dry load."""
    terms = Terms(shrink="dry matter", base_wb=Fraction("0.155"), handling=Fraction("0.005"))
    paid = settle(net_mg, terms, moisture_wb=moisture, dockage=dockage, price_cents100_t=1_650_000)
    off_mg = paid.dockage_mg + paid.moisture_mg + paid.handling_mg
    assert abs(net_mg - off_mg - paid.paid_mg) <= 2
    assert 0 < paid.paid_mg <= net_mg
    if moisture <= terms.base_wb:
        assert paid.moisture_mg == 0


def test_a_net_of_nothing_is_no_load():
    """Gross and tare that changed places are refused by the station itself."""
    with pytest.raises(ValueError, match="no net"):
        net_weight(10, 20, division_mg=1, scale_class="III")


def test_every_carrier_has_its_probes_inside_it():
    """Each plan lies within the carrier, bulk ones with ten places or more."""
    for carrier in CARRIERS:
        plan = probe_plan(carrier)
        assert all(0 < part < 1 for point in plan.points for part in point)
        assert len(plan.points) >= (3 if carrier == "tanker" else 10)
    assert len(probe_plan("tote", units=4).points) == 4
