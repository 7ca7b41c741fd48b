"""A formula's problem from the record: limits, prices, and what is known by tables, assays, bins."""

import datetime as dt
import math
from dataclasses import replace

import pytest

from bedstone.desk.assays import record_assay
from bedstone.desk.formula_answer import tag_of
from bedstone.desk.formula_levels import Composed, known_levels
from bedstone.desk.formula_lying import lying_lots
from bedstone.desk.formula_prices import price_of
from bedstone.desk.formula_week import formulate_week, week_tonnes
from bedstone.desk.formulate import Choices, asked, can_be_formulated
from bedstone.desk.revisions import current_mill
from bedstone.errors import BadInput, Refused, Unknown
from bedstone.formulation.least_cost import least_cost
from bedstone.formulation.tag_odds import published_sampling_cv
from bedstone.mill.model import Inclusion, Mill, Price
from fakes.formula_desk import AT, DAY, TODAY, a_load, a_protein, a_record, later
from fakes.memory import MemoryRecord

PROTEIN = "crude protein"


@pytest.fixture(scope="module")
def record() -> MemoryRecord:
    """The demo mill as its tables are, only read."""
    return a_record()


@pytest.mark.parametrize("product", can_be_formulated(current_mill(a_record())))
def test_every_product_of_the_demo_has_a_formula_that_keeps_its_limits(
    record: MemoryRecord, product: str
):
    """With prices and limits of the day each product has a cheapest formula, no dearer than what runs."""
    put = asked(record, product, TODAY)
    answer = least_cost(put.problem)
    now = {row.code: row.current_frac or 0.0 for row in put.problem.ingredients}
    running = sum(put.prices[code].price_usd_t * share for code, share in now.items())
    assert math.isclose(sum(answer.shares.values()), 1.0, abs_tol=1e-9)
    assert answer.cost_usd_t < running
    for row in answer.limits:
        for odds in (row.odds_min_frac, row.odds_max_frac):
            if row.odds_asked_frac and odds is not None:
                assert odds > row.odds_asked_frac - 1e-5


def test_odds_cost_something_and_means_cost_less(record: MemoryRecord):
    """A tag that is met with 99 % costs more than with 95 %, and that more than by its mean."""
    costs = [
        least_cost(asked(record, "LAYER-16", choices).problem).cost_usd_t
        for choices in (replace(TODAY, by_mean=True), TODAY, replace(TODAY, odds_frac=0.98))
    ]
    assert costs == sorted(costs)
    assert costs[0] < costs[1] < costs[2]


def test_a_substance_that_must_stay_out_is_shut_out():
    """Corn may not go into the feed whose tag says corn-free, whatever the inclusions say."""

    def with_corn(mill: Mill) -> Mill:
        row = Inclusion(product="HORSE-PEL", ingredient="CORN-R", max_frac=0.3)
        return replace(mill, inclusions=(*mill.inclusions, row))

    put = asked(a_record(with_corn), "HORSE-PEL", TODAY)
    corn = next(row for row in put.problem.ingredients if row.code == "CORN-R")
    assert corn.max_frac == 0.0
    assert not corn.may_give


def test_what_must_stay_out_cannot_be_asked_for():
    """A least share of something that must not be in a product is refused, with the rule's name."""

    def with_drug(mill: Mill) -> Mill:
        rows = tuple(
            replace(row, ingredient="CORN-R", min_frac=0.1, max_frac=0.2)
            if (row.product, row.ingredient) == ("HORSE-PEL", "SBM48")
            else row
            for row in mill.inclusions
        )
        return replace(mill, inclusions=rows)

    with pytest.raises(Refused, match="customer: tag says corn-free"):
        asked(a_record(with_drug), "HORSE-PEL", TODAY)


def test_limits_of_substances_bind_the_formula(record: MemoryRecord):
    """Copper of sheep feed by the contents table is a demand that never gives in."""
    put = asked(record, "SHEEP-GR", TODAY)
    copper = next(row for row in put.problem.requirements if row.code == "Copper by contents")
    assert (copper.maximum, copper.unit, copper.may_give) == (15.0, "mg/kg", False)


def test_without_inclusions_the_running_formula_says_what_may_go_in():
    """Micros and drugs then stay as they run; the rest is free."""

    def bare(mill: Mill) -> Mill:
        return replace(
            mill, inclusions=(), formula_rules=(), requirements=(), prices=(), ingredient_groups=()
        )

    put = asked(a_record(bare), "BEEF-FIN", TODAY)
    by_code = {row.code: row for row in put.problem.ingredients}
    assert by_code["MON-A"].min_frac == by_code["MON-A"].max_frac == pytest.approx(0.000165)
    assert (by_code["CORN-R"].min_frac, by_code["CORN-R"].max_frac) == (0.0, 1.0)
    assert by_code["CORN-R"].price_usd_t == 194.0
    assert by_code["CORN-R"].current_frac == pytest.approx(0.62)


def test_unknown_products_and_empty_ones_say_so(record: MemoryRecord):
    """An unknown product is unknown; one with neither inclusions nor a formula is refused."""
    with pytest.raises(Unknown, match="LAYER-15"):
        asked(record, "LAYER-15", TODAY)

    def new(mill: Mill) -> Mill:
        return replace(mill, products=(*mill.products, replace(mill.products[0], product="NEW-1")))

    with pytest.raises(Refused, match="inclusions"):
        asked(a_record(new), "NEW-1", TODAY)


def test_an_unknown_level_is_never_nothing():
    """A nutrient that no table has is named for each ingredient, unless it is assumed by name."""

    def less(mill: Mill) -> Mill:
        rows = tuple(
            row for row in mill.composition if (row.ingredient, row.nutrient) != ("MIDDS", "lysine")
        )
        bare = tuple(replace(row, library="") for row in mill.ingredients)
        return replace(mill, composition=rows, ingredients=bare)

    record = a_record(less)
    with pytest.raises(BadInput) as caught:
        least_cost(asked(record, "LAYER-16", TODAY).problem)
    assert [fault.column for fault in caught.value.faults] == ["lysine of MIDDS"]
    answer = least_cost(asked(record, "LAYER-16", replace(TODAY, assume_none=True)).problem)
    assert any("MIDDS: lysine taken as 0" in said for said in answer.assumed)


def test_prices_of_the_day(record: MemoryRecord):
    """The newest market price counts, ground grain follows its grain, contracts are not the next ton."""
    mill = current_mill(record)
    ton = 1000 / 907.18474
    assert price_of(mill, "CORN", on=DAY).price_usd_t == pytest.approx(165 * ton)
    assert price_of(mill, "CORN", on=dt.date(2026, 11, 3)).price_usd_t == pytest.approx(162 * ton)
    assert price_of(mill, "CORN-G", on=DAY).price_usd_t == pytest.approx(165 * ton + 9)
    assert price_of(mill, "VTM-P", on=DAY).source == "ingredients table"
    only = replace(
        mill,
        prices=(
            Price(ingredient="CORN", from_on=DAY, supplier="harrow", contract="K-1", price_usd_t=150.0),
            Price(ingredient="CORN", from_on=DAY, until_on=DAY, supplier="upperferris", contract="K-2", price_usd_t=149.0),
        ),
    )  # fmt: skip
    assert price_of(only, "CORN", on=DAY).price_usd_t == 149.0
    assert price_of(only, "CORN", on=DAY + dt.timedelta(1)).price_usd_t == 150.0
    made = price_of(mill, "HORSE-SUP", on=DAY)
    lines = mill.lines_of("HORSE-SUP", 1)
    by_hand = sum(
        row.parts_frac * price_of(mill, row.ingredient, on=DAY).price_usd_t for row in lines
    )
    assert made.price_usd_t == pytest.approx(by_hand)


def test_the_last_assays_go_before_the_tables():
    """Mean, spread and number are those of the last lots; one lot alone takes the tables' spread."""
    record = a_record()
    for number, value in enumerate((46.0, 47.0, 48.0, 49.0)):
        a_load(record, f"L-{number}", "SBM48", "B04", tonnes=10, hours=number)
        row = a_protein(f"A-{number}", "SBM48", f"L-{number}", value, sd=0.3, hours=number)
        record_assay(record, row, by="rosa", at=later(number + 0.5))
    level = known_levels(record, ["SBM48"], composed=Composed.ASSAYS, last=3)["SBM48"].levels[
        PROTEIN
    ]
    assert (level.mean, level.sd, level.assays) == (48.0, pytest.approx(1.0), 3)
    one = known_levels(record, ["SBM48"], composed=Composed.ASSAYS, last=1)["SBM48"].levels[PROTEIN]
    assert (one.mean, one.sd, one.assays) == (49.0, 0.8, 1)
    table = known_levels(record, ["SBM48"], composed=Composed.TABLES)["SBM48"].levels[PROTEIN]
    assert (table.mean, table.sd, table.assays) == (48.5, 0.8, 31)


def test_bins_are_blended_over_their_lots():
    """The mean is by mass; a bin that gives lot after lot keeps what its lots differ by."""
    record = a_record()
    a_load(record, "L-1", "SBM48", "B04", tonnes=30, hours=1)
    a_load(record, "L-2", "SBM48", "B04", tonnes=10, hours=2)
    for report, lot, value in (("A-1", "L-1", 46.0), ("A-2", "L-2", 50.0)):
        record_assay(
            record, a_protein(report, "SBM48", lot, value, sd=0.3, hours=3), by="rosa", at=later(3)
        )
    lots = lying_lots(record, ["SBM48"])["SBM48"]
    assert [(lot.lot, lot.mass_mg) for lot in lots] == [("L-1", 30 * 10**9), ("L-2", 10 * 10**9)]
    known = known_levels(record, ["SBM48"], composed=Composed.BINS)["SBM48"]
    level = known.levels[PROTEIN]
    assert level.mean == pytest.approx(0.75 * 46 + 0.25 * 50)
    between = 0.75 * (46 - 47) ** 2 + 0.25 * (50 - 47) ** 2
    assert level.sd == pytest.approx(math.sqrt(between + 0.3**2))
    assert level.assays == 0
    assert known.note.startswith("40 t in 1 bin: 2 lots, 2 of them assayed")


def test_a_mixed_tank_gives_the_blend():
    """In a tank that mixes, spreads of lots average out and lots do not differ any more."""
    record = a_record()
    for number, value in ((1, 3.0), (2, 5.0)):
        a_load(record, f"L-{number}", "MOLASSES", "T01", tonnes=5, hours=number)
        row = a_protein(f"A-{number}", "MOLASSES", f"L-{number}", value, sd=0.4, hours=3)
        record_assay(record, row, by="rosa", at=later(3))
    level = known_levels(record, ["MOLASSES"], composed=Composed.BINS)["MOLASSES"].levels[PROTEIN]
    assert level.mean == pytest.approx(4.0)
    assert level.sd == pytest.approx(0.4 / math.sqrt(2))


def test_a_lot_without_an_assay_counts_as_such_lots_are():
    """It has the tables' mean and the spread of the next lot; the source says how many are known."""
    record = a_record()
    a_load(record, "L-1", "DDGS", "B05", tonnes=10, hours=1)
    level = known_levels(record, ["DDGS"], composed=Composed.BINS)["DDGS"].levels[PROTEIN]
    assert level.mean == 25.2
    assert level.sd == pytest.approx(1.2 * math.sqrt(1 + 1 / 14))
    assert "0 of 1 lots assayed" in level.source
    nothing = known_levels(record, ["MIDDS"], composed=Composed.BINS)["MIDDS"]
    assert nothing.levels[PROTEIN].mean == 16.0
    assert "nothing of it lies" in nothing.note


def test_a_product_that_goes_into_another_is_rolled_up(record: MemoryRecord):
    """Its means add up over its running formula, and so do the variances of its parts."""
    mill = current_mill(record)
    level = known_levels(record, ["HORSE-SUP"], composed=Composed.TABLES)["HORSE-SUP"].levels[
        PROTEIN
    ]
    rows = {row.ingredient: row for row in mill.composition if row.nutrient == PROTEIN}
    lines = mill.lines_of("HORSE-SUP", 1)
    assert level.mean == pytest.approx(
        sum(row.parts_frac * rows[row.ingredient].mean for row in lines)
    )
    assert level.sd == pytest.approx(
        math.sqrt(sum((row.parts_frac * (rows[row.ingredient].sd or 0)) ** 2 for row in lines))
    )


def test_the_bins_change_the_formula():
    """Poorer soybean meal in the bin makes the formula take more of it than the tables would."""
    record = a_record()
    a_load(record, "L-1", "SBM48", "B04", tonnes=30, hours=1)
    record_assay(
        record, a_protein("A-1", "SBM48", "L-1", 45.0, sd=0.3, hours=2), by="rosa", at=later(2)
    )
    by_table = least_cost(asked(record, "LAYER-16", TODAY).problem)
    by_bins = least_cost(asked(record, "LAYER-16", Choices(on=DAY, composed=Composed.BINS)).problem)
    assert by_bins.shares["SBM48"] > by_table.shares["SBM48"]
    assert by_bins.cost_usd_t > by_table.cost_usd_t


def test_the_library_stands_in_and_says_so():
    """What the mill's table lacks of an ingredient comes from the library that it names, marked."""

    def less(mill: Mill) -> Mill:
        gone = ("MIDDS", "lysine")
        rows = tuple(row for row in mill.composition if (row.ingredient, row.nutrient) != gone)
        return replace(mill, composition=rows)

    levels = known_levels(a_record(less), ["MIDDS"], composed=Composed.TABLES)["MIDDS"].levels
    assert levels["lysine"].source.startswith("library: ")
    assert 0.4 < levels["lysine"].mean < 0.9
    assert levels["crude protein"].mean == 16.0  # the mill's own goes before
    assert "TDN" in levels


def test_a_week_counts_each_contract_and_each_ton_of_grain_once():
    """Whole corn and its contract go to the ground corn that is used most, not to the cracked too."""
    record = a_record()
    a_load(record, "L-1", "CORN", "B01", tonnes=30, hours=1)
    week = formulate_week(
        record, {"SHEEP-GR": 20.0, "HORSE-TX": 10.0}, replace(TODAY, by_mean=True)
    )
    by_code = {row.code: row for row in week.answer.materials}
    names = {code: [offer.offer.name for offer in row.offers] for code, row in by_code.items()}
    assert any("K-2207" in name for name in names["CORN-G"])
    assert not any("K-2207" in name for name in names["CORN-R"])
    assert by_code["CORN-G"].left_t > 20
    assert by_code["CORN-R"].left_t == 0
    assert {row.product for row in week.answer.products} == {"SHEEP-GR", "HORSE-TX"}
    assert week.answer.bound_usd == pytest.approx(week.answer.cost_usd, rel=1e-6)


def test_a_week_with_nothing_in_it_is_refused(record: MemoryRecord):
    """Without orders and without a past there is no week."""
    assert week_tonnes(record, AT) == {}
    with pytest.raises(Refused, match="no week"):
        formulate_week(record, {}, TODAY)


def test_the_error_of_an_assay_is_that_of_results_near_the_level():
    """What a laboratory misses limestone's calcium by, or corn's trace of it, is no feed's error."""
    record = a_record()
    limits = least_cost(asked(record, "LAYER-16", TODAY).problem).limits
    bins = {row.holds: row.bin for row in current_mill(record).bins}
    for number, (of, value, sd) in enumerate(
        [("LIME", 38.0, 1.5), ("CORN", 0.02, 0.01), ("ALFALFA", 3.6, 0.036)]
    ):
        lot = f"L-{of}"
        a_load(record, lot, of, bins[of], tonnes=1, hours=0)
        row = a_protein(f"C-{number}", of, lot, value, sd=sd, hours=1)
        row = replace(row, nutrient="calcium")
        record_assay(record, row, by="ines", at=later(2))
    tags = [tag for tag in tag_of(record, limits) if tag.code == "tag: calcium"]
    assert tags
    for tag in tags:
        assert tag.sd is not None
        assert tag.passes_frac is not None
        margin = abs(tag.expected - tag.guarantee) + tag.deviation
        sampling = published_sampling_cv("calcium")
        assert sampling == pytest.approx(0.0955, abs=5e-5)
        assert "assumed 9.5 % of the level" in tag.error.source
        spread = math.hypot(tag.sd, 0.01 * tag.expected, sampling * tag.expected)
        assert tag.passes_frac == pytest.approx(0.5 * (1 + math.erf(margin / spread / 2**0.5)))


def test_what_the_mill_says_of_sampling_counts_for_every_nutrient():
    """With a spread of samples in mill.toml each guarantee's sample has it; without, the rest has none."""
    record = a_record()
    limits = least_cost(asked(record, "LAYER-16", TODAY).problem).limits
    for tag in tag_of(record, limits):
        known = published_sampling_cv(tag.name.removesuffix(" on the tag"))
        assert tag.error.sampling_sd == pytest.approx((known or 0.0) * tag.expected)
        assert ("not known and counted as none; assay" in tag.error.source) is (known is None)
    own = a_record(
        lambda mill: replace(mill, settings=replace(mill.settings, sampling_cv_frac=0.03))
    )
    for tag in tag_of(own, limits):
        assert tag.error.sampling_sd == pytest.approx(0.03 * tag.expected)
        assert "sampling 3 % of the level (mill.toml)" in tag.error.source
