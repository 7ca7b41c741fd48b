"""The run sheet of a pellet line, read back from its PDF."""

import datetime as dt
import io
from dataclasses import replace

import pypdf
import pytest

from bedstone.desk.die_runs import knife_setting
from bedstone.desk.line_air import cooler_hours
from bedstone.desk.line_heat import left_words
from bedstone.desk.line_regression import HEAT, DurabilityAhead, LoadAhead, RateAtLoad
from bedstone.desk.line_settings import settings_for
from bedstone.desk.line_start import start_of_run
from bedstone.desk.record import Head
from bedstone.desk.revisions import current_mill
from bedstone.desk.tables import load_tables
from bedstone.errors import Refused
from bedstone.mill.model import Mill
from bedstone.papers.run_sheet import RunOnSheet, run_sheet
from bedstone.pelleting.regression import Forecast, Unseen
from fakes.memory import MemoryRecord
from fakes.page_line import EARLY, line_folder
from fakes.plans import HEAD, a_plan

WHEN = Head(position=1880, head=HEAD)


@pytest.fixture(scope="module")
def record() -> MemoryRecord:
    """The demo mill's tables and weather on record."""
    found = MemoryRecord()
    folder = line_folder()
    load_tables(found, folder, by=folder.mill.people[0].person, at=EARLY)
    return found


def on_sheet(record: MemoryRecord, product: str, line: str, *, weather: bool = True) -> RunOnSheet:
    """A run of a product on a line, in the morning of the demo's day."""
    run = replace(a_plan().runs[0], product=product)
    limits = cooler_hours(record, at=EARLY, hours=2, products=(product,)).limits if weather else ()
    return RunOnSheet(
        run=run,
        line=line,
        start_at=EARLY,
        end_at=EARLY + dt.timedelta(hours=1),
        planned_kg_s=1.0,
        settings=settings_for(record, product, line, at=EARLY),
        limits=limits,
    )


def text_of(pdf: bytes) -> str:
    """All text of a paper, blanks joined."""
    pages = pypdf.PdfReader(io.BytesIO(pdf)).pages
    assert len(pages) == 1
    return " ".join(" ".join(page.extract_text() for page in pages).split())


def in_si(mill: Mill) -> Mill:
    """The same mill, read in SI units."""
    return replace(mill, settings=replace(mill.settings, units="SI"))


def test_settings_and_cautions_stand_on_one_page(record: MemoryRecord):
    """Settings in the mill's units, the cautions that keep hands whole, and who comes first."""
    mill = current_mill(record)
    on = on_sheet(record, "SWINE-ST", "PL1")
    text = text_of(run_sheet(a_plan(), mill, on, head=WHEN))
    setting_f = on.settings.conditioned.temperature_c * 1.8 + 32
    steam_lb = round(on.settings.conditioned.steam_kg_s * 3600 / 0.45359237 / 10) * 10
    for words in (
        on.run.run, "Pig Starter 20", f"{setting_f:.0f} °F", f"{steam_lb:,} lb/h", "5/32 in",
        "Burns through gloves", "lock steam and power, tag out", "29 CFR 1910.147",
        "Local codes", "licensed people only", "gloves", "not calibrated", "sweat, mould",
        "Die, rolls, knives", "Readings", "Journal 1880:", "page 1 of 1",
    ):  # fmt: skip
        assert words in text, words


def test_a_live_culture_has_its_limit_on_the_sheet(record: MemoryRecord):
    """What heat leaves stands with its interval and the hottest setting that surely keeps it."""
    mill = current_mill(record)
    on = on_sheet(record, "HORSE-SUP", "PL2")
    text = text_of(run_sheet(a_plan(), mill, on, head=WHEN))
    (row,) = on.settings.additives
    assert row.hottest_c is not None
    assert f"{mill.name_of(row.ingredient)}: {left_words(row)}" in text
    assert f"surely kept up to {row.hottest_c * 1.8 + 32:.0f} °F in the conditioner" in text


def test_the_slowest_hour_of_the_run_is_its_rate(record: MemoryRecord):
    """Of the hours that the run meets the slowest stands there, with its interval."""
    on = on_sheet(record, "DAIRY-18", "PL1")
    slow = min(on.limits, key=lambda row: row.rate_kg_s)
    text = text_of(run_sheet(a_plan(), current_mill(record), on, head=WHEN))
    ton_h = 3600 / 907.18474
    assert f"{slow.rate_kg_s * ton_h:.1f} ton/h" in text
    assert f"{slow.rate_lo_kg_s * ton_h:.1f} ton/h to {slow.rate_hi_kg_s * ton_h:.1f} ton/h" in text


def test_without_weather_the_sheet_says_so(record: MemoryRecord):
    """No limit is made up where the record has no weather."""
    on = on_sheet(record, "SWINE-ST", "PL1", weather=False)
    text = text_of(run_sheet(a_plan(), current_mill(record), on, head=WHEN))
    assert "No weather of its hours is on record" in text


def test_a_mill_in_si_reads_degrees_c(record: MemoryRecord):
    """No Fahrenheit and no pound stands on the sheet of a mill that shows SI."""
    on = on_sheet(record, "SWINE-ST", "PL1")
    text = text_of(run_sheet(a_plan(), in_si(current_mill(record)), on, head=WHEN))
    assert "°C" in text
    assert "°F" not in text
    assert "lb/h" not in text


def test_equal_input_gives_equal_bytes(record: MemoryRecord):
    """Nothing of the moment of printing is in the paper."""
    mill, on = current_mill(record), on_sheet(record, "SWINE-ST", "PL1")
    assert run_sheet(a_plan(), mill, on, head=WHEN) == run_sheet(a_plan(), mill, on, head=WHEN)


def test_nothing_is_printed_of_a_refused_plan(record: MemoryRecord):
    """A plan that the verifier rejects has no run sheet."""
    on = on_sheet(record, "SWINE-ST", "PL1")
    with pytest.raises(Refused):
        run_sheet(a_plan(status="refused"), current_mill(record), on, head=WHEN)


def forecast(value: float, low: float, high: float, unseen: Unseen | None = None) -> Forecast:
    """What a regression expects."""
    return Forecast(value=value, low=low, high=high, unseen=unseen)


def test_what_is_expected_stands_with_its_interval(record: MemoryRecord):
    """Durability and motor load by the mill's own runs, with what the plate allows."""
    on = replace(
        on_sheet(record, "SWINE-ST", "PL1"),
        durability=DurabilityAhead(forecast=forecast(87.4, 84.2, 90.6), runs=41, moves=()),
        load=LoadAhead(
            forecast=forecast(93.0, 88.0, 98.0),
            runs=57,
            full_a=124.0,
            rate=RateAtLoad(
                low_kg_s=1.8, middle_kg_s=1.9, most_run_kg_s=2.0, surely_kg_s=1.75
            ),
        ),
    )  # fmt: skip
    text = text_of(run_sheet(a_plan(), current_mill(record), on, head=WHEN))
    for words in (
        "87 %", "84 to 91 % nine times in ten, by 41 runs", "93 A", "88 to 98 A nine times in ten",
        "75 % of the plate's 124 A", "surely within it up to 6.9 ton/h",
        "full load is expected at 7.5 ton/h",
    ):  # fmt: skip
        assert words in text, words


def test_what_was_not_run_is_not_expected(record: MemoryRecord):
    """Beyond what was run there is a dash and the reason, in the mill's degrees; without any runs it
    says so.
    """
    mill = current_mill(record)
    far = Unseen(kind="range", factor=HEAT, value=90.0, low=70.0, high=85.0)
    on = replace(
        on_sheet(record, "SWINE-ST", "PL1"),
        durability=DurabilityAhead(forecast=forecast(95, 80, 110, far), runs=41, moves=()),
    )
    text = text_of(run_sheet(a_plan(), mill, on, head=WHEN))
    assert "not tested before: conditioner temperature 194 °F, but only 158 °F to 185 °F" in text
    assert "95 %" not in text
    assert "too few runs with motor current" in text
    assert "but only 70 °C to 85 °C" in text_of(run_sheet(a_plan(), in_si(mill), on, head=WHEN))


def test_beginning_and_end_of_the_run_stand_there(record: MemoryRecord):
    """Bed full, first good pellet, what to do with the first bed-full, how long the fan runs on; where
    it could not be reckoned the plain rule stands.
    """
    mill = current_mill(record)
    begun = start_of_run(record, "HORSE-PEL", "PL2", at=EARLY)
    on = replace(on_sheet(record, "HORSE-PEL", "PL2"), start=begun)
    text = text_of(run_sheet(a_plan(), mill, on, head=WHEN))
    assert f"the gate opens at {begun.start.fill_s / 60:.0f} min" in text
    assert begun.start.advice.split(":")[0][:40] in text
    assert "A bed-full is" in text
    assert begun.start.run_on_s is not None
    assert f"leave the fan on for {begun.start.run_on_s / 60:.0f} min" in text
    plain = text_of(run_sheet(a_plan(), mill, replace(on, start=None), head=WHEN))
    assert "Set the first bed-full aside until conditioner and die" in plain


def test_a_drug_in_the_first_bed_full_is_said(record: MemoryRecord):
    """What is set aside of a medicated feed is marked and goes into that feed alone."""
    begun = start_of_run(record, "BROIL-ST", "PL1", at=EARLY)
    on = replace(on_sheet(record, "BROIL-ST", "PL1"), start=begun)
    text = text_of(run_sheet(a_plan(), current_mill(record), on, head=WHEN))
    assert "It holds a drug: mark it, and rework it only into this feed" in text


def test_readings_have_their_times_and_room_for_changes(record: MemoryRecord):
    """An hour is read every quarter, three hours every hour, and a row stays blank; steam and the water
    of mash and pellets have their columns, without which the water of a run is only reckoned.
    """
    mill = current_mill(record)
    on = on_sheet(record, "SWINE-ST", "PL1")
    local = EARLY.astimezone(mill.settings.zone)
    text = text_of(run_sheet(a_plan(), mill, on, head=WHEN))
    for column in ("Steam, lb/h", "Mash water, %", "Water out, %", "Amps", "Rate, ton/h"):
        assert column in text
    for minutes in (0, 15, 30, 45, 60):
        assert f"{local + dt.timedelta(minutes=minutes):%H:%M}" in text
    long = replace(on, end_at=EARLY + dt.timedelta(hours=3))
    text = text_of(run_sheet(a_plan(), mill, long, head=WHEN))
    assert f"{local + dt.timedelta(hours=2):%H:%M}" in text
    assert f"{local + dt.timedelta(minutes=15):%H:%M}" not in text


def test_a_plan_faster_than_the_air_lets_is_said(record: MemoryRecord):
    """Where the plan's rate is above the slowest hour's limit, the sheet says at what rate to run if the
    cooler is known, and to watch what leaves it if it is not.
    """
    mill, on = current_mill(record), on_sheet(record, "DAIRY-18", "PL1")
    slow = min(row.rate_kg_s for row in on.limits)
    fast = replace(on, planned_kg_s=2 * slow)
    assert "more than this air may let through" in text_of(
        run_sheet(a_plan(), mill, fast, head=WHEN)
    )
    known = on.settings.factors
    trusted = replace(known, factors=replace(known.factors, calibrated=True), misfit=1.0)
    assert trusted.is_trusted
    fast = replace(fast, settings=replace(on.settings, factors=trusted))
    assert "more than this air lets through. Run at" in text_of(
        run_sheet(a_plan(), mill, fast, head=WHEN)
    )
    slower = replace(on, planned_kg_s=0.9 * slow)
    assert "more than this air" not in text_of(run_sheet(a_plan(), mill, slower, head=WHEN))


def test_knives_stand_for_the_length_wanted(record: MemoryRecord):
    """The gap of the knives for the table's length at the rate of the run."""
    mill = current_mill(record)
    on = on_sheet(record, "SWINE-ST", "PL1")
    found = knife_setting(mill, "SWINE-ST", "PL1", on.settings.rate_kg_s)
    assert found is not None
    assert found.gap_mm is not None
    text = text_of(run_sheet(a_plan(), mill, on, head=WHEN))
    assert f"{found.gap_mm / 25.4:.2f} in" in text
    assert "for pellets of 0.40 in" in text
