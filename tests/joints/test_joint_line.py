"""From the night's air to the rates of the plan, and from a run's readings to its findings."""

import datetime as dt
from dataclasses import replace
from pathlib import Path

import pvlib
import pytest

from bedstone.cooling.model import AirIn, Factors, PelletsIn
from bedstone.demo.quillback import quillback_folder
from bedstone.desk.check_plan import check_plan
from bedstone.desk.keep_air import keep_air
from bedstone.desk.line_air import cooler_hours, mill_for_day, rate_notes
from bedstone.desk.line_factors import CALIBRATED, Calibrated, line_factors
from bedstone.desk.line_model import cooler_of, pellet_kind
from bedstone.desk.line_settings import settings_for
from bedstone.desk.make_plan import make_plan
from bedstone.desk.plain_values import row_plain
from bedstone.desk.tables import current_mill, load_tables
from bedstone.errors import BadInput, BedstoneError
from bedstone.ledger.model import Fact
from bedstone.mill.equipment import Shift
from bedstone.mill.model import Weather
from bedstone.mill.plan import Plan, Verdict
from bedstone.store.typical_year import read_typical_year
from fakes.memory import MemoryRecord

DAY = dt.date(2026, 7, 15)
FIRST = dt.datetime(2026, 7, 15, 5, tzinfo=dt.UTC)  # midnight at the mill
AT = FIRST - dt.timedelta(hours=8)
NINE = FIRST + dt.timedelta(hours=21)
PRODUCT, LINE = "DAIRY-18", "PL1"


def _weather(*, sultry_until: int) -> tuple[Weather, ...]:
    """Air of two days, so sultry until an hour that nothing dries in it, cool and dry after."""
    return tuple(
        Weather(
            hour_at=FIRST + dt.timedelta(hours=hour),
            temperature_c=36.0 if hour < sultry_until else 14.0,
            humidity_frac=0.97 if hour < sultry_until else 0.45,
            pressure_pa=99_000.0,
        )
        for hour in range(48)
    )


def _record(*, sultry_until: int, calibrated: bool) -> MemoryRecord:
    """The demo mill round the clock with one large order of a pelleted feed."""
    folder = quillback_folder(DAY, past_days=1)
    around = tuple(
        Shift(machine="", weekday=day, start_time=dt.time(0), end_time=dt.time(23, 59))
        for day in ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
    )
    order = next(row for row in folder.orders if row.product == PRODUCT)
    order = replace(order, entered_at=AT, due_at=FIRST + dt.timedelta(hours=24))
    folder = replace(
        folder,
        mill=replace(folder.mill, shifts=around),
        orders=(order,),
        weather=_weather(sultry_until=sultry_until),
        assays=(),
    )
    record = MemoryRecord()
    load_tables(record, folder, by="dell", at=AT)
    if calibrated:
        for line in ("PL1", "PL2"):
            known = Calibrated(
                line=line,
                factors=Factors(heat_lo=0.9, heat_hi=1.1, moisture_lo=0.9, moisture_hi=1.1,
                                source="made up for a test", calibrated=True),
                readings=24,
                misfit=1.0,
            )  # fmt: skip
            content = row_plain(known)
            del content["position"]
            record.append(
                Fact(kind=CALIBRATED, happened_at=AT, by="dell", content=content), recorded_at=AT
            )
    return record


def _pelleting(plan: Plan) -> list[dt.datetime]:
    return [bar.start_at for bar in plan.bars if bar.machine == LINE and bar.kind.value == "run"]


def test_the_large_order_starts_after_nine_when_the_air_is_better():
    """In air in which nothing dries the line stands; the plan runs the order from nine on, the
    verifier has nothing to stop, and the plan says why.
    """
    record = _record(sultry_until=21, calibrated=True)
    plan = make_plan(record, day=DAY, at=AT)
    assert _pelleting(plan)
    assert min(_pelleting(plan)) >= NINE
    assert [row for row in plan.findings if row.verdict is Verdict.STOP] == []
    (said,) = [row for row in plan.findings if row.code == "cooler.rate"]
    assert "21:00" in said.text


def test_a_day_in_which_nothing_dries_is_said_to_be_the_airs():
    """Where no hour lets the product run the order is left out, for the air and not for a table."""
    plan = make_plan(_record(sultry_until=48, calibrated=True), day=DAY, at=AT)
    assert _pelleting(plan) == []
    (left,) = plan.left_out
    assert "this day's air" in left.text
    assert "Dairy 18" in left.text


def test_a_plan_that_forgets_the_air_is_stopped():
    """The plan of a cool day, held against a sultry one, has no time for the order: stopped."""
    cool = make_plan(_record(sultry_until=0, calibrated=True), day=DAY, at=AT)
    assert min(_pelleting(cool)) < NINE
    record = _record(sultry_until=21, calibrated=True)
    stops = [row for row in check_plan(record, cool) if row.verdict is Verdict.STOP]
    assert "steps.rate" in {row.code for row in stops}


def test_a_day_without_an_hour_for_a_product_is_said_so():
    """Air in which nothing dries from midnight to midnight: no best hour is named, another day is."""
    (note,) = rate_notes(_record(sultry_until=48, calibrated=True), DAY, [PRODUCT])
    assert note.text.startswith("In no hour of this day's air may PL1 run Dairy 18")
    assert "another day" in note.do


def test_a_cooler_that_is_not_calibrated_slows_no_plan():
    """Until a line is calibrated its range is wide and shown so; rates stay those of the tables."""
    record = _record(sultry_until=21, calibrated=False)
    mill = current_mill(record)
    assert mill_for_day(record, mill, DAY) is mill
    assert not line_factors(record, LINE).factors.calibrated
    shown = cooler_hours(record, at=FIRST, hours=24, products=(PRODUCT,))
    assert any("not calibrated" in note for note in shown.notes)
    assert any(row.rate_lo_kg_s < row.rate_hi_kg_s for row in shown.limits) or all(
        row.because for row in shown.limits[:21]
    )


def test_hours_without_weather_are_said_not_guessed():
    """Where no weather is on record there is no answer, and what to do is named."""
    record = _record(sultry_until=0, calibrated=True)
    with pytest.raises(BadInput, match="No weather"):
        cooler_hours(record, at=FIRST + dt.timedelta(days=40))


def test_a_product_without_a_cooler_is_said_not_left_out():
    """A mash, and a code that nobody has, are answered with the products that have a cooler."""
    record = _record(sultry_until=0, calibrated=False)
    for product in ("SOW-14", "NIX"):
        with pytest.raises(BedstoneError, match=r"no cooler of the tables|There is no product"):
            cooler_hours(record, at=FIRST, hours=2, products=(product,))


def test_a_thick_pellet_has_less_air_for_each_pound_on_a_warm_night_than_on_a_cold_one():
    """The same volume at the fan weighs less in warm air: each hour has its own dry air."""
    mill = current_mill(_record(sultry_until=0, calibrated=False))
    found = []
    for air_c in (-15.0, 30.0):
        air = AirIn(temperature_c=air_c, relative_humidity_frac=0.6, pressure_pa=99_000.0)
        hot = PelletsIn(rate_kg_s=2.0, temperature_c=75.0, moisture_wb=0.155)
        found.append(cooler_of(mill, LINE, pellet_kind(mill, PRODUCT), air, hot).air_kg_s)
    assert found[0] > 1.02 * found[1]


def test_a_typical_year_gives_limits_without_being_kept():
    """Hours of a published typical year (Greensboro, that pvlib carries) are reckoned with where the
    record has none: an August afternoon holds back what a January night lets through.
    """
    record = _record(sultry_until=0, calibrated=True)
    hours = read_typical_year(Path(pvlib.__file__).parent / "data" / "723170TYA.CSV", year=2027)
    head = record.head()
    found = {}
    for month, hour in ((1, 8), (8, 20)):
        at = dt.datetime(2027, month, 4, hour, tzinfo=dt.UTC)
        said = cooler_hours(record, at=at, hours=1, products=(PRODUCT,), other_air=hours)
        assert [row.starts_at for row in said.limits] == [at]
        found[month] = said.limits[0].rate_kg_s
    assert found[8] < found[1]
    assert record.head() == head


def test_typical_air_is_kept_only_for_hours_without_weather():
    """Kept hours are reckoned with like any other; what was known of an hour stands."""
    record = _record(sultry_until=0, calibrated=True)
    hours = read_typical_year(Path(pvlib.__file__).parent / "data" / "723170TYA.CSV", year=2027)
    by = current_mill(record).people[0].person
    first = dt.datetime(2027, 8, 4, 20, tzinfo=dt.UTC)
    asked = {"by": by, "first": first, "at": AT}
    assert keep_air(record, hours, hours=6, **asked) == 6
    assert keep_air(record, hours, hours=8, **asked) == 2
    assert len(cooler_hours(record, at=first, hours=24, products=(PRODUCT,)).air) == 8
    with pytest.raises(BadInput, match="No air to keep"):
        keep_air(record, None, hours=6, **asked)


def test_a_typical_year_with_fields_missing_is_refused_by_row(tmp_path: Path):
    """An hour that was cut off is named by its row; nothing of the file is taken."""
    whole = Path(pvlib.__file__).parent / "data" / "723170TYA.CSV"
    lines = whole.read_text(encoding="latin-1").splitlines()
    lines[9] = ",".join(lines[9].split(",")[:12])
    cut = tmp_path / "cut.csv"
    cut.write_text("\n".join(lines), encoding="latin-1")
    with pytest.raises(BadInput) as caught:
        read_typical_year(cut, year=2027)
    (fault,) = caught.value.faults
    assert (fault.row, fault.found) == (10, "12 fields")


def test_settings_say_what_is_left_of_live_additives():
    """A hotter conditioner leaves less of a live culture; above its hottest setting it is said."""
    record = _record(sultry_until=0, calibrated=True)
    mild = settings_for(record, "RABBIT-16", at=NINE, conditioning_c=55.0)
    hot = settings_for(record, "RABBIT-16", at=NINE, conditioning_c=85.0)
    assert mild.additives[0].left.left > hot.additives[0].left.left
    assert not hot.additives[0].keeps
    assert any("is left" in caution for caution in hot.cautions)
    assert hot.conditioned.steam_kg_s > mild.conditioned.steam_kg_s
    assert hot.leaving is not None
    curve = [row[1] for row in hot.additives[0].curve]
    assert curve == sorted(curve, reverse=True)
