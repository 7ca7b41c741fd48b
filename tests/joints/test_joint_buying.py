"""A joint walked whole on the demo mill: price, formula, cost of a ton, margin, what to buy."""

import datetime as dt
from dataclasses import replace

import pytest
from scipy.optimize import brentq

from bedstone.demo.quillback import quillback_folder
from bedstone.desk.bin_choice import rank_bins
from bedstone.desk.buying import ToBuy, buying_list
from bedstone.desk.formula_answer import formulate, parts_of
from bedstone.desk.formula_checks import judge
from bedstone.desk.formula_versions import approve_formula, draft_formula, put_formula_in_use
from bedstone.desk.formulate import Choices
from bedstone.desk.level_masses import latest_levels
from bedstone.desk.levels import record_level
from bedstone.desk.receive import record_load
from bedstone.desk.revisions import current_mill
from bedstone.desk.supplier_cards import supplier_cards
from bedstone.desk.tables import load_tables, recorded_folder
from bedstone.mill.model import Price
from bedstone.storage.levels import shape_of
from fakes.memory import MemoryRecord

DAY = dt.date(2026, 11, 26)
EVE = dt.datetime(2026, 11, 25, 13, tzinfo=dt.UTC)
SHEEP = "SHEEP-GR"
CHOICES = Choices(on=DAY)


@pytest.fixture
def record() -> MemoryRecord:
    """The demo mill with its opening stock and the orders of one product."""
    folder = quillback_folder(DAY)
    orders = tuple(row for row in folder.orders if row.product == SHEEP)
    made = MemoryRecord()
    load_tables(made, replace(folder, orders=orders, weather=()), by="dell", at=EVE)
    return made


def at(minutes: float) -> dt.datetime:
    """So many minutes after the tables were loaded."""
    return EVE + dt.timedelta(minutes=minutes)


def on_list(record: MemoryRecord, code: str) -> ToBuy | None:
    """The line of an ingredient on the buying list."""
    return next((row for row in buying_list(record, at=at(60)) if row.ingredient == code), None)


def test_from_a_price_to_what_is_bought(record: MemoryRecord):
    """Corn rises by 120 USD/t: the formula that answers takes less of it, the margin of the order is
    larger than by staying, and the list asks for as much less corn as the new formula says.
    """
    mill = current_mill(record)
    ordered_kg = sum(row.mass_kg for row in recorded_folder(record).orders)
    assert ordered_kg > 0
    running = {row.ingredient: row.parts_frac for row in mill.lines_of(SHEEP, 2)}
    corn = on_list(record, "CORN")
    assert corn is not None
    share = sum(running.get(code, 0.0) for code in ("CORN-G", "CORN-R"))
    assert corn.ordered_kg == pytest.approx(share * ordered_kg)

    now = formulate(record, SHEEP, CHOICES).asked.prices["CORN-G"].price_usd_t + 120
    folder = recorded_folder(record)
    price = Price(ingredient="CORN-G", from_on=DAY, price_usd_t=now)
    dearer = replace(folder, mill=replace(folder.mill, prices=(*folder.mill.prices, price)))
    load_tables(record, dearer, by="dell", at=at(5))
    staying_usd_t = judge(record, SHEEP, running, CHOICES).cost_usd_t
    found = formulate(record, SHEEP, CHOICES)
    assert found.weighed is not None
    parts = parts_of(found.weighed.shares)
    version = draft_formula(record, SHEEP, parts, why="dear corn", by="ines", at=at(10))
    approve_formula(record, SHEEP, version, choices=CHOICES, by="ines", at=at(11))
    put_formula_in_use(record, SHEEP, version, by="ines", at=at(12))

    mill = current_mill(record)
    parts = {row.ingredient: row.parts_frac for row in mill.lines_of(SHEEP, version)}
    moved_usd_t = judge(record, SHEEP, parts, CHOICES).cost_usd_t
    sold_usd_t = mill.product(SHEEP).price_usd_t
    assert sold_usd_t - moved_usd_t > sold_usd_t - staying_usd_t
    less = sum(parts.get(code, 0.0) for code in ("CORN-G", "CORN-R"))
    assert less < share
    corn = on_list(record, "CORN")
    assert (corn.ordered_kg if corn is not None else 0.0) == pytest.approx(less * ordered_kg)


def test_from_a_load_to_the_bin_the_card_and_the_level(record: MemoryRecord):
    """A load takes room from its bin and stands on its supplier's card; a tape that agrees with the
    books is within the errors, one a metre and a half off is a finding.
    """

    def room_mg() -> int:
        row = rank_bins(record, ingredient="SBM48", mass_mg=10**9, at=at(60))[0]
        assert row.bin == "B04"
        assert row.room_mg is not None
        return row.room_mg

    before = room_mg()
    record_load(
        record, firm="ferriscrush", ingredient="SBM48", into="B04", lot="L-1125-SBM48",
        mass_mg=2_000_000_000, by="tomas", at=at(5),
    )  # fmt: skip
    assert room_mg() == before - 2_000_000_000
    (card,) = supplier_cards(record, at=at(60))
    assert (card.supplier, card.loads, card.refused) == ("ferriscrush", 1, 0)
    assert card.protein_assured_usd_kg is None  # nothing was assayed

    mill = current_mill(record)
    shape = next(row for row in mill.bin_shapes if row.bin == "B04")
    book_kg = sum(line.mass_mg for line in record.stock() if line.place == "B04") / 1e6
    density = mill.ingredient_by_code["SBM48"].density_kg_m3
    bin_ = shape_of(shape)
    down_m = brentq(
        lambda depth: (
            bin_.volume_m3(depth, top="heap", repose_deg=shape.repose_deg) * density - book_kg
        ),
        0.0,
        bin_.height_m,
    )
    for minutes, off_m, is_finding in ((10, 0.0, False), (20, 1.5, True)):
        record_level(
            record, "B04", method="tape", value=down_m + off_m, unit="m", sd=0.03, by="tomas",
            at=at(minutes),
        )  # fmt: skip
        (row,) = latest_levels(record)
        assert row.found is not None
        assert row.found.is_finding is is_finding


def test_barred_and_kept_for_others_are_out_of_the_question(record: MemoryRecord):
    """What the gate bars and what is kept for something else come last, each with its reason."""
    rows = rank_bins(
        record, ingredient="SBM48", mass_mg=10**9, at=at(60), barred={"B04": "Vomitoxin: swine."}
    )
    assert not any(row.possible for row in rows)
    by_bin = {row.bin: row for row in rows}
    assert by_bin["B04"].why[0] == "Vomitoxin: swine."
    assert by_bin["B01"].why[0] == "Kept for Corn, whole."
    assert by_bin["B01"].is_kept_for_other
    assert not by_bin["B04"].is_kept_for_other


def test_trucks_of_the_buying_list_fit_the_bin(record: MemoryRecord):
    """Corn for two weeks is more than its bin holds: what comes on a day is never more than that,
    and the row says what does not fit.
    """
    folder = recorded_folder(record)
    first = folder.orders[0]
    big = tuple(
        replace(first, order=f"W{number}", mass_kg=2e5, due_at=EVE + dt.timedelta(days=number))
        for number in range(1, 12)
    )
    load_tables(record, replace(folder, orders=big), by="dell", at=at(5))
    corn = on_list(record, "CORN")
    assert corn is not None
    bin_kg = sum(row.capacity_kg for row in current_mill(record).bins if row.holds == "CORN")
    assert sum(one.mass_kg for one in corn.comes) > bin_kg
    assert all(one.mass_kg <= bin_kg for one in corn.comes)
    assert "fit" in corn.note or "as there is room" in corn.note
