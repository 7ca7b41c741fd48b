"""The mill simulator: the same from the same seed, and within what a mill can do."""

import datetime as dt
from collections import Counter
from itertools import islice, pairwise

import pytest

from bedstone.demo.quillback import PAST_DAYS, quillback_folder, quillback_past
from bedstone.demo.quillback.demand import DEMANDS, LEAVE_KG
from bedstone.demo.simulator import Past
from bedstone.ledger.chain import NO_HEAD, next_head
from bedstone.ledger.model import Fact, How, is_outside
from bedstone.ledger.reversal import mirrored
from bedstone.ledger.text import check_fact, fact_text
from bedstone.mill.contents import contents_of, limits_of
from bedstone.mill.residue import Residue

DAY = dt.date(2026, 11, 26)
DAYS = PAST_DAYS
FOLDER = quillback_folder(DAY, past_days=DAYS)
MILL = FOLDER.mill
MG_KG = 1_000_000
NIGHT = dt.datetime(2026, 11, 26, 5, tzinfo=dt.UTC)
PAST_KINDS = {
    "orders.order_set/1",
    "orders.order_cancelled/1",
    "weather.hours_set/1",
    "receiving.load_accepted/1",
    "receiving.load_inspected/1",
    "receiving.load_refused/1",
    "receiving.load_settled/1",
    "receiving.lot_sent_back/1",
    "grinding.ground/1",
    "batching.batch_started/1",
    "batching.batch_made/1",
    "pelleting.run_pelleted/1",
    "finishing.run_packed/1",
    "finishing.shipped/1",
    "cleaning.cleaned_out/1",
    "storage.bin_seen_empty/1",
    "storage.counted/1",
    "quality.held/1",
    "quality.released/1",
    "journal.reversed/1",
    "quality.assayed/1",
    "live.readings_taken/1",
    "quality.instrument_proved/1",
    "quality.power_event/1",
    "storage.level_read/1",
    "quality.complaint_received/1",
    "quality.mixer_tested/1",
    "quality.durability_tested/1",
    "quality.sieved/1",
    "pelleting.part_fitted/1",
}


def past(seed: int = 0, *, today: dt.date = DAY) -> list[Fact]:
    """The demo's past."""
    return list(quillback_past(DAY, today=today, past_days=DAYS, seed=seed))


def head_of(facts: list[Fact]) -> str:
    """The head of a chain of these facts alone."""
    head = NO_HEAD
    for position, fact in enumerate(facts, 1):
        head = next_head(head, fact_text(fact, position=position, recorded_at=NIGHT))
    return head


@pytest.fixture(scope="module")
def facts() -> list[Fact]:
    """The past of seed 0."""
    return past()


def test_same_seed_same_heads(facts: list[Fact]):
    """The same seed gives the same chain, another seed another."""
    assert head_of(past()) == head_of(facts)
    another = list(islice(quillback_past(DAY, today=DAY, past_days=DAYS, seed=1), 300))
    assert head_of(another) != head_of(facts[:300])


def test_every_kind_of_the_past_appears(facts: list[Fact]):
    """Every kind of fact that belongs to a past appears, each of a form that may be kept."""
    assert {fact.kind for fact in facts} == PAST_KINDS
    assert 4_000 <= len(facts) <= 9_000
    for fact in facts:
        check_fact(fact)


def test_past_runs_in_order_of_time(facts: list[Fact]):
    """Facts come in order of time, but for the one that takes an earlier one back."""
    late = [b.kind for a, b in pairwise(facts) if b.happened_at < a.happened_at]
    assert late == ["journal.reversed/1"]


def test_reversal_mirrors_the_fact_it_names(facts: list[Fact]):
    """The reversal names the place of a load in the journal and mirrors its movements."""
    shifted = list(quillback_past(DAY, today=DAY, seed=0, first_position=41))
    taken_back = next(fact for fact in shifted if fact.kind == "journal.reversed/1")
    position = taken_back.content["reverses"]
    assert isinstance(position, int)
    fact = shifted[position - 41]
    assert fact.kind == taken_back.content["kind"] == "receiving.load_accepted/1"
    assert taken_back.movements == tuple(mirrored(row) for row in fact.movements)
    assert taken_back.happened_at == fact.happened_at
    assert len(shifted) == len(facts)


def test_past_ends_before_today():
    """Nothing is made up for today or later, so that what is recorded now is the newest."""
    zone = MILL.settings.zone
    today = DAY - dt.timedelta(days=2)
    made = [fact for fact in past(today=today) if fact.kind != "orders.order_set/1"]
    assert max(fact.happened_at for fact in made).astimezone(zone).date() < today
    assert past(today=DAY - dt.timedelta(days=DAYS)) == []


def test_some_bags_are_still_in_the_warehouse(facts: list[Fact]):
    """When the past ends, runs lie in the warehouse, whole, each under its own lot."""
    packed: Counter[str] = Counter()
    for fact in facts:
        for row in fact.movements:
            if row.to_place == "WH1":
                packed[str(row.lot)] += row.mass_mg
            if row.from_place == "WH1":
                packed[str(row.lot)] -= row.mass_mg
    there = {lot: mass for lot, mass in packed.items() if mass}
    assert 1 <= len(there) <= 8
    assert all(mass > 0 for mass in there.values())


def test_loads_come_one_after_another_while_people_are_there(facts: list[Fact]):
    """Loads drive up from half an hour before the first shift to the early evening, on working
    days, seldom late, and no two within five minutes but for a ticket that was typed in twice.
    """
    zone = MILL.settings.zone
    loads = [fact for fact in facts if fact.kind == "receiving.load_accepted/1"]
    came = [fact.happened_at.astimezone(zone) for fact in loads]
    assert all(dt.time(5, 30) <= at.time() <= dt.time(19, 30) for at in came)
    assert all(at.weekday() < 6 for at in came)
    assert sum(at.time() > dt.time(17) for at in came) < len(came) / 20
    close = [(a, b) for a, b in pairwise(came) if b - a < dt.timedelta(minutes=5)]
    assert len(close) <= 1


def book(facts: list[Fact]) -> tuple[Counter[str], dict[str, int], dict[str, int]]:
    """Stock of each place after all facts, and the most and least it ever was."""
    stock: Counter[str] = Counter()
    for row in FOLDER.opening_stock:
        stock[row.place] += round(row.mass_kg * MG_KG)
    most, least = dict(stock), dict(stock)
    for fact in facts:
        for row in fact.movements:
            stock[row.from_place] -= row.mass_mg
            stock[row.to_place] += row.mass_mg
        for row in fact.movements:
            for place in (row.from_place, row.to_place):
                most[place] = max(most.get(place, 0), stock[place])
                least[place] = min(least.get(place, 0), stock[place])
    return stock, most, least


def test_mass_is_conserved(facts: list[Fact]):
    """What came in less what went out is what the places hold more than at first."""
    stock, *_ = book(facts)
    opening_mg = sum(round(row.mass_kg * MG_KG) for row in FOLDER.opening_stock)
    inside = sum(mass for place, mass in stock.items() if not is_outside(place))
    outside = sum(mass for place, mass in stock.items() if is_outside(place))
    assert inside + outside == opening_mg


def test_machines_come_back_to_nothing(facts: list[Fact]):
    """Every machine and surge bin holds nothing on the books when the past ends."""
    stock, *_ = book(facts)
    passed = {*MILL.machine_by_code, *(row.bin for row in MILL.bins if row.kind == "surge")}
    assert {place: stock[place] for place in passed if stock[place]} == {}


def test_no_bin_runs_over_or_dry(facts: list[Fact]):
    """No bin ever holds more than its capacity; finished bins may stand a little below nothing
    until somebody sees them empty, others never.
    """
    _, most, least = book(facts)
    for row in MILL.bins:
        assert most.get(row.bin, 0) <= row.capacity_kg * MG_KG, row.bin
        slack_kg = 0.02 * row.capacity_kg if row.kind == "finished" else 0.0
        assert least.get(row.bin, 0) >= -slack_kg * MG_KG, row.bin


def test_truth_and_books_differ_a_little():
    """What truly lies in a bin is never below nothing, and near what the books say."""
    run = Past(MILL, FOLDER.opening_stock, seed=3)
    start = DAY - dt.timedelta(days=DAYS)
    list(run.run(start, days=DAYS, demands=DEMANDS, leave_kg=LEAVE_KG))
    kept = [(row.bin, row.holds) for row in MILL.bins if row.holds]
    differences = []
    for key in kept:
        true_kg, book_kg = run.floor.true[key] / MG_KG, run.floor.book[key] / MG_KG
        assert true_kg > 0
        assert abs(true_kg - book_kg) < 0.03 * MILL.bin_by_code[key[0]].capacity_kg
        differences.append(abs(true_kg - book_kg))
    assert max(differences) > 0.1


def test_draws_stand_on_divisions_with_readings(facts: list[Fact]):
    """Every draw is whole divisions of its instrument, with the reading as it was read."""
    divisions = {row.scale: row.division_kg for row in MILL.scales}
    divisions |= {row.meter: row.division_kg for row in MILL.meters}
    seen = 0
    for fact in facts:
        if fact.kind != "batching.batch_made/1":
            continue
        for row in fact.movements[:-1]:
            steps = row.mass_mg / round(divisions[row.instrument] * MG_KG)
            assert steps == pytest.approx(round(steps), abs=1e-6)
            assert row.seen is not None
            assert row.seen.unit == "lb"
            assert float(row.seen.number) * 453_592.37 == pytest.approx(row.mass_mg, abs=50_000)
            assert row.how in (How.WEIGHED, How.METERED)
            assert (row.lot is not None) == (row.from_place == "FLOOR")
            seen += 1
    assert seen > 5_000


def test_some_draws_are_out_of_tolerance(facts: list[Fact]):
    """A few draws miss their tolerance and say so; none of them is of a drug."""
    batches = [fact for fact in facts if fact.kind == "batching.batch_made/1"]
    with_findings = [fact for fact in batches if fact.content["findings"]]
    assert 3 <= len(with_findings) <= len(batches) // 5
    for fact in with_findings:
        findings = fact.content["findings"]
        assert isinstance(findings, list)
        for row in findings:
            assert isinstance(row, dict)
            assert abs(float(str(row["value"]))) > float(str(row["limit"]))
            assert row["verdict"] == "act"


def test_past_leaves_enough_for_today(facts: list[Fact]):
    """In the evening there is enough of everything for today's orders but urea, which is enough
    for one of the two feedlot orders.
    """
    bins = MILL.bin_by_code
    left: Counter[str] = Counter()
    for row in FOLDER.opening_stock:
        left[row.material] += round(row.mass_kg * MG_KG)
    for fact in facts:
        for move in fact.movements:
            left[move.material] -= move.mass_mg if move.from_place in bins else 0
            left[move.material] += move.mass_mg if move.to_place in bins else 0
    needs: Counter[str] = Counter()
    for order in FOLDER.orders:
        formula = MILL.running_formula(order.product)
        assert formula is not None
        if order.order != "4127":
            for line in MILL.lines_of(order.product, formula.version):
                needs[line.ingredient] += round(line.parts_frac * order.mass_kg * MG_KG)
    assert needs["UREA"] < left["UREA"] < needs["UREA"] + 0.007 * 10_886 * MG_KG
    for material, need in needs.items():
        source = MILL.ingredient_by_code.get(material)
        there = left[material] + (left[source.ground_from] if source else 0)
        assert there > need, material


@pytest.mark.parametrize("seed", [0, 1])
def test_past_keeps_every_limit(seed: int):
    """By the mill's exact reckoning of residue no feed of the past broke a limit, though the
    simulator flushes by rules of its own.
    """
    residue = Residue(MILL)
    state = residue.unknown()
    broken: list[str] = []
    flushes = 0
    for fact in past(seed):
        content = fact.content
        if fact.kind == "cleaning.cleaned_out/1":
            residue.clean(state, [str(place) for place in list(content["places"])])  # type: ignore[arg-type]
        if fact.kind != "batching.batch_made/1":
            continue
        drawn = [(row.material, row.mass_mg / MG_KG) for row in fact.movements[:-1]]
        mass_kg = sum(kg for _, kg in drawn)
        own: dict[str, float] = {}
        for material, kg in drawn:
            for substance, value in contents_of(MILL, material).items():
                own[substance] = own.get(substance, 0.0) + value * kg / mass_kg
        route = tuple(str(code) for code in list(content["route"]))  # type: ignore[arg-type]
        way, amounts = residue.way(route), residue.own(own)
        flushes += content["kind"] == "flush"
        if content["kind"] == "feed":
            carried = residue.map(way, masses_kg=(mass_kg,), sack_kg=22.68)
            sacks = residue.sacks(state, way, carried=carried, own=amounts).max(axis=0)
            least = state.passed_kg[way.places].min(axis=0)
            for limit in limits_of(MILL, str(content["material"])):
                number = residue.substance_number[limit.substance]
                over = limit.kind == "level" and sacks[number] > (limit.level_mg_kg or 0)
                short = limit.kind == "procedure" and least[number] < (limit.flush_kg or 0) - 1e-6
                met = limit.kind == "never" and least[number] < float("inf")
                if over or short or met:
                    broken.append(f"{content['batch']} {limit.substance} {limit.kind}")
        residue.pass_through(
            state,
            way,
            carried=residue.map(way, masses_kg=(mass_kg,), sack_kg=mass_kg),
            own=amounts,
            mass_kg=mass_kg,
            material=str(content["material"]),
        )
    assert broken == []
    assert flushes > 30


def test_three_weeks_are_possible():
    """A shorter past can be simulated, and the machines end empty as well."""
    short = list(quillback_past(DAY, today=DAY, past_days=21, seed=4))
    stock: Counter[str] = Counter()
    for fact in short:
        for row in fact.movements:
            stock[row.from_place] -= row.mass_mg
            stock[row.to_place] += row.mass_mg
    assert all(stock[code] == 0 for code in MILL.machine_by_code)
    assert len(short) > 3_000


def test_every_assay_of_the_past_can_be_loaded_from_an_export():
    """None says more than the whole, which the folder's reader would refuse."""
    values = [
        fact.content["value"]
        for fact in past()
        if fact.kind == "quality.assayed/1" and fact.content["unit"] == "%"
    ]
    assert values
    assert max(values) <= 100
