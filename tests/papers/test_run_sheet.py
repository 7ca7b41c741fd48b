"""The run sheet of a pellet line, read back from its PDF."""

import datetime as dt
import io
from dataclasses import replace

import pypdf
import pytest

from bedstone.desk.line_air import cooler_hours
from bedstone.desk.line_settings import settings_for
from bedstone.desk.record import Head
from bedstone.desk.revisions import current_mill
from bedstone.desk.tables import load_tables
from bedstone.errors import Refused
from bedstone.mill.model import Mill
from bedstone.papers.run_sheet import RunOnSheet, run_sheet
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
        "Local codes", "licensed people only", "not calibrated", "sweat, mould",
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
    assert f"Live culture in the premix ({mill.name_of(row.ingredient)})" in text
    assert f"surely kept up to {row.hottest_c * 1.8 + 32:.0f} °F in the conditioner" in text
    assert f"({100 * row.left.left_lo:.0f} to {100 * row.left.left_hi:.0f} %)" in text


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
    assert "no weather of its hours on record" in text


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
