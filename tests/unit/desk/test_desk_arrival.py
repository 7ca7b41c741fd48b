"""A load at the gate: what may come in, what stays, what is refused with words."""

from dataclasses import replace

import pytest

from bedstone.desk.arrival import judge_arrival
from bedstone.desk.arrival_acts import arrivals, find_arrival, take_in, turn_away
from bedstone.desk.arrival_row import Arrival, TestValue
from bedstone.desk.assays import assays_of_lot
from bedstone.desk.bin_choice import rank_bins
from bedstone.desk.checks import place_mg
from bedstone.desk.held_stock import without_held
from bedstone.desk.holds import release_lots
from bedstone.desk.retained_samples import discard_sample, retained_samples
from bedstone.desk.settlements import paid_for, settle_load, settlements
from bedstone.desk.tables import current_mill
from bedstone.desk.under_hold import send_back, waiting_loads
from bedstone.errors import BadInput, Refused, Unknown
from bedstone.ledger.reversal import reversal_of
from bedstone.receiving.gate import Outcome
from fakes.loads import CORN_LOAD, NOON, a_quillback, pounds


def _with_test(test: str, value: float, unit: str) -> Arrival:
    kept = tuple(one for one in CORN_LOAD.tests if one.test != test)
    return replace(CORN_LOAD, tests=(*kept, TestValue(test=test, value=value, unit=unit)))


def test_a_sound_load_comes_in_with_its_weight_its_tests_and_its_papers():
    """Its net lies in the bin, its moisture among the assays, the load among the arrivals."""
    record = a_quillback()
    take_in(record, CORN_LOAD, into="B01", by="tomas", at=NOON)
    assert place_mg(record, "B01") == {"CORN": pounds(78_000) - pounds(30_000)}
    assert {row.nutrient: row.value for row in assays_of_lot(record, "L-900")}["moisture"] == 15.0
    kept = find_arrival(record, "T900")
    assert (kept.into, kept.outcome, kept.arrival) == ("B01", Outcome.TAKE, CORN_LOAD)


def test_the_same_ticket_is_not_taken_twice_in_or_away():
    """Neither a second load nor a refusal gets a ticket that is on record."""
    record = a_quillback()
    take_in(record, CORN_LOAD, into="B01", by="tomas", at=NOON)
    again = replace(CORN_LOAD, lot="L-901")
    with pytest.raises(Refused, match="T900 is on record already"):
        take_in(record, again, into="B01", by="tomas", at=NOON)
    with pytest.raises(Refused, match="T900 is on record already"):
        turn_away(record, again, why="no room", by="tomas", at=NOON)


def test_a_load_without_its_tests_or_looks_stays_at_the_gate():
    """Missing tests and things not looked at are named, and nothing is written."""
    record = a_quillback()
    head = record.head()
    with pytest.raises(Refused, match=r"moisture not tested yet.*aflatoxin not tested yet"):
        take_in(record, replace(CORN_LOAD, tests=()), into="B01", by="tomas", at=NOON)
    with pytest.raises(Refused, match="seals not looked at yet"):
        take_in(record, replace(CORN_LOAD, seals=""), into="B01", by="tomas", at=NOON)
    assert record.head() == head


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"tests": (TestValue(test="moisture", value=140.0, unit="%"),)}, "found 140 %"),
        ({"gross_mg": pounds(30_000), "tare_mg": pounds(78_000)}, "gross above tare"),
        ({"gross_mg": pounds(130_000), "tare_mg": pounds(10)}, "gross: found 130,000 lb"),
        ({"gross_mg": 2 * 10**14, "weighbridge": "WB1"}, "at most"),
        ({"weighbridge": "WB9"}, "WB9"),
        ({"firm": "nobody"}, "harrow"),
        ({"cargoes": ("milk", "grain", "grain")}, "earlier cargo"),
        ({"cleaned": "washed"}, "the number of the wash ticket"),
        ({"ticket": "T 1;"}, "ticket"),
    ],
)
def test_what_cannot_be_is_refused_with_words(change: dict[str, object], words: str):
    """Moisture of 140 %, a negative net, more than the scale bears, unknown names."""
    record = a_quillback()
    with pytest.raises(BadInput, match=words):
        judge_arrival(current_mill(record), replace(CORN_LOAD, **change))  # type: ignore[arg-type]


def test_a_load_larger_than_any_bin_is_refused():
    """Where the largest bin holds less than the net, the load is a slip of the keyboard."""
    record = a_quillback()
    mill = current_mill(record)
    small = replace(mill, bins=tuple(replace(row, capacity_kg=9000.0) for row in mill.bins))
    with pytest.raises(BadInput, match="the largest bin"):
        judge_arrival(small, CORN_LOAD)


def test_fertiliser_before_needs_a_wash_ticket_and_the_mills_own_rule_is_stricter():
    """Fertiliser holds the load until it is washed; medicated feed is turned away by cargo_rules."""
    mill = current_mill(a_quillback())
    dirty = replace(CORN_LOAD, cargoes=("fertiliser", "grain", "grain"))
    assert judge_arrival(mill, dirty).outcome is Outcome.HOLD
    washed = replace(dirty, cleaned="washed", wash_ticket="W-17")
    assert judge_arrival(mill, washed).outcome is Outcome.TAKE
    drug = replace(washed, cargoes=("medicated feed", "grain", "grain"))
    gate = judge_arrival(mill, drug)
    assert gate.outcome is Outcome.REJECT
    assert any("horse feed" in why for why in gate.reasons)


def test_a_toxin_shuts_the_feeds_and_bins_it_may_not_go_to():
    """90 ppb of aflatoxin in corn: sows and feedlot cattle may, dairy cows may not, so the shared
    corn bin is shut, and bin_choice says why.
    """
    record = a_quillback()
    gate = judge_arrival(current_mill(record), _with_test("aflatoxin", 90.0, "ug/kg"))
    assert "DAIRY-18" in gate.barred_products
    assert not {"SOW-14", "BEEF-FIN"} & set(gate.barred_products)
    assert "Dairy 18" in gate.barred_bins["B01"]
    ranked = rank_bins(
        record, ingredient="CORN", mass_mg=pounds(1000), at=NOON, barred=gate.barred_bins
    )
    (corn,) = [one for one in ranked if one.bin == "B01"]
    assert not corn.possible
    assert any("Dairy 18" in why for why in corn.why)


def test_a_wet_load_is_priced_down_and_shrunk():
    """16 % against 15.5: a step of two dollars a short ton, and the water above the base."""
    mill = current_mill(a_quillback())
    wet = _with_test("moisture", 16.0, "%")
    gate = judge_arrival(mill, wet)
    assert gate.outcome is Outcome.PRICE_DOWN
    assert gate.weighed is not None
    paid = paid_for(mill, wet, net_mg=gate.weighed.net_mg, at=NOON)
    net_lb, price_ton = 48_000, 158 - 2  # harrow's contract K-2207 less the step
    paid_lb = net_lb * (1 - 0.005 / 0.845 - 0.005)
    assert paid.money_cents == round(paid_lb / 2000 * price_ton * 100)


def test_a_load_turned_away_is_on_record_with_its_reasons():
    """Live insects: it cannot be taken, and the refusal keeps why."""
    record = a_quillback()
    bad = replace(CORN_LOAD, insects="live")
    with pytest.raises(Refused, match="live insects"):
        take_in(record, bad, into="B01", by="tomas", at=NOON)
    turn_away(record, bad, why="", by="tomas", at=NOON)
    (kept,) = arrivals(record)
    assert kept.into == ""
    assert "live insects would infest the bins" in kept.reasons
    assert place_mg(record, "B01") == {}


def test_only_who_may_takes_loads_in():
    """A sacker is refused, an unknown bin and an unknown ticket are named."""
    record = a_quillback()
    with pytest.raises(Refused, match="take loads in"):
        take_in(record, CORN_LOAD, into="B01", by="mara", at=NOON)
    with pytest.raises(Unknown):
        take_in(record, CORN_LOAD, into="B77", by="tomas", at=NOON)
    with pytest.raises(BadInput, match="must not go into"):
        take_in(record, CORN_LOAD, into="B02", by="tomas", at=NOON)
    with pytest.raises(Unknown, match="T1"):
        find_arrival(record, "T1")


def test_a_settlement_is_corrected_by_another_and_neither_is_lost():
    """The second names the first and why; without a why it is refused, as is a load turned away."""
    record = a_quillback()
    take_in(record, _with_test("moisture", 16.0, "%"), into="B01", by="tomas", at=NOON)
    first = settle_load(record, "T900", by="tomas", at=NOON)
    with pytest.raises(BadInput, match="settled already"):
        settle_load(record, "T900", by="tomas", at=NOON)
    settle_load(record, "T900", by="dell", at=NOON, moisture_pct=15.8, why="oven says 15.8")
    before, last = settlements(record)["T900"]
    assert last.settled.corrects == first.position == before.position
    assert (before.settled.moisture_pct, last.settled.moisture_pct) == (16.0, 15.8)
    assert last.settled.money_cents > before.settled.money_cents
    assert last.settled.base_pct == 15.5
    with pytest.raises(Refused, match="may not settle loads"):
        settle_load(record, "T900", by="mara", at=NOON, why="x")


def test_a_load_lacking_a_test_of_the_gate_is_not_unloaded_even_under_hold():
    """Under hold means waiting for a result from elsewhere, not for one of the gate or a look."""
    record = a_quillback()
    for bad in (replace(CORN_LOAD, tests=()), replace(CORN_LOAD, seals="")):
        with pytest.raises(Refused, match="stays at the gate"):
            take_in(record, bad, into="B01", by="dell", at=NOON, under_hold="a result")
    with pytest.raises(Refused, match="Nothing holds this load"):
        take_in(record, CORN_LOAD, into="B01", by="dell", at=NOON, under_hold="a result")


def test_a_load_on_hold_is_not_drawn_from_until_it_is_released():
    """A result too close to its limit: unloaded under hold, its bin counts as empty for plans."""
    record = a_quillback()
    close = _with_test("aflatoxin", 18.0, "ug/kg")
    assert judge_arrival(current_mill(record), close).may_wait_in_bin
    take_in(record, close, into="B01", by="dell", at=NOON, under_hold="a second strip")
    stock = {(row.place, row.material): row.mass_mg for row in record.stock()}
    assert without_held(record, stock)["B01", "CORN"] == 0
    (waiting,) = waiting_loads(record)
    assert "a second strip" in waiting.why
    release_lots(record, ("L-900",), why="second strip 9 ppb", by="rosa", at=NOON)
    assert without_held(record, stock)["B01", "CORN"] > 0
    assert not waiting_loads(record)


def test_what_is_sent_back_leaves_the_bin_as_its_lot():
    """Alone in its bin it is that lot that leaves; twice it cannot."""
    record = a_quillback()
    close = _with_test("aflatoxin", 18.0, "ug/kg")
    take_in(record, close, into="B01", by="dell", at=NOON, under_hold="a second strip")
    item = send_back(record, "T900", mass_mg=pounds(48_000), why="90 ppb", by="rosa", at=NOON)
    assert [move.lot for move in item.fact.movements] == ["L-900"]
    assert place_mg(record, "B01").get("CORN", 0) == 0
    with pytest.raises(Refused, match="sent back already"):
        send_back(record, "T900", mass_mg=1, why="again", by="rosa", at=NOON)


def test_a_retained_sample_goes_on_its_day_or_with_a_reason():
    """Before its day it asks why; afterwards it goes once."""
    record = a_quillback()
    take_in(record, CORN_LOAD, into="B01", by="tomas", at=NOON)
    (sample,) = retained_samples(record, today=NOON.date())
    assert (sample.shelf, str(sample.keep_until)) == ("shelf 3", "2027-05-24")
    with pytest.raises(BadInput, match="kept until 2027-05-24"):
        discard_sample(record, "T900", why="", by="tomas", at=NOON)
    discard_sample(record, "T900", why="jar broken", by="tomas", at=NOON)
    assert retained_samples(record, today=NOON.date()) == ()
    with pytest.raises(Refused, match="kept any more"):
        discard_sample(record, "T900", why="jar broken", by="tomas", at=NOON)


def test_a_load_taken_back_in_the_journal_is_no_arrival_any_more():
    """Its ticket may be used again."""
    record = a_quillback()
    take_in(record, CORN_LOAD, into="B01", by="tomas", at=NOON)
    (item,) = record.facts(kinds=("receiving.load_accepted/1",))
    record.append(reversal_of(item, by="dell", why="wrong bin"), recorded_at=NOON)
    assert arrivals(record) == ()


def test_density_and_warmth_are_judged_without_a_specification():
    """Soybean hulls far from their density or hot are held, whatever specifications.csv says."""
    mill = current_mill(a_quillback())
    hulls = replace(CORN_LOAD, ingredient="SOYHULL", firm="elevatorrow")

    def outcome(test: str, value: float, unit: str) -> Outcome:
        tests = (TestValue(test=test, value=value, unit=unit),)
        return judge_arrival(mill, replace(hulls, tests=tests)).outcome

    assert outcome("temperature", 70.0, "F") is Outcome.TAKE
    assert outcome("temperature", 120.0, "F") is Outcome.HOLD
    assert outcome("bulk density", 28.0, "lb/ft3") is Outcome.TAKE
    assert outcome("bulk density", 12.0, "lb/ft3") is Outcome.HOLD
