"""Where gates land, learned from what was drawn, and how long draws should take."""

import pytest

from bedstone.desk.batches import record_batch
from bedstone.desk.pre_acts import expected_s, gate_landings, gate_words
from fakes.desk_day import PLAN, a_day, a_desk_mill, actuals, later

SHEEP = [
    batch
    for batch in PLAN.batches
    if batch.batch.startswith("4107") and any(draw.how == "metered" for draw in batch.draws)
]


def test_a_gate_that_lands_high_is_seen_from_its_draws_and_one_bad_draw_moves_nothing():
    """Corn 1 kg over in every batch, once 30 kg: the median says 1 kg, and nothing of the rest."""
    record = a_day()
    batches = [batch for batch in PLAN.batches if batch.draws[0].ingredient == "CORN-GR"]
    assert len(batches) >= 5
    for number, batch in enumerate(batches):
        off_mg = 30_000_000 if number == 2 else 1_000_000
        draws = actuals(batch, draw_1=off_mg)
        record_batch(record, PLAN.plan, batch.batch, draws, by="mara", at=later(10 + number))
    landings = gate_landings(record, batches[0])
    assert landings[1].off_kg == pytest.approx(1.0)
    assert landings[1].draws == len(batches)
    assert set(landings) == {1}


def test_before_five_draws_nothing_is_said():
    """A gate is not judged by a few draws."""
    assert gate_landings(a_day(), SHEEP[0]) == {}


def test_a_meter_takes_its_mass_over_its_rate_and_scales_share_the_mixers_time():
    """Metered draws take target over rate; weighed ones add up to the mixer's time to weigh up."""
    mill, batch = a_desk_mill(), SHEEP[0]
    times = expected_s(mill, batch)
    metered = next(draw for draw in batch.draws if draw.how == "metered")
    rate = mill.meter_by_code[metered.instrument].rate_kg_s
    assert times[metered.sequence] == pytest.approx(metered.target_mg / 1e6 / rate)
    weighed = sum(times[draw.sequence] for draw in batch.draws if draw.how == "weighed")
    assert weighed == pytest.approx(mill.machine_by_code[batch.mixer].fill_s)


def test_the_sheet_says_of_a_gate_what_the_page_says():
    """Corn 1 kg over in every batch: the words of the sheet say how much and which way (1 kg on a pound scale)."""
    record = a_day()
    batches = [batch for batch in PLAN.batches if batch.draws[0].ingredient == "CORN-GR"]
    for number, batch in enumerate(batches):
        draws = actuals(batch, draw_1=1_000_000)
        record_batch(record, PLAN.plan, batch.batch, draws, by="mara", at=later(10 + number))
    words = gate_words(record, a_desk_mill(), batches[:1])
    assert words == {(batches[0].batch, 1): "gate lands 2 lb over: close it so much earlier"}
