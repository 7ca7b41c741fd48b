"""Loads at the gate against published figures and other programs' distributions."""

from fractions import Fraction

import pytest
from scipy import stats

from bedstone.receiving.cargo import Cleaned, Leave, may_unload, shipped_rules
from bedstone.receiving.operating import accepts_count, accepts_mean
from bedstone.receiving.settlement import Terms, settle, shrink_factor
from bedstone.receiving.toxins import Eater, eaters_of, level_for, may_eat
from bedstone.receiving.weighing import bridge_tolerance_mg

LB_MG = Fraction("453592.37")


@pytest.mark.parametrize(
    ("base", "printed"), [("0.155", 1.183), ("0.15", 1.176), ("0.14", 1.163), ("0.11", 1.124)]
)
def test_shrink_factors_are_the_published_ones(base: str, printed: float):
    """Factors at 15.5, 15 and 14 % as Pioneer, Moisture shrink, prints them; 11 % is 100/89 (a
    printed table has 1.13 there, which is wrong).
    """
    assert round(float(shrink_factor(Fraction(base))), 3) == printed


def test_a_worked_settlement_and_its_rounding_trap():
    """1000 lb at 25.5 %, base 15.5 %, half a per cent handling: 876.7 lb (Pioneer, Moisture shrink).
    The page's 15.6 bu is rounded twice; from the mass as it is they are 15.65, so 15.7.
    """
    terms = Terms(shrink="dry matter", base_wb=Fraction("0.155"), handling=Fraction("0.005"))
    net_mg = round(1000 * LB_MG)
    paid = settle(net_mg, terms, moisture_wb=Fraction("0.255"), price_cents100_t=1_000_000)
    pounds = paid.paid_mg / LB_MG
    assert round(float(pounds), 1) == 876.7
    assert round(float(pounds / 56), 1) == 15.7
    assert round(float(paid.moisture_mg / LB_MG), 1) == 118.3
    by_factor = 1000 - 10 * Fraction("11.83") - 5  # the printed factor, rounded, gives another mass
    assert float(by_factor) != pytest.approx(float(pounds), abs=0.02)


def test_dry_matter_shrink_is_not_the_crop_insurers_factor():
    """20 % to 15 %: the exact factor is 80/85 = 0.9412, the insurers' table has 0.9400."""
    terms = Terms(shrink="dry matter", base_wb=Fraction("0.15"))
    paid = settle(10**9, terms, moisture_wb=Fraction("0.20"), price_cents100_t=1)
    assert paid.paid_mg == round(10**9 * Fraction(80, 85))
    assert paid.paid_mg != 940_000_000


@pytest.mark.parametrize("bad", [0, 3, 17, 60])
@pytest.mark.parametrize(("sample", "allowed"), [(1, 0), (10, 0), (38, 5), (60, 7)])
def test_operating_curves_are_scipys(bad: int, sample: int, allowed: int):
    """Plans by count (38 with 5, 60 with 7 after 7 CFR 52.38) against SciPy's distributions."""
    lot = 120
    finite = accepts_count(sample=sample, allowed=allowed, bad_frac=bad / lot, lot=lot)
    assert finite == pytest.approx(stats.hypergeom.cdf(allowed, lot, bad, sample), abs=1e-12)
    bulk = accepts_count(sample=sample, allowed=allowed, bad_frac=bad / lot)
    assert bulk == pytest.approx(stats.binom.cdf(allowed, sample, bad / lot), abs=1e-12)


@pytest.mark.parametrize("true", [14.0, 15.4, 15.5, 17.0])
def test_the_curve_of_a_test_is_scipys_normal(true: float):
    """Odds of acceptance against SciPy's normal distribution, both sides."""
    assert accepts_mean(true, limit=15.5, error_sd=0.3) == pytest.approx(
        stats.norm.cdf((15.5 - true) / 0.3), abs=1e-12
    )
    assert accepts_mean(true, limit=15.5, error_sd=0.3, upper=False) == pytest.approx(
        stats.norm.sf((15.5 - true) / 0.3), abs=1e-12
    )


@pytest.mark.parametrize(
    ("toxin", "commodity", "eaters", "level"),
    [
        # FDA CPG 683.100, as the Missouri Department of Agriculture prints it
        ("aflatoxin", "corn", "other", 0.02),
        ("aflatoxin", "corn", "dairy", 0.02),
        ("aflatoxin", "corn", "immature", 0.02),
        ("aflatoxin", "corn", "breeding", 0.1),
        ("aflatoxin", "corn", "mature poultry", 0.1),
        ("aflatoxin", "corn", "finishing swine", 0.2),
        ("aflatoxin", "corn", "finishing beef", 0.3),
        ("aflatoxin", "cottonseed meal", "finishing swine", 0.3),
        # FDA advisory levels for DON, regulatory summary sheet
        ("don", "grain", "swine", 5),
        ("don", "grain", "chickens", 10),
        ("don", "grain", "beef", 10),
        ("don", "distillers", "beef", 30),
        ("don", "distillers", "dairy", 30),
        ("don", "grain", "horse rabbit", 5),
        # FDA guidance on fumonisins, NC State Extension
        ("fumonisin", "corn", "horse rabbit", 5),
        ("fumonisin", "corn", "swine", 20),
        ("fumonisin", "corn", "breeding", 30),
        ("fumonisin", "corn", "ruminants for slaughter", 60),
        ("fumonisin", "corn", "poultry for slaughter", 100),
        ("fumonisin", "corn", "other", 10),
    ],
)
def test_toxin_levels_are_the_published_ones(toxin: str, commodity: str, eaters: str, level: float):
    """Each level of the data file against its published table."""
    found = level_for(toxin, commodity, eaters)
    assert found is not None
    assert found.level_mg_kg == level


def test_either_the_ingredient_or_the_diet_keeps_a_lot_out():
    """Fumonisin, horses (NC State Extension): corn at most 5 ppm, the diet at most 1 ppm. Swine
    keep 50 % and 10 ppm (another sheet's 20 % is wrong).
    """

    def why(ppm: float, share: float, species: str) -> str:
        eater = Eater(product="P", species=species, life_stage="grower", share_frac=share)
        return may_eat("fumonisin", ppm, "corn", eater)

    assert not why(5, 0.2, "horse")
    assert "above 5 mg/kg" in why(5.1, 0.1, "horse")
    assert "the feed would hold" in why(4, 0.3, "horse")
    assert not why(20, 0.5, "swine")
    assert why(20, 0.51, "swine")


def test_an_animal_that_no_table_lists_gets_the_class_of_those_not_listed():
    """A llama is "other", a cow in milk is dairy, a sow is breeding, a creep calf immature."""
    assert eaters_of("aflatoxin", "llama", "adult") == "other"
    assert eaters_of("aflatoxin", "dairy cattle", "lactating cows") == "dairy"
    assert eaters_of("aflatoxin", "swine", "sow") == "breeding"
    assert eaters_of("aflatoxin", "beef cattle", "creep") == "immature"
    assert eaters_of("fumonisin", "horse", "working") == "horse rabbit"


def test_scale_tolerances_are_those_of_the_handbook():
    """Class III: 3000 divisions of 0.05 lb are 0.15 lb, 10,000 are 0.25 lb (Handbook 44, Table 6);
    class III L from memory: 80,000 lb on 20 lb are 160 lb.
    """
    assert bridge_tolerance_mg(15_000, 5, scale_class="III") == 15  # in hundredths of a pound
    assert bridge_tolerance_mg(50_000, 5, scale_class="III") == 25
    assert bridge_tolerance_mg(80_000, 20, scale_class="III L") == 160


def test_earlier_cargoes_are_asked_for_and_named():
    """A previous cargo that is not named counts as unknown (21 CFR 1.908(e)(4), from memory: it is
    named on request), and protein that 21 CFR 589.2000 keeps from ruminants never goes before feed
    for them; poultry and fish protein, which it does not cover, may.
    """

    def leave(cargo: str, makes: str) -> Leave:
        cargoes = (cargo, "grain", "grain")
        return may_unload(cargoes, makes={makes}, ingredient="X", cleaned=Cleaned.NOT).needed

    assert leave("", "any") is Leave.REJECT
    assert leave("prohibited protein", "ruminant") is Leave.REJECT
    assert leave("prohibited protein", "horse") is Leave.WASH
    assert leave("allowed animal protein", "ruminant") is Leave.SWEPT
    assert all(rule.source for rule in shipped_rules())
