"""What truly happened against what was written down: balances, errors of instruments, faults."""

import datetime as dt
import json
import math
from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, replace

import pytest

from bedstone.demo.faults import Fault, FaultKind, Faults
from bedstone.demo.past.laboratory import METHODS
from bedstone.demo.past.notebook import Notebook
from bedstone.demo.past.truth import Truth
from bedstone.demo.past.watch import Watch
from bedstone.demo.quillback import quillback_folder, quillback_past_and_truth
from bedstone.demo.quillback.demand import DEMANDS, LEAVE_KG
from bedstone.demo.quillback.scenario import quillback_scenario
from bedstone.demo.simulator import NOTHING_WRONG, Past, Scenario
from bedstone.ledger.model import Fact, is_outside

DAY = dt.date(2026, 11, 26)
FOLDER = quillback_folder(DAY)
MILL = FOLDER.mill
MG_KG = 1_000_000
START = dt.datetime(2026, 10, 22, 5, tzinfo=dt.UTC)


@dataclass(frozen=True)
class Ran:
    """A past with its truth."""

    past: Past
    facts: list[Fact]

    @property
    def truth(self) -> Truth:
        """What the simulator knows."""
        return self.past.truth


def run(scenario: Scenario = NOTHING_WRONG, *, seed: int = 0, days: int = 35) -> Ran:
    """So many days of the demo's past under a scenario."""
    past = Past(MILL, FOLDER.opening_stock, seed=seed, scenario=scenario)
    first = DAY - dt.timedelta(days=35)
    facts = past.run(first, days=days, demands=DEMANDS, leave_kg=LEAVE_KG)
    return Ran(past, list(facts))


def with_fault(kind: FaultKind, where: str, size: float, **more: object) -> Scenario:
    """A scenario of one fault from the third day on."""
    fault = Fault(kind=kind, where=where, size=size, begins_at=START + dt.timedelta(days=3))
    return Scenario(faults=Faults((replace(fault, **more),)))  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def sound() -> Ran:
    """Five weeks with nothing wrong."""
    return run()


@pytest.fixture(scope="module")
def demo() -> Ran:
    """Five weeks as the demo has them."""
    return run(quillback_scenario(DAY, zone=MILL.settings.zone))


def draws(facts: list[Fact]) -> Iterator[tuple[Fact, dict[str, object]]]:
    """Every draw of every batch and flush."""
    for fact in facts:
        if fact.kind == "batching.batch_made/1":
            rows = fact.content["draws"]
            assert isinstance(rows, list)
            for row in rows:
                assert isinstance(row, dict)
                yield fact, row


@pytest.mark.parametrize("name", ["sound", "demo"])
def test_true_mass_balances(name: str, request: pytest.FixtureRequest) -> None:
    """What truly lies in the mill and what truly left and came add up to the opening stock."""
    ran: Ran = request.getfixturevalue(name)
    floor = ran.past.floor
    opening_mg = sum(round(row.mass_kg * MG_KG) for row in FOLDER.opening_stock)
    inside = sum(floor.true.values())
    assert inside + sum(floor.true_outside.values()) == opening_mg
    passed = {*MILL.machine_by_code, *(row.bin for row in MILL.bins if row.kind == "surge")}
    for place in passed:
        assert sum(mass for (where, _), mass in floor.true.items() if where == place) == 0, place


def test_books_and_facts_agree(sound: Ran) -> None:
    """What the simulator thinks is on the books is what the facts' movements add up to."""
    stock: Counter[tuple[str, str]] = Counter()
    for row in FOLDER.opening_stock:
        stock[row.place, row.material] += round(row.mass_kg * MG_KG)
    for fact in sound.facts:
        for move in fact.movements:
            stock[move.from_place, move.material] -= move.mass_mg
            stock[move.to_place, move.material] += move.mass_mg
    books = {key: mass for key, mass in sound.past.floor.book.items() if mass}
    twice = {key for key in books if books[key] != stock[key]}
    # the load that was typed in twice is taken back by its reversal, which the books do not see
    assert len(twice) == 1
    assert {k: v for k, v in stock.items() if v and not is_outside(k[0])}.keys() >= books.keys()


def test_instruments_err_as_their_tables_say(sound: Ran) -> None:
    """Without faults each meter's true flow over five weeks is its reading within four standard
    errors of the sum, by the meter's own standard deviation; scales by theirs.
    """
    squares: defaultdict[str, float] = defaultdict(float)
    meters = {row.meter: row for row in MILL.meters}
    scales = {row.scale: row for row in MILL.scales}
    for _, row in draws(sound.facts):
        tool, mass = str(row["instrument"]), float(str(row["actual_mg"]))
        sd = meters[tool].sd_frac * mass if tool in meters else scales[tool].sd_kg * MG_KG  # type: ignore[operator]
        squares[tool] += sd**2
    off: Counter[str] = Counter()
    for (tool, _), (read_mg, true_mg) in sound.truth.flows.items():
        off[tool] += true_mg - read_mg
    assert set(off) == set(squares)
    scores = {tool: off[tool] / math.sqrt(squares[tool]) for tool in off}
    assert all(abs(score) < 4 for score in scores.values()), scores
    assert sum(score**2 for score in scores.values()) > 0.5  # and they do err


def test_laboratory_errs_as_its_methods_say(sound: Ran) -> None:
    """Results of loads lie about the lot's true analysis with the spread that each says it has:
    scores have a mean near nought and a spread near one (a thousand results, five sigma).
    """
    scores = []
    for fact in sound.facts:
        if fact.kind != "quality.assayed/1":
            continue
        content = fact.content
        lot, nutrient = str(content["lot"]), str(content["nutrient"])
        analysis = sound.truth.lots.get(lot) or sound.truth.runs[lot]
        scores.append(
            (float(str(content["value"])) - analysis[nutrient]) / float(str(content["sd"]))
        )
        assert nutrient in METHODS
    count = len(scores)
    assert count > 800
    mean = sum(scores) / count
    spread = sum((score - mean) ** 2 for score in scores) / count
    assert abs(mean) < 5 / math.sqrt(count)
    assert abs(spread - 1) < 5 * math.sqrt(2 / count)


def test_loads_differ_as_composition_says(sound: Ran) -> None:
    """True protein of the corn loads spreads about its mean as the composition table says."""
    row = next(
        row for row in MILL.composition
        if (row.ingredient, row.nutrient) == ("CORN", "crude protein")
    )  # fmt: skip
    assert row.sd is not None
    values = [
        analysis["crude protein"] for lot, analysis in sound.truth.lots.items() if "-CORN-" in lot
        and "-CORN-G" not in lot and "-CORN-R" not in lot
    ]  # fmt: skip
    count = len(values)
    assert count > 30
    mean = sum(values) / count
    sd = math.sqrt(sum((value - mean) ** 2 for value in values) / (count - 1))
    assert abs(mean - row.mean) < 4 * row.sd / math.sqrt(count)
    assert 0.6 < sd / row.sd < 1.5


def test_gauges_show_the_truth_of_their_moment(sound: Ran) -> None:
    """What a tank's gauge fell by between two readings is what meters drew out less what came in,
    within four sigma of gauge and meters: truth, record and readings hang together.
    """
    scores = []
    for place in ("T01", "T02"):
        capacity_kg = MILL.bin_by_code[place].capacity_kg
        before: tuple[float, float] | None = None
        moved_kg = drawn_kg = 0.0
        for fact in sound.facts:
            for move in fact.movements:
                if fact.kind == "storage.counted/1":
                    continue
                if place in (move.from_place, move.to_place):
                    sign = 1 if move.to_place == place else -1
                    moved_kg += sign * move.mass_mg / MG_KG
                    drawn_kg += move.mass_mg / MG_KG
            if fact.kind == "storage.level_read/1" and fact.content["place"] == place:
                level = float(str(fact.content["value"])) * capacity_kg
                sd = float(str(fact.content["sd"])) * capacity_kg
                if before is not None:
                    spread = math.hypot(before[1], sd, 0.002 * drawn_kg + 20)
                    scores.append((level - before[0] - moved_kg) / spread)
                before, moved_kg, drawn_kg = (level, sd), 0.0, 0.0
    assert len(scores) > 80
    assert all(abs(score) < 4.5 for score in scores)
    assert abs(sum(scores)) / math.sqrt(len(scores)) < 4


def test_the_oil_meter_lets_more_through_than_anybody_wrote(demo: Ran, sound: Ran) -> None:
    """The demo's oil meter truly gives 7 % more after the second power cut, which stands in the
    truth alone: the readings are those of a sound meter, only the tank tells.
    """
    begins = next(row.begins_at for row in demo.truth.faults.rows if row.where == "LM2")
    days = {day for tool, day in demo.truth.flows if tool == "LM2"}
    after = {day for day in days if day > begins.date().isoformat()}
    assert len(after) >= 5
    for day in days:
        read_mg, true_mg = demo.truth.flows["LM2", day]
        part = true_mg / read_mg
        assert part == pytest.approx(1.07 if day in after else 1.0, abs=0.006) or day == str(
            begins.date()
        )
    for _, row in draws(demo.facts):
        if row["instrument"] == "LM2":
            off = abs(float(str(row["actual_mg"])) - float(str(row["target_mg"])))
            assert off <= 3 * 0.004 * float(str(row["target_mg"])) + 2 * 90_719
    assert not any(
        fact.content["instrument"] == "LM2"
        for fact in demo.facts
        if fact.kind == "quality.instrument_proved/1" and fact.happened_at > begins
    )
    short = demo.past.floor.book["T02", "SOYOIL"] - demo.past.floor.true["T02", "SOYOIL"]
    same = sound.past.floor.book["T02", "SOYOIL"] - sound.past.floor.true["T02", "SOYOIL"]
    assert short > 250 * MG_KG > 4 * abs(same)


def test_nothing_of_the_truth_stands_in_the_record(demo: Ran) -> None:
    """No fact names a fault, its cause or its size."""
    text = json.dumps([fact.content for fact in demo.facts])
    for row in demo.truth.faults.rows:
        assert row.cause not in text
        assert row.kind.value not in text


@pytest.mark.parametrize("seed", range(3))
def test_warm_damp_pellets_are_there_to_be_found(seed: int) -> None:
    """The weak fan leaves bags that mould; the readings of those runs show them warm, and those of
    other runs do not.
    """
    facts, truth = quillback_past_and_truth(DAY, today=DAY, seed=seed)
    listed = list(facts)
    outside = {
        str(row["hour_at"]): float(str(row["temperature_c"]))
        for fact in listed
        if fact.kind == "weather.hours_set/1"
        for row in fact.content["hours"]  # type: ignore[union-attr]
        if isinstance(row, dict)
    }
    above_c: dict[str, float] = {}
    for fact in listed:
        if fact.content.get("quantity") == "cooler outlet temperature":
            for at, shown_c, code in fact.content["rows"]:  # type: ignore[union-attr, misc, str-unpack]
                off_c = float(shown_c) - outside[f"{at[:14]}00:00Z"]
                above_c[code] = max(off_c, above_c.get(code, off_c))
    mouldy = {row.run for row in truth.bad_bags if row.what == "mouldy"}
    warm = {code for code, off_c in above_c.items() if off_c > 11}
    assert mouldy
    assert mouldy <= warm
    assert len(warm) < len(above_c) / 8


def test_complaints_come_and_others_are_still_to_come() -> None:
    """A complaint on record is one of the truth's, on that customer's run and bag; those that
    come later are not on record.
    """
    facts, truth = quillback_past_and_truth(DAY, today=DAY, seed=1)
    told = [fact for fact in facts if fact.kind == "quality.complaint_received/1"]
    by_run = {row.run: row for row in truth.bad_bags}
    for fact in told:
        row = by_run[str(fact.content["lot"])]
        assert row.is_recorded
        assert (row.customer, row.product, row.what) == (
            fact.content["customer"], fact.content["product"], fact.content["what"],
        )  # fmt: skip
        bag = fact.content["bag"]
        assert bag is None or row.first_bag <= int(str(bag)) <= row.last_bag
    assert len(told) == sum(row.is_recorded for row in truth.bad_bags) >= 2
    assert any(not row.is_recorded for row in truth.bad_bags)


def test_the_same_seed_gives_the_same_truth() -> None:
    """Truth is the same to the byte for the same seed, and another for another."""
    scenario = quillback_scenario(DAY, zone=MILL.settings.zone)

    def text(ran: Ran) -> str:
        return json.dumps(ran.truth.plain())

    assert text(run(scenario, seed=5, days=9)) == text(run(scenario, seed=5, days=9))
    assert text(run(scenario, seed=5, days=9)) != text(run(scenario, seed=6, days=9))


def test_a_stuck_gauge_shows_the_same(sound: Ran) -> None:
    """A stuck gauge goes on showing what it showed, while a sound one falls and rises."""
    stuck = run(with_fault(FaultKind.STUCK, "T02", 1.0), days=8)

    def shown(ran: Ran) -> list[float]:
        return [
            float(str(fact.content["value"]))
            for fact in ran.facts
            if fact.kind == "storage.level_read/1" and fact.content["place"] == "T02"
            and START + dt.timedelta(days=3) < fact.happened_at < START + dt.timedelta(days=8)
        ]  # fmt: skip

    assert len(set(shown(stuck))) == 1
    assert len(set(shown(sound))) > 3


def test_a_wrongly_opened_bin_empties_and_the_booked_one_does_not() -> None:
    """Draws booked to one bin truly come from another: books and truth part in both, opposite
    ways, by what was drawn.
    """
    ran = run(with_fault(FaultKind.WRONG_BIN, "B07", 1.0, other="B06"), days=6)
    floor = ran.past.floor
    more = floor.true["B07", "SOYHULL"] - floor.book["B07", "SOYHULL"]
    less = floor.book["B06", "MIDDS"] - floor.true["B06", "MIDDS"]
    assert ran.truth.wrongly_drawn
    assert more == pytest.approx(less, rel=0.2)
    assert more > 100 * MG_KG


def test_a_doubled_micro_goes_in_twice_once() -> None:
    """One draw of a premix truly goes in twice; no other does; the floor is short by it."""
    ran = run(with_fault(FaultKind.DOUBLE_MICRO, "VTM-R", 1.0), days=6)
    clean = run(days=6)
    assert len(ran.truth.doubled) == 1
    assert clean.truth.doubled == []
    key = ("FLOOR", "VTM-R")
    gap = {id(one): one.past.floor.book[key] - one.past.floor.true[key] for one in (ran, clean)}
    assert gap[id(ran)] - gap[id(clean)] > 2 * MG_KG


def test_a_scale_off_zero_adds_to_every_draw(sound: Ran) -> None:
    """A scale whose zero has shifted gives so much more with each draw, whatever its size."""
    shifted = run(with_fault(FaultKind.ZERO_SHIFT, "SC2", 0.5), days=10)
    first = (START + dt.timedelta(days=3)).date().isoformat()
    count = sum(
        row["instrument"] == "SC2" and fact.happened_at > START + dt.timedelta(days=3)
        for fact, row in draws(shifted.facts)
    )
    more = sum(
        true - read for (tool, day), (read, true) in shifted.truth.flows.items()
        if tool == "SC2" and day > first
    )  # fmt: skip
    assert count > 50
    assert more / MG_KG / count == pytest.approx(0.5, rel=0.2)
    assert sound.truth.faults.rows == ()


def test_a_drifting_meter_drifts_and_a_proof_ends_it() -> None:
    """A drift grows day by day; a proof that adjusts the meter ends it, and says the factor."""
    scenario = with_fault(FaultKind.SLOW_DRIFT, "LM1", 0.01)
    cut_at = START + dt.timedelta(days=11, hours=10)
    _, late = quillback_scenario(DAY, zone=MILL.settings.zone).power
    cut = replace(late, from_at=cut_at, to_at=cut_at + dt.timedelta(minutes=2))
    ran = run(replace(scenario, power=(cut,)), days=18)
    parts = {
        day: true / read for (tool, day), (read, true) in ran.truth.flows.items() if tool == "LM1"
    }
    assert parts["2026-10-30"] == pytest.approx(1.0535, abs=0.01)
    assert all(abs(part - 1) < 0.006 for day, part in parts.items() if day > "2026-11-02")
    (proof,) = (
        fact for fact in ran.facts
        if fact.kind == "quality.instrument_proved/1" and fact.content["instrument"] == "LM1"
        and fact.content["adjusted"]
    )  # fmt: skip
    assert float(str(proof.content["factor_after"])) == pytest.approx(1.084, abs=0.006)


def test_a_worn_mixer_spreads_its_samples() -> None:
    """Over sixty tests the counts of a sound mixer spread as counting and 3.5 % of mixing make
    them, hypot(0.1, 0.035); those of one worn five times as much hypot(0.1, 0.175).
    """

    def cv(times: float) -> float:
        scenario = with_fault(FaultKind.WORN_MIXER, "MX1", times)
        past = Past(MILL, FOLDER.opening_stock, seed=0, scenario=scenario)
        watch = Watch(past.floor, Notebook(past.floor))
        at = START + dt.timedelta(days=4)
        for _ in range(60):
            watch.test_mixer("MX1", "SWINE-GR", mixing_s=290, at=at)
        squares = []
        for fact in past.floor.day_over():
            values = [float(str(value)) for value in fact.content["values"]]  # type: ignore[union-attr]
            mean = sum(values) / len(values)
            squares.append(sum((value / mean - 1) ** 2 for value in values) / 9)
        return math.sqrt(sum(squares) / len(squares))

    assert cv(1.0) == pytest.approx(math.hypot(0.1, 0.035), rel=0.1)
    assert cv(5.0) == pytest.approx(math.hypot(0.1, 0.175), rel=0.12)


def test_the_tank_tells_what_the_meter_does_not(demo: Ran) -> None:
    """From the record alone: since the second power cut the oil tank fell by more than was metered
    out of it, by 7 % of what LM2 read, within three sigma of two gauge readings; before it, by
    nothing beyond them.
    """
    (_, cut) = (
        fact.happened_at for fact in demo.facts if fact.kind == "quality.power_event/1"
    )  # fmt: skip
    capacity_kg = MILL.bin_by_code["T02"].capacity_kg

    def missing(first: dt.datetime, last: dt.datetime) -> tuple[float, float, float]:
        """What the tank lost beyond the books, its sd, and what LM2 read, between two times. [kg]"""
        levels = [
            float(str(fact.content["value"])) * capacity_kg
            for fact in demo.facts
            if fact.kind == "storage.level_read/1"
            and fact.content["place"] == "T02"
            and first <= fact.happened_at <= last
        ]
        times = [
            fact.happened_at
            for fact in demo.facts
            if fact.kind == "storage.level_read/1"
            and fact.content["place"] == "T02"
            and first <= fact.happened_at <= last
        ]
        booked = by_lm2 = 0.0
        for fact in demo.facts:
            if times[0] < fact.happened_at <= times[-1] and fact.kind != "storage.counted/1":
                for move in fact.movements:
                    booked += move.mass_mg / MG_KG * (move.to_place == "T02")
                    booked -= move.mass_mg / MG_KG * (move.from_place == "T02")
                    by_lm2 += move.mass_mg / MG_KG * (move.instrument == "LM2")
        sd = math.hypot(math.sqrt(2) * 0.004 * capacity_kg, 0.0006 * by_lm2 + 20)
        return booked - (levels[-1] - levels[0]), sd, by_lm2

    more, sd, by_lm2 = missing(cut, demo.facts[-1].happened_at)
    assert by_lm2 > 6_000
    assert abs(more - 0.07 * by_lm2) < 3 * sd
    assert more > 5 * sd
    before, sd, _ = missing(demo.facts[0].happened_at, cut)
    assert abs(before) < 3 * sd
