"""Pages of mixers and their tests, and the report as PDF."""

import datetime as dt
import io
import statistics

import pytest
from pypdf import PdfReader

from bedstone.desk.mixer_tests import record_mixer_test
from bedstone.desk.mixer_view import mixer_standings
from bedstone.desk.revisions import current_mill
from fakes.desk_day import a_day, later
from fakes.memory import MemoryRecord
from fakes.page_server import PageMill

COUNTS = (190.0, 205.0, 198.0, 212.0, 187.0, 201.0, 195.0, 208.0, 199.0, 204.0)


def add_test(
    record: object, values: tuple[float, ...] = COUNTS, *, at: dt.datetime, mixing_s: float = 180.0
) -> int:
    """Record a test of the mixer and say where it stands."""
    return record_mixer_test(
        record, mixer="MX1", product="SHEEP-GR", tracer="coated iron", method="counted in ten cups",
        values=values, unit="count", mixing_s=mixing_s, by="mara", at=at,
    ).position  # type: ignore[arg-type]  # fmt: skip


def test_a_mixer_never_tested_is_due_and_a_tested_one_half_a_year_later():
    """Due at once without a test; 182 days after the last one with it."""
    record: MemoryRecord = a_day()
    first = next(row for row in mixer_standings(record, at=later(1)) if row.mixer.machine == "MX1")
    assert first.is_due
    assert first.due_on is None
    add_test(record, at=later(2))
    for days, due in ((181, False), (183, True)):
        when = later(2) + dt.timedelta(days=days)
        row = next(one for one in mixer_standings(record, at=when) if one.mixer.machine == "MX1")
        assert row.is_due is due


def test_a_spread_that_rises_from_test_to_test_is_said():
    """Five tests each wider than the one before: a rise of chance 1 in 120."""
    record = a_day()
    for number in range(5):
        wide = tuple(200 + (value - 200) * (1 + number) for value in COUNTS)
        add_test(record, wide, at=later(number + 1))
    row = next(one for one in mixer_standings(record, at=later(99)) if one.mixer.machine == "MX1")
    assert row.worsens
    assert row.trend_probability == pytest.approx(1 / 120)


def test_short_tests_of_a_series_are_no_wear_and_kinds_are_not_mixed():
    """Counts at the full time, then salt at four times, the shortest last: no rise is said, though
    each is wider than the one before, and the time that mixes comes from the salt alone.
    """
    record = a_day()
    add_test(record, at=later(1), mixing_s=600.0)
    spreads = {240.0: 0.03, 120.0: 0.05, 60.0: 0.14, 30.0: 0.37}
    mixer = next(row for row in current_mill(record).machines if row.machine == "MX1")
    assert mixer.dry_mix_s > 120.0
    for number, (time_s, cv) in enumerate(spreads.items(), 2):
        salt = tuple(1 + cv * step for step in (-1.4, -0.7, 0.0, 0.7, 1.4, -1.0, 1.0, 0.3, -0.3, 0))
        record_mixer_test(
            record, mixer="MX1", product="SHEEP-GR", tracer="salt", method="strips", values=salt,
            unit="% salt", mixing_s=time_s, by="mara", at=later(number),
        )  # fmt: skip
    row = next(one for one in mixer_standings(record, at=later(99)) if one.mixer.machine == "MX1")
    assert not row.worsens
    assert row.trend_probability is None
    assert row.mix_time.how == "curve through 4 tests"
    assert row.mix_time.time_s is not None
    assert 60 < row.mix_time.time_s < 120


def test_the_pages_and_the_report_show_the_same_spread(mill: PageMill):
    """List, page of one test and PDF say the same spread; a fact that is no test is not found."""
    spread = f"{100 * statistics.stdev(COUNTS) / statistics.mean(COUNTS):.1f} %"
    place = add_test(mill.record, at=mill.clock())
    visitor = mill.visitor()
    assert spread in visitor.get("/mixers").text
    page = visitor.get(f"/mixers/tests/{place}").text
    assert spread in page
    assert "proved" in page
    answer = visitor.get(f"/mixers/tests/{place}/report.pdf")
    assert answer.headers["content-type"] == "application/pdf"
    text = PdfReader(io.BytesIO(answer.content)).pages[0].extract_text()
    assert spread in text
    assert "coated iron" in text
    assert visitor.get("/mixers/tests/1").status_code == 404
