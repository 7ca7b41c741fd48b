"""Each kind of fault does to the truth what it says, and nothing else."""

import datetime as dt
import math
from dataclasses import replace

import pytest

from bedstone.demo.faults import FaultKind
from bedstone.demo.past.notebook import Notebook
from bedstone.demo.past.watch import Watch
from bedstone.demo.quillback.scenario import quillback_scenario
from bedstone.demo.simulator import Past
from fakes.simulated import DAY, FOLDER, MG_KG, MILL, START, Ran, draws, run, with_fault


@pytest.fixture(scope="module")
def sound() -> Ran:
    """Ten days with nothing wrong."""
    return run(days=10)


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
