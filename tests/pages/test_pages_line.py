"""The pages of the pellet line: settings, cooler, limits by the hour, additives, conditioner."""

import datetime as dt
import html
import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

from bedstone.cooling.after_cooler import HOT_ADVICE
from bedstone.cooling.limits import HourLimit
from bedstone.cooling.model import Factors
from bedstone.desk.cooler_mash import mash_words
from bedstone.desk.line_cooler import CoolerAnswer, asked_of_cooler, reckon_cooler
from bedstone.desk.line_factors import CALIBRATED, Calibrated
from bedstone.desk.line_settings import settings_for
from bedstone.desk.line_start import of_mash
from bedstone.desk.plain_values import row_plain
from bedstone.desk.revisions import current_mill
from bedstone.ledger.model import Fact
from bedstone.mill.plan import Bar, BarKind
from bedstone.web.line_view import planned_rates, rate_to_run, runs_on_lines, slowest_hour
from fakes.page_line import EARLY, line_pages
from fakes.page_server import PageMill
from fakes.plans import a_plan
from fakes.small_mill import a_mill

HOUR = dt.timedelta(hours=1)
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def line(tmp_path_factory: pytest.TempPathFactory) -> Iterator[PageMill]:
    """The demo mill, only read."""
    with line_pages(tmp_path_factory.mktemp("line")) as served:
        yield served


def pictures(text: str) -> list[ET.Element]:
    """Every picture of a page, read strictly."""
    return [ET.fromstring(found) for found in re.findall(r"<svg xmlns.*?</svg>", text, re.DOTALL)]  # noqa: S314 - our own page


def figure(text: str, name: str) -> str:
    """A big figure by its name."""
    found = re.search(rf"<dt>{re.escape(name)}</dt><dd>([^<]*)<", text)
    assert found, name
    return found.group(1)


def test_settings_are_those_of_the_desk(line: PageMill):
    """The big figures are the table's setting and what the desk reckons of it, in the mill's units."""
    text = line.visitor().get("/pellet-line?on=PL1:SWINE-ST").text
    found = settings_for(line.record, "SWINE-ST", "PL1", at=EARLY)
    row = next(one for one in current_mill(line.record).pellets if one.product == "SWINE-ST")
    assert figure(text, "Conditioner") == f"{row.conditioning_c * 1.8 + 32:.0f} °F"
    pounds = float(figure(text, "Steam").removesuffix(" lb/h").replace(",", ""))
    assert pounds == pytest.approx(found.conditioned.steam_kg_s * 3600 / 0.45359237, abs=5.1)
    assert found.leaving is not None
    assert figure(text, "Pellets leave the cooler") == f"{found.leaving.pellet_c * 1.8 + 32:.0f} °F"
    assert figure(text, "Die") == "5/32 in"


def test_the_rate_says_what_binds_and_what_the_air_lets_through(line: PageMill):
    """The rate to run stands with the tables', and with the air's between its low and high end."""
    text = line.visitor().get("/pellet-line?on=PL1:DAIRY-18").text
    rate = float(figure(text, "Rate of mash").removesuffix(" ton/h"))
    found = settings_for(line.record, "DAIRY-18", "PL1", at=EARLY)
    assert rate == pytest.approx(found.rate_kg_s * 3.6 / 0.90718474, abs=0.051)
    assert "own rate binds" in html.unescape(text)
    ends = re.search(r"lets ([0-9.]+) ton/h through, from ([0-9.]+) ton/h to ([0-9.]+) ton/h", text)
    assert ends
    assert float(ends[2]) < float(ends[1]) <= float(ends[3])


def air_at(rate: float) -> HourLimit:
    """What an hour's air lets through."""
    return HourLimit(
        product="SHEEP-GR", line="PL1", starts_at=EARLY, rate_kg_s=rate, rate_lo_kg_s=rate / 2,
        rate_hi_kg_s=2 * rate, because="not cool enough",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("tables", "plan", "air", "trusted", "rate", "binds"),
    [
        (2.0, 2.0, 3.0, True, 2.0, "tables"),
        (2.0, None, 3.0, True, 2.0, "tables"),
        (2.0, 1.5, 3.0, True, 1.5, "plan"),
        (2.0, 2.0, 1.2, True, 1.2, "air"),
        (2.0, 1.2, 1.2, True, 1.2, "plan"),
        (2.0, 2.0, 1.2, False, 2.0, "tables"),
        (2.0, 2.0, None, True, 2.0, "tables"),
    ],
)
def test_the_slowest_of_tables_plan_and_air_binds(
    *, tables: float, plan: float | None, air: float | None, trusted: bool, rate: float, binds: str
):
    """The air binds only where the cooler is calibrated; where it is not, doubt is said."""
    found = rate_to_run(tables, plan, None if air is None else air_at(air), is_trusted=trusted)
    assert (found.rate_kg_s, found.binds) == (rate, binds)
    assert found.air_doubts == (not trusted)
    if air is not None and air / 2 < tables:
        assert ("this hour" if plan is None else "slowest hour") in found.of_air("SI")
    assert "t/h" in found.others("SI")
    if binds == "air":
        assert "not cool enough" in found.why


def test_the_slowest_hour_of_the_air_is_taken():
    """Of hours of 2, 1.4 and 3 kg/s the second; of none nothing."""
    found = slowest_hour(limits_at([2.0, 1.4, 3.0]))
    assert found is not None
    assert found.rate_kg_s == 1.4
    assert slowest_hour([]) is None


def test_without_a_plan_one_may_choose(line: PageMill):
    """No plan stands: the page says so and offers every product that has settings."""
    text = line.visitor().get("/pellet-line").text
    assert "The plan that stands has no pelleting" in text
    assert 'value="PL2:HORSE-SUP"' in text


def test_an_unknown_product_is_answered_with_those_that_are_known(line: PageMill):
    """A product that no line has gives 404 and the list of those there are."""
    for path in ("/pellet-line", "/pellet-line/cooler", "/pellet-line/additives"):
        answer = line.visitor().get(f"{path}?on=PL1:NIX")
        assert answer.status_code == 404
        assert "PL1:SWINE-ST" in answer.text
    assert line.visitor().get("/pellet-line/limits?line=PL9").status_code == 404


def cooler_of_run(line: PageMill, product: str) -> CoolerAnswer:
    """What the desk reckons of a product's cooler by the tables."""
    mill = current_mill(line.record)
    settings = settings_for(line.record, product, "PL1", at=EARLY)
    asked, fan = asked_of_cooler(mill, settings)
    return reckon_cooler(asked, "US", fan=fan, mash=of_mash(mill, settings, at=EARLY))


def test_the_bed_is_drawn_with_what_the_desk_reckons(line: PageMill):
    """The picture's words say the temperatures and water that the desk's cooler gives; each figure
    beside it has its low and high end.
    """
    text = line.visitor().get("/pellet-line/cooler?on=PL1:BROIL-FIN").text
    found = cooler_of_run(line, "BROIL-FIN")
    (picture,) = pictures(text)
    said = picture.attrib["aria-label"]
    assert f"leave at {found.leaving.pellet_c * 1.8 + 32:.0f} °F" in said
    assert f"{100 * found.leaving.moisture_wb:.1f} % of water" in said
    assert len(picture.findall(f"{SVG}polyline")) == 4
    assert "not calibrated" in text
    low, high = (f"{value * 1.8 + 32:.0f} °F" for value in found.spread.pellet_c)
    assert f"from {low} to {high}" in text
    low, high = (f"{100 * value:.1f} %" for value in found.spread.moisture_wb)
    assert f"from {low} to {high}; water activity" in text
    assert f"{found.start.fill_s / 60:.0f} min" in text
    assert found.start.advice[:30] in text
    assert found.against is not None
    assert f"pellets leave with {mash_words(found.against, 'US')}" in text
    assert "USD an hour" not in text or found.against.points < 0


def test_a_cooler_answers_what_is_typed(line: PageMill):
    """Half as many pellets, typed with another unit, leave colder and stay longer; the form keeps
    what was typed and says how it is understood.
    """
    usual = line.visitor().get("/pellet-line/cooler?on=PL1:DAIRY-18").text
    slow = (
        line.visitor()
        .get("/pellet-line/cooler?on=PL1:DAIRY-18&pellet_rate_kg_s=3000+lb/h&air_c=70F")
        .text
    )
    assert float(figure(slow, "In the bed").split()[0]) > float(
        figure(usual, "In the bed").split()[0]
    )
    assert "With the numbers typed below" in slow
    assert "understood as 3,000" in slow


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("humidity_frac=110", "found 110; allowed: a number from 0 to 100 %"),
        ("air_m3_s=-4000", "The fan must draw air up through the bed"),
        ("pellet_moisture_wb=-1", "found -1; allowed: a number from 4 to 30 % wet basis"),
        ("pellet_c=50F&air_c=70F", "pellets 50 °F, air 70 °F"),
        ("pellet_c=219F", "Water in the pellets would boil"),
        ("air_m3_s=50", "So much air does not go through such a bed"),
        ("pellet_c=hot", "found"),
    ],
)
def test_a_cooler_that_cannot_be_is_refused_in_the_mills_units(
    line: PageMill, typed: str, said: str
):
    """Humidity over saturation, air the wrong way round or next to none, water below nothing,
    pellets colder than the air or boiling: said in words, no picture, no traceback.
    """
    answer = line.visitor().get(f"/pellet-line/cooler?on=PL1:DAIRY-18&{typed}")
    assert answer.status_code == 200
    assert said in answer.text
    assert not pictures(answer.text)


def test_limits_are_drawn_with_their_band_and_said_to_be_uncalibrated(line: PageMill):
    """Products that the air holds back have a band; the others are named as free; nothing is lost."""
    text = line.visitor().get("/pellet-line/limits?line=PL1").text
    drawn = pictures(text)
    assert drawn
    for picture in drawn:
        assert len(picture.findall(f"{SVG}polygon[@class='interval']")) == 1
    assert "not calibrated" in text
    mill = current_mill(line.record)
    for row in mill.pellets:
        if "PL1" in mill.product(row.product).route:
            assert mill.name_of(row.product) in text


def test_factors_never_stand_without_their_interval(line: PageMill):
    """Each cooler's two factors have their ends beside them, and what to log next."""
    text = line.visitor().get("/pellet-line/calibration").text
    assert text.count("1.00, from 0.50 to 2.00") == 2
    assert text.count("1.00, from 0.40 to 2.50") == 2
    assert text.count("What to log next:") == 2


def test_a_mill_without_the_tables_is_told_which(read_mill: PageMill):
    """Every page of the line answers in a mill that has no such tables."""
    for path in ("", "/cooler", "/limits", "/additives", "/calibration", "/conditioner"):
        answer = read_mill.visitor().get(f"/pellet-line{path}")
        assert answer.status_code == 200, path


def test_without_logged_runs_nothing_is_calibrated(line: PageMill):
    """The form says what to log, and writes nothing."""
    visitor, before = line.visitor("dell"), line.record.head()
    answer = visitor.post("/pellet-line/calibration/PL1", page="/pellet-line/calibration")
    assert answer.status_code == 400
    assert "No logged run of PL1" in answer.text
    assert "Log for each run" in answer.text
    assert line.record.head() == before


@pytest.mark.parametrize(
    ("misfit", "said"),
    [(1.1, ">calibrated</span> from 24 logged runs"), (9.0, "9.0 times their errors off")],
)
def test_a_calibration_is_trusted_only_if_its_readings_fit(
    tmp_path: Path, misfit: float, said: str
):
    """Kept factors stand with their interval; where the readings lie far off the page says so."""
    factors = Factors(
        heat=0.8, heat_lo=0.7, heat_hi=0.9, moisture=1.5, moisture_lo=1.4, moisture_hi=1.6,
        source="24 logged runs", calibrated=True,
    )  # fmt: skip
    kept = row_plain(Calibrated(line="PL1", factors=factors, readings=24, misfit=misfit))
    del kept["position"]
    with line_pages(tmp_path) as mill:
        fact = Fact(kind=CALIBRATED, happened_at=EARLY, by="dell", content=kept)
        mill.record.append(fact, recorded_at=EARLY)
        text = mill.visitor().get("/pellet-line/calibration").text
    assert said in text
    assert "0.80, from 0.70 to 0.90" in text
    assert "1.50, from 1.40 to 1.60" in text


def limits_at(rates: list[float]) -> tuple[HourLimit, ...]:
    """Limits of a product hour by hour from noon."""
    noon = dt.datetime(2026, 11, 25, 12, tzinfo=dt.UTC)
    return tuple(
        HourLimit(
            product="SHEEP-GR", line="PL1", starts_at=noon + number * HOUR, rate_kg_s=rate,
            rate_lo_kg_s=rate / 2, rate_hi_kg_s=rate, because="",
        )
        for number, rate in enumerate(rates)
    )  # fmt: skip


def on_line(minutes_from: int, minutes_to: int, *, parts: int = 1) -> tuple[object, ...]:
    """A run of the plan on PL1 from one minute after noon to another, in parts."""
    plan = a_plan()
    noon = dt.datetime(2026, 11, 25, 12, tzinfo=dt.UTC)
    run = replace(plan.runs[0], mass_mg=3_600_000_000)
    step = (minutes_to - minutes_from) / parts
    bars = tuple(
        Bar(
            machine="PL1", kind=BarKind.RUN, about=run.run, label="",
            start_at=noon + dt.timedelta(minutes=minutes_from + number * step),
            end_at=noon + dt.timedelta(minutes=minutes_from + (number + 1) * step),
        )
        for number in range(parts)
    )  # fmt: skip
    return runs_on_lines(replace(plan, runs=(run,), bars=bars), a_mill())


def test_a_rate_is_the_whole_run_over_all_its_parts():
    """3600 kg in an hour is 1 kg/s, in one part or in three."""
    for parts in (1, 3):
        found = on_line(0, 60, parts=parts)
        assert len(found) == parts
        assert all(one.rate_kg_s == pytest.approx(1.0) for one in found)


@pytest.mark.parametrize(
    ("rates", "found_too_fast"),
    [([1.0, 0.1], ["no"]), ([0.9, 5.0], ["yes"]), ([0.1, 1.0], ["yes"])],
)
def test_only_the_hours_of_the_run_judge_it(rates: list[float], found_too_fast: list[str]):
    """A run in the first hour is too fast if that hour lets less through, whatever comes later."""
    found = planned_rates(limits_at(rates), on_line(0, 60))
    assert ["yes" if one.too_fast else "no" for one in found] == found_too_fast


def test_a_run_outside_the_hours_is_not_judged():
    """Where no limit is known nothing is said."""
    assert planned_rates(limits_at([1.0]), on_line(120, 180)) == ()


def test_what_is_hot_is_never_turned_through_a_cooler(line: PageMill) -> None:
    """The page of the cooler says of a hot bin what the page of warm bins says: no air, keep away."""
    text = html.unescape(line.visitor().get("/pellet-line/cooler?on=PL1:DAIRY-18").text)
    assert "below 131 °F, no smell, no smoke" in text
    assert HOT_ADVICE in text
    assert "do not turn it" in text
