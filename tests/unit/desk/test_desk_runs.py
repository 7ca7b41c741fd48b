"""What happens after the mixer and around the bins; stock, bins, traces of it."""

import pytest

from bedstone.desk.batches import record_batch
from bedstone.desk.runs import (
    PelletedBatch,
    hold_lots,
    record_count,
    record_ground,
    record_load,
    record_packed,
    record_pelleted,
    record_seen_empty,
    record_shipped,
    record_shipped_bulk,
    release_lots,
)
from bedstone.desk.stock import bins_view, stock_table
from bedstone.errors import BadInput, Refused, Unknown
from fakes.desk_day import PLAN, STOCK_KG, a_day, actuals, later
from fakes.memory import MemoryRecord

SHEEP = [row for row in PLAN.batches if row.run == "R-4107" and row.formula_version]
BAG_MG = 22_680_000


def line_mg(record: MemoryRecord, place: str, material: str) -> int:
    """Book stock of a line."""
    return sum(
        row.mass_mg for row in record.stock() if (row.place, row.material) == (place, material)
    )


def made_sheep() -> MemoryRecord:
    """A day on which all sheep batches were mixed."""
    record = a_day()
    for number, batch in enumerate(SHEEP):
        at = later(90 + number)
        record_batch(record, PLAN.plan, batch.batch, actuals(batch), by="mara", at=at)
    return record


def pelleted(record: MemoryRecord) -> None:
    """All sheep batches through the pellet line, 60 kg of steam each, 61 kg of water off again."""
    record_pelleted(
        record,
        run="R-4107",
        machine="PL1",
        from_place="SB1",
        to_place="FB1",
        batches=tuple(
            PelletedBatch(
                batch=batch.batch,
                in_mg=batch.mass_mg,
                steam_mg=60_000_000,
                dust_mg=1_000_000,
                out_mg=batch.mass_mg - 2_000_000,
            )
            for batch in SHEEP
        ),
        by="mara",
        at=later(120),
    )


def packed(record: MemoryRecord, bags: int = 239) -> None:
    """The run in bags."""
    record_packed(
        record,
        run="R-4107",
        machine="SK1",
        from_place="FB1",
        to_place="WH1",
        bags=bags,
        scrap_mg=500_000,
        by="mara",
        at=later(180),
    )


def test_a_run_goes_through_the_mill_to_the_milligram():
    """Mash, steam, water, dust, bags and scrap of a run balance to the milligram."""
    record = made_sheep()
    pelleted(record)
    packed(record)
    record_shipped(
        record, order="4107", run="R-4107", bags=200, from_place="WH1", by="osk", at=later(200)
    )
    mixed_mg = sum(batch.mass_mg for batch in SHEEP)
    out_mg = mixed_mg - 6_000_000
    assert line_mg(record, "SB1", "SHEEP-GR") == 0
    assert line_mg(record, "PL1", "SHEEP-GR") + line_mg(record, "PL1", "water") == 0
    assert line_mg(record, "air", "water") == 183_000_000
    assert line_mg(record, "FB1", "SHEEP-GR") == out_mg - 239 * BAG_MG - 500_000
    assert line_mg(record, "WH1", "SHEEP-GR") == 39 * BAG_MG
    assert line_mg(record, "customer/harrow", "SHEEP-GR") == 200 * BAG_MG
    assert sum(row.mass_mg for row in record.stock()) == 0


def test_more_pellets_than_mash_are_refused():
    """More out of a pellet line than mash and steam in is refused and nothing is written."""
    record = made_sheep()
    head = record.head()
    row = PelletedBatch(
        batch="4107-01", in_mg=10**9, steam_mg=10**7, dust_mg=0, out_mg=10**9 + 10**7 + 1
    )
    with pytest.raises(BadInput, match="More pellets"):
        record_pelleted(
            record, run="R-4107", machine="PL1", from_place="SB1", to_place="FB1",
            batches=(row,), by="mara", at=later(120),
        )  # fmt: skip
    assert record.head() == head


def test_a_batch_of_another_run_is_refused():
    """A batch that is not of the run cannot be pelleted or packed with it."""
    record = made_sheep()
    row = PelletedBatch(batch="4107-01", in_mg=10, steam_mg=0, dust_mg=0, out_mg=10)
    with pytest.raises(BadInput, match="not of run R-4106"):
        record_pelleted(
            record, run="R-4106", machine="PL1", from_place="SB1", to_place="FB1",
            batches=(row,), by="mara", at=later(120),
        )  # fmt: skip


def test_a_batch_goes_through_the_pellet_line_once():
    """A batch that was pelleted already is refused the second time, with its whole run."""
    record = made_sheep()
    pelleted(record)
    head = record.head()
    with pytest.raises(Refused, match="nothing of batch 4107-01 lies in SB1"):
        pelleted(record)
    assert record.head() == head


def test_wrong_machines_and_bins_are_refused():
    """A pellet line is no sacking line, a surge bin no warehouse, an unknown bin unknown."""
    record = made_sheep()
    wrong = {"run": "R-4107", "from_place": "FB1", "bags": 1, "by": "mara", "at": later(130)}
    with pytest.raises(BadInput, match="wrong machine"):
        record_packed(record, machine="PL1", to_place="WH1", **wrong)
    with pytest.raises(BadInput, match="right kind of bin"):
        record_packed(record, machine="SK1", to_place="SB1", **wrong)
    with pytest.raises(Unknown, match="WH1"):
        record_packed(record, machine="SK1", to_place="WH2", **wrong)


def test_a_held_batch_is_neither_packed_nor_shipped():
    """While one batch is on hold its run is not packed; while the run is, it is not shipped."""
    record = made_sheep()
    pelleted(record)
    hold_lots(record, ("4107-02",), why="smells", by="osk", at=later(130))
    with pytest.raises(Refused, match="4107-02 is on hold"):
        packed(record)
    release_lots(record, ("4107-02",), why="nose again", by="osk", at=later(140))
    packed(record)
    hold_lots(record, ("R-4107",), why="tag wrong", by="osk", at=later(190))
    with pytest.raises(Refused, match="R-4107 is on hold"):
        record_shipped(
            record, order="4107", run="R-4107", bags=1, from_place="WH1", by="osk", at=later(200)
        )
    with pytest.raises(Refused, match="Not on hold"):
        release_lots(record, ("4107-02",), why="x", by="osk", at=later(210))


def test_no_more_bags_leave_than_there_are():
    """Shipping more bags than the books have of the run is refused."""
    record = made_sheep()
    pelleted(record)
    packed(record, bags=10)
    with pytest.raises(Refused, match="not 11 bags"):
        record_shipped(
            record, order="4107", run="R-4107", bags=11, from_place="WH1", by="osk", at=later(200)
        )


def test_bulk_makes_the_run_a_lot_once():
    """Two trucks of one run leave under one lot."""
    record = a_day()
    batch = next(row for row in PLAN.batches if row.batch == "4106-01")
    from bedstone.desk.orders import set_order
    from fakes.desk_day import an_order

    order = an_order("4106", product="PIG-FIN", pack="bulk", customer="stile")
    set_order(record, order, by="osk", at=later(1))
    record_batch(record, PLAN.plan, "4106-01", actuals(batch), by="mara", at=later(90))
    for minute in (100, 110):
        record_shipped_bulk(
            record, order="4106", run="R-4106", mass_mg=500_000_000, from_place="FB2",
            machine="LO1", by="osk", at=later(minute),
        )  # fmt: skip
    assert line_mg(record, "customer/stile", "PIG-FIN") == 1_000_000_000
    assert record.lot("R-4106")[0].kind == "run"


def test_a_load_comes_in_and_is_ground():
    """A load of corn lies in its bin, part of it goes through the grinder, a loss as dust."""
    record = a_day()
    record_load(
        record, firm="fenwold", ingredient="CORN", into="B1", lot="L-1125", mass_mg=20 * 10**9,
        ticket="88", by="osk", at=later(1),
    )  # fmt: skip
    record_ground(
        record, machine="GR1", makes="CORN-GR", from_place="B1", to_place="G1", in_mg=10**9,
        out_mg=990_000_000, by="osk", at=later(20),
    )  # fmt: skip
    assert line_mg(record, "B1", "CORN") == 19 * 10**9
    assert line_mg(record, "G1", "CORN-GR") == 9_990_000_000
    assert line_mg(record, "air", "CORN-GR") == 10_000_000
    with pytest.raises(BadInput, match="must not go into"):
        record_load(
            record, firm="fenwold", ingredient="SBM", into="B1", lot="L-1", mass_mg=1,
            by="osk", at=later(2),
        )  # fmt: skip
    with pytest.raises(Refused, match="recorded already"):
        record_load(
            record, firm="fenwold", ingredient="CORN", into="B1", lot="L-1125", mass_mg=1,
            by="osk", at=later(2),
        )  # fmt: skip


def test_a_count_and_an_empty_bin_put_the_books_right():
    """A count moves the difference from or to unaccounted; a bin seen empty has nothing left."""
    record = a_day()
    record_count(
        record, "B4", material="SBM", counted_mg=5_900_000_000, how="tape", by="osk", at=later(1)
    )
    assert line_mg(record, "unaccounted", "SBM") == 100_000_000
    record_seen_empty(record, "B4", by="osk", at=later(2))
    assert line_mg(record, "B4", "SBM") == 0
    view = next(row for row in bins_view(record) if row.bin.bin == "B4")
    assert (view.layers, view.possible_lots) == ((), ())


def test_the_stock_table_names_what_is_odd():
    """Stock below nothing, above capacity, of the wrong material and left in a machine is named."""
    record = made_sheep()
    record_load(
        record, firm="fenwold", ingredient="MIDDS", into="B5", lot="L-MUCH", mass_mg=20 * 10**9,
        by="osk", at=later(109),
    )  # fmt: skip
    record_count(record, "B7", material="LIME", counted_mg=10**8, by="osk", at=later(110))
    record_ground(
        record, machine="GR1", makes="CORN-GR", from_place="B1", to_place="G1", in_mg=10**9,
        out_mg=10**9, by="mara", at=later(130),
    )  # fmt: skip
    found = {(row.place, row.material): row.finding for row in stock_table(record)}
    assert "below nothing" in found["B1", "CORN"]
    assert "more than it holds" in found["B5", "MIDDS"]
    assert "kept for Salt" in found["B7", "LIME"] or "kept for salt" in found["B7", "LIME"]
    assert found["B4", "SBM"] == ""
    assert not any(row.place == "MX1" for row in stock_table(record))


def test_stock_at_a_past_moment():
    """Stock before the first batch is the opening stock, whatever came later."""
    record = made_sheep()
    then = {(row.place, row.material): row.mass_mg for row in stock_table(record, later(1))}
    now = {(row.place, row.material): row.mass_mg for row in stock_table(record)}
    for (place, material), mass_kg in STOCK_KG.items():
        assert then[place, material] == round(mass_kg * 1e6)
    assert now["G1", "CORN-GR"] < then["G1", "CORN-GR"]


def test_bins_show_level_and_lots():
    """A bin shows its level, its material and the lot that lies in it, now and then."""
    record = made_sheep()
    view = {row.bin.bin: row for row in bins_view(record)}
    assert view["SB1"].material == "SHEEP-GR"
    assert [layer.lot for layer in view["SB1"].layers] == [batch.batch for batch in SHEEP]
    assert view["B4"].fill_frac == pytest.approx(
        (
            6000
            - sum(row.target_mg for b in SHEEP for row in b.draws if row.ingredient == "SBM") / 1e6
        )
        / 20_000
    )
    then = {row.bin.bin: row for row in bins_view(record, later(1))}
    assert then["SB1"].layers == ()
    assert then["B4"].layers[0].lot == "L-SBM"


def test_layers_follow_facts_recorded_out_of_order():
    """A fact of the past, and one taken back, change the layers as if read from the start."""
    record = made_sheep()
    bins_view(record)
    load = record_load(
        record, firm="fenwold", ingredient="SBM", into="B4", lot="L-EARLY", mass_mg=10**9,
        by="osk", at=later(5),
    )  # fmt: skip
    view = {row.bin.bin: row for row in bins_view(record)}
    assert {layer.lot for layer in view["B4"].layers} >= {"L-SBM"}
    assert sum(layer.mass_mg for layer in view["B4"].layers) == view["B4"].mass_mg
    record.reverse(load.position, by="osk", why="other mill", recorded_at=later(200))
    view = {row.bin.bin: row for row in bins_view(record)}
    assert [layer.lot for layer in view["B4"].layers] == ["L-SBM"]
