"""The demo mill's folder: whole, sensible, and true to its own tags."""

import datetime as dt
from math import isclose
from pathlib import Path

import pytest

from bedstone.demo.quillback import DEMO_PINS, next_working_day, quillback_folder
from bedstone.mill.contents import contents_of, limits_of
from bedstone.mill.model import Guarantee, Mill
from bedstone.store.folder import read_folder, write_folder

DAY = dt.date(2026, 11, 26)
MILL = quillback_folder(DAY).mill
POUND_KG = 0.45359237


def nutrients_of(mill: Mill, material: str) -> dict[str, float]:
    """Means of nutrients of an ingredient, or of a product by its running formula."""
    formula = mill.running_formula(material)
    if formula is None:
        return {row.nutrient: row.mean for row in mill.composition if row.ingredient == material}
    total: dict[str, float] = {}
    for line in mill.lines_of(material, formula.version):
        for nutrient, mean in nutrients_of(mill, line.ingredient).items():
            total[nutrient] = total.get(nutrient, 0.0) + line.parts_frac * mean
    return total


def test_folder_reads_back_as_it_was(tmp_path: Path):
    """The demo folder written to files is valid and reads back exactly."""
    folder = quillback_folder(DAY)
    write_folder(folder, tmp_path / "mill")
    assert read_folder(tmp_path / "mill") == folder


def test_folder_has_what_the_demo_shows():
    """The mill has the bins, feeds and species that the demo is meant to show."""
    assert 24 <= len(MILL.bins) <= 36
    assert len(MILL.products) >= 15
    assert len({row.species for row in MILL.products}) >= 6
    assert {row.form for row in MILL.products} == {"mash", "pellet", "textured"}
    assert sum(row.medicated for row in MILL.products) == 2
    assert {row.status for row in MILL.formulas} >= {"running", "draft", "withdrawn"}
    assert {row.kind for row in MILL.limits} >= {"level", "procedure", "never"}


def test_textured_feed_takes_pellets_of_the_mill():
    """The textured feed holds pellets, whole or rolled grain, and molasses."""
    formula = MILL.running_formula("HORSE-TX")
    assert formula is not None
    parts = {line.ingredient for line in MILL.lines_of("HORSE-TX", formula.version)}
    assert {"HORSE-SUP", "OATS-R", "CORN-R", "MOLASSES"} <= parts
    assert MILL.product("HORSE-SUP").form == "pellet"


@pytest.mark.parametrize(
    "key",
    [(row.product, row.version) for row in MILL.formulas],
    ids=lambda key: "-v".join(map(str, key)),
)
def test_every_version_adds_up(key: tuple[str, int]):
    """The parts of every version of every formula add up to the whole."""
    assert isclose(sum(line.parts_frac for line in MILL.lines_of(*key)), 1.0, abs_tol=1e-9)


@pytest.mark.parametrize("row", MILL.guarantees, ids=lambda row: f"{row.product} {row.nutrient}")
def test_every_guarantee_is_met_at_the_means(row: Guarantee):
    """What the tag guarantees is met by the formula with the mean of every ingredient."""
    mean = nutrients_of(MILL, row.product).get(row.nutrient, 0.0)
    assert row.minimum is None or mean >= row.minimum
    assert row.maximum is None or mean <= row.maximum


def test_width_of_mineral_guarantees():
    """Calcium and salt are guaranteed within the widths that state rules allow: half a point below
    2.5 %, one point from there to 5 % (Minn. R. 1510.2070).
    """
    checked = 0
    for row in MILL.guarantees:
        if row.nutrient in {"calcium", "salt"}:
            assert row.minimum is not None
            assert row.maximum is not None
            width = 0.5 if row.minimum < 2.5 else 1.0
            assert row.maximum - row.minimum <= width + 1e-9
            checked += 1
    assert checked == 2 * len(MILL.products)


def test_copper_of_the_lamb_feed_by_hand():
    """The lamb grower's own copper is 7.6 mg/kg, added up here by hand from its formula."""
    by_hand = (
        0.2965 * 2.6  # ground corn
        + 0.18 * 6.2  # ground barley
        + 0.15 * 16.0  # soybean meal
        + 0.12 * 9.98  # middlings
        + 0.08 * 3.6  # alfalfa meal
        + 0.08 * 8.0  # soybean hulls
        + 0.04 * 20.4  # molasses
        + 0.03 * 8.0  # beet pulp
        + 0.016 * 5.0  # limestone
        + 0.005 * 0.3  # salt
        + 0.0025 * 20.0  # premix without added copper
    )
    assert by_hand == pytest.approx(7.60, abs=0.01)
    assert contents_of(MILL, "SHEEP-GR")["copper"] == pytest.approx(by_hand)


def test_copper_of_the_pig_feed_by_hand():
    """The pig starter's own copper is 217 mg/kg, of which copper sulfate brings 200."""
    background = 0.55 * 2.6 + 0.3 * 16.0 + 0.05 * 9.98 + 0.033 * 6.2 + 0.016 * 10 + 0.009 * 5
    by_hand = background + 0.004 * 0.3 + 0.0025 * 4_000 + 0.0008 * 250_000
    assert by_hand == pytest.approx(217.1, abs=0.1)
    assert contents_of(MILL, "SWINE-ST")["copper"] == pytest.approx(by_hand)


def test_drugs_of_the_medicated_feeds_by_hand():
    """Thirty and sixty grams a short ton are in the feedlot and the broiler feed."""
    gram_ton = 1 / 0.90718474  # mg/kg in a gram per short ton
    assert contents_of(MILL, "BEEF-FIN")["monensin"] == pytest.approx(30 * gram_ton, rel=0.003)
    assert contents_of(MILL, "BROIL-ST")["salinomycin"] == pytest.approx(60 * gram_ton, rel=0.001)


def test_no_feed_breaks_its_own_limits():
    """No running formula breaks a limit of its own feed before anything is carried over."""
    for product in MILL.products:
        own = contents_of(MILL, product.product)
        for limit in limits_of(MILL, product.product):
            assert own.get(limit.substance, 0.0) <= (limit.level_mg_kg or 0.0), product.product


def test_corn_free_feed_has_no_corn():
    """The corn-free horse feed contains no corn, and its limit says how it is kept so."""
    assert "corn" not in contents_of(MILL, "HORSE-PEL")
    assert "corn" in contents_of(MILL, "HORSE-TX")
    kinds = {row.kind for row in limits_of(MILL, "HORSE-PEL") if row.substance == "corn"}
    assert kinds == {"procedure"}


def test_horse_side_handles_no_drug():
    """No feed with a drug or urea can pass what bagged horse feed passes."""
    shared = {"MX2", "SB3", "PL2", "FB6", "FB7", "FB8", "SK2"}
    for product in MILL.products:
        if {"monensin", "salinomycin", "urea"} & contents_of(MILL, product.product).keys():
            assert not shared & set(product.route.replace(">", " ").replace("|", " ").split())


def test_orders_follow_the_day():
    """Orders, due times and weather belong to the day asked for, whichever it is."""
    for day in (DAY, dt.date(2027, 3, 15)):
        folder = quillback_folder(day)
        zone = folder.mill.settings.zone
        assert {row.due_at.astimezone(zone).date() for row in folder.orders} == {day}
        assert all(row.entered_at < row.due_at for row in folder.orders)
        assert day in {row.hour_at.astimezone(zone).date() for row in folder.weather}
        assert max(row.received_at for row in folder.opening_stock) < min(
            row.entered_at for row in folder.orders
        )


def test_orders_fill_the_day():
    """The orders make some eighty batches of both mixers."""
    folder = quillback_folder(DAY)
    batches = 0
    for order in folder.orders:
        mixer = folder.mill.machine_by_code[folder.mill.product(order.product).route.split(" ")[0]]
        assert mixer.mass_max_kg is not None
        batches += -(-round(order.mass_kg * 1e6) // round(mixer.mass_max_kg * 1e6))
    assert 24 <= len(folder.orders) <= 30
    assert 70 <= batches <= 95


def test_urea_for_one_feedlot_order_but_not_for_both():
    """Urea on the floor is enough for either feedlot order and short for both."""
    folder = quillback_folder(DAY)
    urea_kg = sum(row.mass_kg for row in folder.opening_stock if row.material == "UREA")
    needs_kg = [0.007 * row.mass_kg for row in folder.orders if row.product == "BEEF-FIN"]
    assert len(needs_kg) == 2
    assert max(needs_kg) < urea_kg < sum(needs_kg)


def test_bags_are_fifty_pounds():
    """Bagged orders are whole numbers of 50 lb bags."""
    for order in quillback_folder(DAY).orders:
        if order.pack == "bags":
            bags = order.mass_kg / (50 * POUND_KG)
            assert isclose(bags, round(bags), abs_tol=1e-9)


def test_pins_for_everybody():
    """Each person of the mill has a PIN of four figures, all different."""
    assert set(DEMO_PINS) == {row.person for row in MILL.people}
    assert all(len(pin) == 4 and pin.isdigit() for pin in DEMO_PINS.values())
    assert len(set(DEMO_PINS.values())) == len(DEMO_PINS)


def test_next_working_day_skips_the_weekend():
    """After a Friday comes a Monday, after a Monday a Tuesday."""
    assert next_working_day(dt.date(2026, 11, 27)) == dt.date(2026, 11, 30)
    assert next_working_day(dt.date(2026, 11, 30)) == dt.date(2026, 12, 1)
