"""The page of warm bins, and the bins that were filled warm on the pages of bins."""

import datetime as dt
import io
import re
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlencode
from xml.etree import ElementTree as ET

import pypdf
import pytest

from bedstone.desk import plan_day
from bedstone.desk.bin_acts import record_count
from bedstone.desk.readings import record_readings
from bedstone.desk.revisions import current_mill
from bedstone.desk.warm_bin import at_mass, filled_in
from bedstone.desk.warm_night import night_ahead
from bedstone.mill.readings import ReadingRow
from bedstone.web.line_view import runs_on_lines
from fakes.line_runs import AT, RUN, line_record, made, pelleted, read
from fakes.page_quillback import quillback_pages, with_plan
from fakes.page_server import FixedClock, PageMill, page_mill

NOW = AT + dt.timedelta(hours=1)
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def warm(tmp_path_factory: pytest.TempPathFactory) -> Iterator[PageMill]:
    """The demo mill with rabbit feed in FB6 that left its cooler at 38 C with 12.9 %, air at 10 C."""
    folder = tmp_path_factory.mktemp("warm")
    with page_mill(folder, empty=True, clock=FixedClock(NOW)) as served:
        line_record(served.record, air_c=10.0)
        made(served.record)
        read(served.record, cooler_outlet_temperature=38.0, cooler_outlet_moisture=0.129,
             conditioner_temperature=70.0)  # fmt: skip
        pelleted(served.record)
        yield served


def test_it_comes_filled_in_from_the_record(warm: PageMill):
    """The bin that was filled warm comes first, with its figures, where they are from, its night."""
    text = warm.visitor().get("/pellet-line/bin").text
    found = filled_in(warm.record, "FB6", at=NOW)
    mill = current_mill(warm.record)
    night = night_ahead(found, found.asked, mill=mill).night
    assert 'name="pellet_c" value="100.4"' in text
    assert 'name="moisture_wb" value="12.9"' in text
    assert f"warmest run in it, {RUN}" in text
    assert "FB6 was filled" in text or "was filled warm" in text
    assert f"{night.hours[0].dew_point_c[1] * 1.8 + 32:.0f} °F" in text
    low, high = (f"{kg / 0.45359237:.2g}" for kg in night.roof_kg)
    assert f"{low} to {high} lb" in text
    assert "never a shelf life" in text
    assert "corn, Chung-Pfost" in text


def test_the_night_is_drawn_and_told(warm: PageMill):
    """The picture has its words and its bands; the table has every hour of it."""
    text = warm.visitor().get("/pellet-line/bin?bin=FB6").text
    drawn = re.findall(r"<svg xmlns.*?</svg>", text, re.DOTALL)
    (picture,) = [ET.fromstring(one) for one in drawn]  # noqa: S314 - our own page
    hours = len(filled_in(warm.record, "FB6", at=NOW).outside_c) - 1
    assert f"{hours} hours" in picture.attrib["aria-label"]
    assert "water runs down in" in picture.attrib["aria-label"]
    assert len(picture.findall(f"{SVG}polyline")) == 8
    assert len(picture.findall(f"{SVG}polygon")) == 4
    wet = [*picture.findall(f"{SVG}rect[@class='wet']"),
           *picture.findall(f"{SVG}rect[@class='maybe-wet']")]  # fmt: skip
    assert wet
    table = text[text.index("Hour by hour in words") : text.index("</details>")]
    assert table.count("<tr>") == hours + 2


def test_every_figure_can_be_typed_over(warm: PageMill):
    """Cold dry pellets in a mild night have nothing to run down; it says that they were typed."""
    address = "/pellet-line/bin?bin=FB6&pellet_c=52F&moisture_wb=10&coldest_c=50"
    text = warm.visitor().get(address).text
    assert "Nothing runs down" in text
    assert "typed, understood as 52 degrees F" in text
    kept = warm.visitor().get("/pellet-line/bin?bin=FB6&mass_kg=2t").text
    assert "understood as 2 t (1000 kg)" in kept


def test_surfaces_follow_the_mass_that_is_typed(warm: PageMill):
    """The form's surfaces, sent as they were shown, are reckoned anew for another mass; one that was
    typed over stays; the next mass goes by the surfaces shown last.
    """
    visitor = warm.visitor()

    def fields(text: str) -> dict[str, str]:
        return dict(re.findall(r'name="(\w+)" value="([^"]*)"', text))

    shown = fields(visitor.get("/pellet-line/bin?bin=FB6").text)
    more = shown | {"mass_kg": "12000 lb"}
    after = fields(visitor.get(f"/pellet-line/bin?{urlencode(more)}").text)
    mill = current_mill(warm.record)
    big = filled_in(warm.record, "FB6", at=NOW, mass_kg=12_000 * 0.45359237)
    for name in ("top_m2", "roof_m2", "wall_m2"):
        ft2 = getattr(big.asked, name) / 0.3048**2
        assert float(after[name].replace(",", "")) == pytest.approx(ft2, rel=1e-3)
    third = fields(
        visitor.get(f"/pellet-line/bin?{urlencode(after | {'mass_kg': '6000 lb'})}").text
    )
    small = at_mass(big, mill, 6_000 * 0.45359237)
    assert float(third["wall_m2"]) == pytest.approx(small.asked.wall_m2 / 0.3048**2, rel=1e-3)
    own = fields(visitor.get(f"/pellet-line/bin?{urlencode(more | {'wall_m2': '222'})}").text)
    assert own["wall_m2"] == "222"


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("moisture_wb=-3", "allowed: a number"),
        ("moisture_wb=110", "allowed: a number"),
        ("pellet_c=9000", "allowed: a number"),
        ("mass_kg=nothing", "allowed: a number"),
        ("mass_kg=99000", "does not hold this much"),
        ("mass_kg=100&wall_m2=400", "So few pellets"),
    ],
)
def test_what_cannot_be_is_said_and_nothing_reckoned(warm: PageMill, typed: str, said: str):
    """A figure out of range is shown at its field, or what is wrong above it; no night is given."""
    answer = warm.visitor().get(f"/pellet-line/bin?bin=FB6&{typed}")
    assert answer.status_code == 200
    assert said in answer.text
    assert "<svg xmlns" not in answer.text


def test_a_hot_bin_is_a_matter_for_the_fire_service(warm: PageMill):
    """From 131 °F the caution stands first; hotter than can be reckoned it stands all the same."""
    for typed in ("140F", "230F"):
        text = warm.visitor().get(f"/pellet-line/bin?bin=FB6&pellet_c={typed}").text
        assert "hot bin" in text
        assert "fire service" in text
        assert "carbon monoxide" in text


def test_a_bin_without_pellets_is_refused_with_those_that_have(warm: PageMill):
    """An empty bin, a bin of grain and no bin at all: what is found and which bins may be meant."""
    for code in ("FB5", "NIX", "B01"):
        answer = warm.visitor().get(f"/pellet-line/bin?bin={code}")
        assert answer.status_code == 404
        assert "FB6" in answer.text
        assert 'name="bin" value="none"' in answer.text
    assert "an example" in warm.visitor().get("/pellet-line/bin?bin=none").text


def test_bins_say_which_was_filled_warm(warm: PageMill):
    """The picture of all bins and the bin's own page point to its night."""
    every = warm.visitor().get("/bins").text
    assert "filled warm: look at it tonight" in every
    assert 'href="/pellet-line/bin?bin=FB6"' in every
    own = warm.visitor().get("/bins/FB6").text
    assert "was filled warm with run" in own
    assert 'href="/pellet-line/bin?bin=FB6"' in own
    assert "pellet-line/bin" not in warm.visitor().get("/bins/B01").text


def test_bags_of_a_run_stand_on_its_page(warm: PageMill):
    """Bags closed warm and damp: the page of their run says their water activity and what it may be."""
    at = NOW - dt.timedelta(minutes=20)
    for quantity, value in (("bag temperature", 35.0), ("bag moisture", 0.145)):
        record_readings(warm.record, instrument="SK2", quantity=quantity,
                        rows=[ReadingRow(at=at, value=value, run=RUN)], by="dell", at=at)  # fmt: skip
    text = warm.visitor().get(f"/pellet-line/runs/{RUN}").text
    assert "Closed at 95 °F with 14.5 % of water" in text
    assert "damper than the 0.65 of its table" in text
    assert "at the bag, as read" in text
    assert "never a shelf life" in text


def test_bins_say_which_reads_hot(warm: PageMill):
    """A thermometer at 58 C in the bin: keep out, on the page of all bins and on its own, with what
    was read; the way to the form of readings stands there.
    """
    at = NOW - dt.timedelta(minutes=10)
    record_readings(warm.record, instrument="FB6", quantity="bin temperature",
                    rows=[ReadingRow(at=at, value=58.0)], by="dell", at=at)  # fmt: skip
    assert "hot: keep out" in warm.visitor().get("/bins").text
    own = warm.visitor().get("/bins/FB6").text
    assert "Do not climb in" in own
    assert "136 °F" in own
    assert 'href="/pellet-line/runs?bin=FB6#bin"' in own
    assert "hot bin" in warm.visitor().get("/pellet-line/bin?bin=FB6").text


def test_a_bin_that_heats_stands_on_todays_page(tmp_path: Path):
    """Above everything of the day's plan: which bin reads hot, and to keep out."""
    with page_mill(tmp_path) as mill:
        at = mill.clock()
        assert "A bin heats" not in mill.visitor().get("/").text
        record_readings(mill.record, instrument="G1", quantity="bin temperature",
                        rows=[ReadingRow(at=at, value=64.0)], by="osk", at=at)  # fmt: skip
        text = mill.visitor().get("/").text
    assert "A bin heats" in text
    assert "Do not climb in" in text


def test_a_hot_bin_stands_on_every_day_and_before_the_run_that_goes_into_it(tmp_path: Path):
    """A bin at 140 °F stands on today's page whatever day it shows, with the run that the plan sends
    there; the page of the next run and its sheet say to send it elsewhere. Another bin's run is free.
    """
    with quillback_pages(tmp_path) as mill:
        plan, at = with_plan(mill), mill.clock()
        tables = current_mill(mill.record)
        first = runs_on_lines(plan, tables)[0]
        code = first.run.finished_bin
        address = f"/pellet-line?on={first.line}:{first.run.product}"
        paper = f"/papers/{plan.plan}/runs/{first.run.run}/{first.line}.pdf"
        assert "Do not run it into" not in mill.visitor().get(address).text
        record_count(mill.record, code, material=first.run.product, counted_mg=1_000_000_000,
                     by="dell", at=at)  # fmt: skip
        record_readings(mill.record, instrument=code, quantity="bin temperature",
                        rows=[ReadingRow(at=at, value=60.0)], by="dell", at=at)  # fmt: skip
        far = plan.day + dt.timedelta(days=40)
        next_day = plan.day + dt.timedelta(days=1)
        other = plan_day.make_plan(mill.record, day=next_day, at=at)
        plan_day.propose(mill.record, other, by="dell", at=at)
        pages = [mill.visitor().get(path).text
                 for path in (f"/?day={plan.day}", f"/?day={next_day}", f"/?day={far}")]  # fmt: skip
        ahead = mill.visitor().get(address).text
        sheet = mill.visitor().get(paper).content
    for text in pages:
        assert f"{code} reads 140 °F inside" in text
        assert "Stop what feeds it" in text
    assert f"By this plan {first.run.run} goes into it: do not run it there" in pages[0]
    assert "By this plan" not in pages[2]
    assert f"Do not run it into {tables.name_of(code)} ({code})" in ahead
    assert f"{code} reads 140 °F inside. Send it to another bin, or let it wait." in ahead
    printed = " ".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(sheet)).pages)
    assert f"STOP. {code} reads 140 °F inside. Run nothing into it" in " ".join(printed.split())
    assert len(pypdf.PdfReader(io.BytesIO(sheet)).pages) == 1
