"""What heat leaves of additives against the tag: amounts, overage, the mill's own row."""

import datetime as dt
from collections.abc import Callable
from dataclasses import replace

import pytest

from bedstone.demo.quillback.packaged import packaged_mill
from bedstone.desk.assays import record_assay
from bedstone.desk.heat_trial import keep_own_heat, own_heat, trial_typed
from bedstone.desk.line_heat import (
    AdditiveHeat,
    additive_cautions,
    additives_at,
    is_no_way,
    left_words,
    more_words,
    most_words,
    state_words,
)
from bedstone.desk.line_tag import shares_inside
from bedstone.desk.revisions import current_mill
from bedstone.desk.tables import load_tables
from bedstone.errors import BadInput, Refused, Unknown
from bedstone.mill.folder import LoadedFolder
from bedstone.mill.model import Assay, Formula, FormulaLine, Mill
from bedstone.pelleting.heat_damage import HeatStep
from bedstone.pelleting.heat_fit import HeatTrial
from fakes.memory import MemoryRecord

AT = dt.datetime(2026, 11, 20, 12, 0, tzinfo=dt.UTC)
DEMO = packaged_mill()
WAY = (
    HeatStep(where="conditioner", temperature_c=70.0, time_s=60),
    HeatStep(where="die", temperature_c=76.0, time_s=3),
    HeatStep(where="cooler", temperature_c=40.0, time_s=300),
)
COLD = (HeatStep(where="conditioner", temperature_c=30.0, time_s=60),)
CULTURE = "live culture"


def recorded(mill: Mill = DEMO) -> MemoryRecord:
    """A record with these tables."""
    record = MemoryRecord()
    load_tables(record, LoadedFolder(mill=mill), by="dell", at=AT - dt.timedelta(days=2))
    return record


def judged(
    mill: Mill = DEMO,
    product: str = "HORSE-SUP",
    way: tuple[HeatStep, ...] = WAY,
    *,
    also: Callable[[MemoryRecord], object] = lambda _: None,
) -> AdditiveHeat:
    """The one additive of a product."""
    record = recorded(mill)
    also(record)
    (found,) = additives_at(record, current_mill(record), product, way, on=AT.date())
    return found


def with_rows(table: str, **change: object) -> Mill:
    """The demo's tables with every row of the live culture changed in one of them."""
    rows = [
        replace(row, **change) if getattr(row, "nutrient", "") == CULTURE and good(row) else row
        for row in getattr(DEMO, table)
    ]
    return replace(DEMO, **{table: tuple(rows)})


def good(row: object) -> bool:
    """Rows that hold or guarantee some, not those that say that there is none."""
    return getattr(row, "mean", 1.0) > 0


def test_what_is_put_in_is_share_times_potency() -> None:
    """1.4 % of a premix with 240 million CFU/g is 3.36 in the feed; a guarantee of 1 needs 29.8 % of
    it left; the spread of the next lot counts (16 of 240, four assays).
    """
    found = judged()
    assert found.tag is not None
    assert found.tag.put_in == pytest.approx(0.014 * 240)
    assert found.least_left_frac == pytest.approx(1 / 3.36)
    assert found.tag.put_in_cv_frac == pytest.approx(16 * 1.25**0.5 / 240)
    assert found.tag.price_usd_t == pytest.approx(2150)
    assert found.tag.share_max_frac == pytest.approx(0.014)
    assert not found.note


def test_an_assay_of_what_was_bought_goes_before_the_table() -> None:
    """A bag of the premix with half the culture halves what is put in."""

    def assayed(record: MemoryRecord) -> None:
        row = Assay(
            assay="A-1", nutrient=CULTURE, of="VTM-H", place="FLOOR", value=120.0,
            unit="million CFU/g", sampled_at=AT - dt.timedelta(days=1),
        )  # fmt: skip
        record_assay(record, row, by="dell", at=AT)

    found = judged(also=assayed)
    assert found.tag is not None
    assert found.tag.put_in == pytest.approx(0.014 * 120)


def test_the_overage_just_holds_the_tag() -> None:
    """With the share that the overage names in the formula, the low end is just what the tag
    guarantees; its cost is the ingredient's price.
    """
    found = judged(with_rows("guarantees", minimum=3.0))
    assert not found.surely
    assert found.tag is not None
    assert found.overage is not None
    needed = found.overage.share_needed_frac
    assert needed * found.tag.potency * found.left.left_lo == pytest.approx(3.0)
    assert found.overage.more_frac == pytest.approx(needed - 0.014)
    assert found.overage.more_usd_t == pytest.approx(found.overage.more_frac * 2150)
    assert found.overage.beyond_allowed
    words = more_words(DEMO, found)
    assert is_no_way(found)
    assert f"{needed / 0.014:.1f} times the formula's 28.0 lb/ton" in words
    assert "allows 28.0 lb/ton" in words
    assert " more: " not in words


def test_a_little_more_is_said_in_pounds_and_dollars() -> None:
    """Where the inclusions table allows it and it is less than double, amounts and money stand."""
    mill = with_rows("guarantees", minimum=3.0)
    mill = replace(mill, inclusions=())
    found = judged(mill)
    assert found.overage is not None
    assert not is_no_way(found)
    words = more_words(DEMO, found)
    assert f"{2000 * found.overage.more_frac:.1f} lb/ton more" in words
    assert f"{found.overage.more_usd_t * 0.90718474:.2f} USD a ton" in words


def test_a_mill_in_si_reads_celsius_and_kilograms() -> None:
    """Whole degrees C along the curve, kg and USD a tonne in the words."""
    mill = replace(
        with_rows("guarantees", minimum=3.0),
        settings=replace(DEMO.settings, units="SI"),
        inclusions=(),
    )
    found = judged(mill)
    assert [one[0] for one in found.curve] == [float(c) for c in range(50, 101, 2)]
    assert found.overage is not None
    words = more_words(mill, found)
    assert f"{1000 * found.overage.more_frac:.2f} kg/t more" in words
    assert f"{found.overage.more_usd_t:.2f} USD a t" in words
    assert "°C in the conditioner" in most_words(judged(way=WAY), "SI")


def test_enough_asks_for_nothing_more() -> None:
    """Where the low end holds the tag nothing is to be added."""
    found = judged(way=COLD)
    assert found.surely
    assert found.overage is not None
    assert found.overage.more_frac == 0
    assert not found.overage.beyond_allowed
    assert "surely holds the tag" in more_words(DEMO, found)
    assert state_words(found) == "enough, also at the low end"


def test_too_little_put_in_is_not_the_heats_fault() -> None:
    """A tag that guarantees more than is put in fails at any setting, and says why."""
    found = judged(with_rows("guarantees", minimum=5.0), way=COLD)
    assert found.least_left_frac > 1
    assert found.hottest_c is None
    assert state_words(found) == "too little is put in, even without heat"
    assert "no setting" in most_words(found, "US")


def test_where_no_amount_would_do_it_says_so() -> None:
    """After an hour at 90 C the premix itself holds less than the tag guarantees."""
    hot = (HeatStep(where="conditioner", temperature_c=90.0, time_s=3600),)
    found = judged(way=hot)
    assert found.overage is None
    assert "No amount" in more_words(DEMO, found)
    assert state_words(found) == "too hot for it"


@pytest.mark.parametrize(
    ("mill", "said"),
    [
        (with_rows("heat_sensitive", nutrient=""), "does not say which guarantee"),
        (with_rows("guarantees", minimum=None, maximum=9.0), "guarantees no least amount"),
        (with_rows("guarantees", unit="IU/kg"), "mend composition"),
    ],
)
def test_what_cannot_be_held_against_the_tag_is_judged_by_the_share(mill: Mill, said: str) -> None:
    """The table's share judges, and the answer says why."""
    found = judged(mill)
    assert found.tag is None
    assert found.overage is None
    assert said in found.note
    assert found.least_left_frac == 0.5
    assert "50 % is wanted" in left_words(found)
    assert more_words(DEMO, found) == ""


def test_a_potency_without_spread_says_that_it_counts_as_none() -> None:
    """The interval is then of the heat alone."""
    found = judged(with_rows("composition", sd=None))
    assert found.tag is not None
    assert found.tag.put_in_cv_frac == 0
    assert "counted as nothing" in found.note


def test_an_additive_inside_a_premix_of_the_mills_own_is_found() -> None:
    """A product that goes into another brings its share of it: 10 % of a base with 14 % premix."""
    base = replace(DEMO.product("HORSE-SUP"), product="BASE", name="Base")
    mill = replace(
        DEMO,
        products=(*DEMO.products, base),
        formulas=(
            *(row for row in DEMO.formulas if row.product != "HORSE-PEL"),
            Formula(product="BASE", version=1, status="running", approved_by="dell"),
            Formula(product="HORSE-PEL", version=9, status="running", approved_by="dell"),
        ),
        formula_lines=(
            *DEMO.formula_lines,
            FormulaLine(product="BASE", version=1, ingredient="VTM-H", parts_frac=0.14),
            FormulaLine(product="BASE", version=1, ingredient="MIDDS", parts_frac=0.86),
            FormulaLine(product="HORSE-PEL", version=9, ingredient="BASE", parts_frac=0.1),
            FormulaLine(product="HORSE-PEL", version=9, ingredient="MIDDS", parts_frac=0.9),
        ),
    )
    shares = shares_inside(mill, "HORSE-PEL")
    assert shares == pytest.approx({"VTM-H": 0.014, "MIDDS": 0.986})
    assert shares_inside(mill, "NIX") == {}


def test_cautions_name_what_may_be_too_hot_and_weak_numbers() -> None:
    """What is surely kept is not named; kinetics from memory are."""
    record = recorded()
    mill = current_mill(record)
    hot = (HeatStep(where="conditioner", temperature_c=95.0, time_s=90),)
    said = " ".join(additive_cautions(mill, [judged(way=hot)]))
    assert "too hot for it" in said
    assert additive_cautions(mill, [judged(way=COLD)]) == []
    vitamin = additives_at(record, mill, "BROIL-ST", COLD, on=AT.date())
    assert "from memory" in " ".join(additive_cautions(mill, vitamin))


def test_the_mills_own_row_counts_before_published_ones_and_replaces_itself() -> None:
    """Kept twice there is one own row, the last, and it judges; z stays the row's that counted."""
    record = recorded()
    for after in (1.0, 1.2):
        trial = HeatTrial(before=2.0, after=after, temperature_c=72.0, time_s=60.0)
        own = own_heat(
            current_mill(record),
            ingredient="VTM-H",
            trials=[trial],
            assay_cv_frac=0.1,
            on=AT.date(),
        )
        keep_own_heat(record, own.row, by="dell", at=AT)
    mill = current_mill(record)
    (row,) = [one for one in mill.heat_sensitive if one.measured == "this mill"]
    assert (row.d_s, row.z_dk, row.at_c) == (own.row.d_s, 32.7, 72.0)
    assert "2 before, 1.2 after in 60 s at 162 °F" in row.source
    (found,) = additives_at(record, mill, "HORSE-SUP", WAY, on=AT.date())
    assert [one.measured for one in found.known if one.counts] == ["this mill"]
    assert "as it was" in own.row.source


def test_own_rows_are_refused_to_whoever_may_not_change_tables() -> None:
    """A pellet operator cannot put it in; an additive that the table lacks cannot be tried."""
    record = recorded()
    mill = current_mill(record)
    operator = next(one.person for one in mill.people if one.role == "pellet operator")
    trial = HeatTrial(before=2.0, after=1.0, temperature_c=72.0, time_s=60.0)
    own = own_heat(mill, ingredient="VTM-H", trials=[trial], assay_cv_frac=0.1, on=AT.date())
    with pytest.raises(Refused):
        keep_own_heat(record, own.row, by=operator, at=AT)
    with pytest.raises(Unknown, match="has no additive"):
        own_heat(mill, ingredient="CORN-G", trials=[trial], on=AT.date())
    twice = replace(mill.heat_sensitive[0], what="an enzyme")
    with pytest.raises(BadInput, match="more than one"):
        own_heat(
            replace(mill, heat_sensitive=(*mill.heat_sensitive, twice)),
            ingredient="VTM-H", trials=[trial], on=AT.date(),
        )  # fmt: skip


def test_a_trial_is_typed_in_any_unit() -> None:
    """Fahrenheit by itself in a US mill, Celsius and minutes with their unit."""
    settings = DEMO.settings
    bare = trial_typed(["2,100,000", "900000", "167", "60"], settings)
    named = trial_typed(["2100000", "900000", "75 C", "1 min"], settings)
    assert (bare.before, bare.temperature_c, bare.time_s) == pytest.approx((2.1e6, 75.0, 60.0))
    assert named == bare
    with pytest.raises(BadInput, match="lacks something"):
        trial_typed(["1", "", "75C", "60"], settings)
