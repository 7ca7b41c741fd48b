"""A run's readings on its pellet line: findings, and its water for the ledger."""

import datetime as dt
from dataclasses import replace

import pytest

from bedstone.demo.quillback import quillback_folder
from bedstone.desk import line_findings
from bedstone.desk.batches import record_batch
from bedstone.desk.line_findings import pelleted_by_readings, read_findings
from bedstone.desk.line_readings import RunRead
from bedstone.desk.runs import PelletedBatch, record_pelleted
from bedstone.desk.tables import load_tables
from bedstone.errors import BadInput
from bedstone.ledger.model import How
from bedstone.mill.model import Weather
from bedstone.mill.readings import ReadingRow
from fakes.desk_day import PLAN, a_day, actuals, later
from fakes.memory import MemoryRecord

AT = dt.datetime(2026, 9, 1, 15, 20, tzinfo=dt.UTC)
HOUR = AT.replace(minute=0)
SHEEP = [row for row in PLAN.batches if row.run == "R-4107" and row.formula_version]


@pytest.fixture(scope="module")
def record() -> MemoryRecord:
    """The demo mill with one hour of weather."""
    folder = quillback_folder(dt.date(2026, 9, 1), past_days=1)
    hour = Weather(hour_at=HOUR, temperature_c=20.0, humidity_frac=0.5)
    made = MemoryRecord()
    load_tables(made, replace(folder, weather=(hour,), assays=()), by="dell", at=HOUR)
    return made


def _read(monkeypatch: pytest.MonkeyPatch, **values: float) -> None:
    """Let the run have these readings, as the record would give them."""
    rows = {
        quantity.replace("_", " "): (ReadingRow(at=AT, value=value, run="R-1"),)
        for quantity, value in values.items()
    }
    one = RunRead(run="R-1", product="RABBIT-16", line="PL2", rows=rows)
    monkeypatch.setattr(line_findings, "run_readings", lambda *_: (one,))


def _codes(record: MemoryRecord) -> set[str]:
    reads = line_findings.run_readings(record, "R-1")
    return {row.code for read in reads for row in read_findings(record, read)}


def test_a_run_as_set_has_nothing_to_say(record: MemoryRecord, monkeypatch: pytest.MonkeyPatch):
    """At a mild setting, cool and dry at the outlet, only the setting's distance is noted."""
    _read(monkeypatch, conditioner_temperature=60.0, cooler_outlet_temperature=24.0,
          cooler_outlet_moisture=0.12)  # fmt: skip
    assert _codes(record) == {"line.conditioner"}


def test_a_hot_warm_and_damp_run_is_told(record: MemoryRecord, monkeypatch: pytest.MonkeyPatch):
    """Too hot for the live culture, sent 15 K above the air, and at 14.5 % moisture."""
    _read(monkeypatch, conditioner_temperature=88.0, cooler_outlet_temperature=35.0,
          cooler_outlet_moisture=0.145)  # fmt: skip
    assert _codes(record) == {
        "line.conditioner", "line.additive", "line.sent_warm", "line.sent_damp",
    }  # fmt: skip


def test_water_of_a_run_keeps_its_dry_matter(record: MemoryRecord, monkeypatch: pytest.MonkeyPatch):
    """Pellets hold the mash's dry matter less the dust at the moisture read; nothing is made."""
    _read(monkeypatch, conditioner_temperature=76.0, cooler_outlet_moisture=0.12)
    (row,) = pelleted_by_readings(record, "R-1", "PL2", {"B-01": 900_000_000})
    water_mg = row.in_mg + row.steam_mg - row.dust_mg - row.out_mg
    assert 0 < water_mg < row.steam_mg + 0.05 * row.in_mg
    assert 0.03 < row.steam_mg / row.in_mg < 0.07
    wetter_mg = _out_at(record, monkeypatch, 0.13)
    assert wetter_mg * (1 - 0.13) == pytest.approx(row.out_mg * (1 - 0.12), abs=1)


def _out_at(record: MemoryRecord, monkeypatch: pytest.MonkeyPatch, moisture_wb: float) -> int:
    _read(monkeypatch, conditioner_temperature=76.0, cooler_outlet_moisture=moisture_wb)
    (row,) = pelleted_by_readings(record, "R-1", "PL2", {"B-01": 900_000_000})
    return row.out_mg


def test_water_that_cannot_be_is_refused(record: MemoryRecord, monkeypatch: pytest.MonkeyPatch):
    """No moisture read, or pellets wetter than the conditioner made them: said in words."""
    _read(monkeypatch, conditioner_temperature=76.0)
    with pytest.raises(BadInput, match="cannot be reckoned"):
        pelleted_by_readings(record, "R-1", "PL2", {"B-01": 900_000_000})
    _read(monkeypatch, conditioner_temperature=76.0, cooler_outlet_moisture=0.2)
    with pytest.raises(BadInput, match="weigh more"):
        pelleted_by_readings(record, "R-1", "PL2", {"B-01": 900_000_000})


def test_water_by_readings_is_booked_with_its_uncertainty():
    """Reckoned batches move steam in, water out and pellets as reckoned, with deviations; what
    goes into the line comes out of it to the milligram.
    """
    made = a_day()
    for number, batch in enumerate(SHEEP):
        record_batch(made, PLAN.plan, batch.batch, actuals(batch), by="mara", at=later(90 + number))
    rows = tuple(
        PelletedBatch(
            batch=batch.batch, in_mg=batch.mass_mg, steam_mg=60_000_000, dust_mg=1_000_000,
            out_mg=batch.mass_mg - 2_000_000, steam_sd_mg=3_000_000, out_sd_mg=4_000_000,
        )
        for batch in SHEEP
    )  # fmt: skip
    kept = record_pelleted(
        made, run="R-4107", machine="PL1", from_place="SB1", to_place="FB1", batches=rows,
        by="mara", at=later(120),
    )  # fmt: skip
    first = [move for move in kept.fact.movements if move.lot == SHEEP[0].batch]
    water = next(move for move in first if (move.to_place, move.material) == ("air", "water"))
    assert (water.mass_mg, water.mass_sd_mg, water.how) == (61_000_000, 5_000_000, How.RECKONED)
    into = sum(move.mass_mg for move in first if move.to_place == "PL1")
    assert into == sum(move.mass_mg for move in first if move.from_place == "PL1")
