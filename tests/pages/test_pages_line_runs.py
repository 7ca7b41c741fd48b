"""Pages of runs on the pellet lines: readings typed, refused, taken back; findings and water."""

import datetime as dt
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from bedstone.desk.line_water import book_water_again, pelletings
from bedstone.desk.readings import READINGS, readings
from bedstone.mill.readings import LINE_QUANTITIES
from fakes.line_runs import made, pelleted, read
from fakes.page_line import EARLY, line_pages
from fakes.page_quillback import quillback_pages, with_plan
from fakes.page_server import PageMill

HOUR = dt.timedelta(hours=1)
RUN = "R-1"
PAGE = f"/pellet-line/runs/{RUN}"
FIELD = {name: f"q{number}" for number, name in enumerate(LINE_QUANTITIES, 1)}


def typed(column: int = 1, at: str = "2026-11-26T04:30", **values: str) -> dict[str, str]:
    """A column of the form."""
    cells = {f"{FIELD[name.replace('_', ' ')]}_{column}": text for name, text in values.items()}
    return {f"at_{column}": at, **cells}


@pytest.fixture
def line(tmp_path: Path) -> Iterator[PageMill]:
    """The demo mill early on its day, a run of rabbit feed mixed an hour ago."""
    with line_pages(tmp_path) as served:
        made(served.record, RUN, at=EARLY - HOUR)
        yield served


def test_readings_of_several_times_are_typed_in_the_mills_units(line: PageMill) -> None:
    """Two columns of the form, one number with its own unit behind it: 150 °F is 65.6 C, 66 C is
    itself, 12 % is 0.12; what the page then shows is what was typed.
    """
    visitor = line.visitor("dell")
    form = typed(conditioner_temperature="150", cooler_outlet_moisture="12", steam_flow="320",
                 mash_flow="2.8", motor_current="41") | typed(
        2, "2026-11-26T04:45", conditioner_temperature="66 C", die_temperature="160.5")  # fmt: skip
    answer = visitor.post(PAGE, page=PAGE, **form)
    assert answer.status_code == 303, answer.text
    found = readings(line.record, "PL2", "conditioner temperature").rows
    assert [row.value for row in found] == pytest.approx([65.5556, 66.0], abs=1e-3)
    assert {row.run for row in found} == {RUN}
    assert readings(line.record, "PL2", "cooler outlet moisture").rows[0].value == 0.12
    steam = readings(line.record, "PL2", "steam flow").rows[0].value
    assert steam == pytest.approx(320 * 0.45359237 / 3600)
    text = visitor.get(PAGE).text
    for words in ("150 °F", "160 °F", "320 lb/h", "2.8 ton/h", "41 A"):
        assert words in text, words


@pytest.mark.parametrize(
    ("form", "said"),
    [
        (typed(conditioner_temperature="650"), "86 °F to 221 °F"),
        (typed(conditioner_temperature="66"), "such as 82 °C"),
        (typed(cooler_outlet_moisture="-3"), "3 % to 30 %"),
        (typed(cooler_outlet_moisture="0.12"), "12.5 means 12.5 %"),
        (typed(cooler_outlet_moisture="110"), "3 % to 30 %"),
        (typed(conditioner_temperature="hot"), "a number, and behind it"),
        (typed(steam_flow="20 psi"), "kg/h"),
        (typed(at="2026-11-27T04:30", motor_current="40"), "up to now, 2026-11-26 05:00"),
        (typed(at="2026-11-12T04:30", motor_current="40"), "within 4 days of the run"),
        (typed(at="", motor_current="40"), "time 1"),
        (typed(), "Nothing was typed"),
        (typed(motor_current="40") | typed(2, motor_current="41"), "the same time again"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_half_written(
    line: PageMill, form: dict[str, str], said: str
) -> None:
    """Said with what is allowed, the good numbers beside it are not written, and what was typed
    is still in the form.
    """
    before = line.record.head()
    good = typed(3, "2026-11-26T04:50", die_temperature="160") if len(form) > 1 else {}
    answer = line.visitor("dell").post(PAGE, page=PAGE, **(form | good))
    assert answer.status_code == 400
    assert said in answer.text
    assert line.record.head() == before
    for text in form.values():
        assert f'value="{text}"' in answer.text


def test_all_faults_of_a_form_are_said_at_once(line: PageMill) -> None:
    """A number that cannot be, one that is none and a time to come, each beside what is allowed."""
    form = typed(conditioner_temperature="650", motor_current="12 V") | typed(
        2, "2026-12-24T04:30", die_temperature="160")  # fmt: skip
    text = line.visitor("dell").post(PAGE, page=PAGE, **form).text
    for words in ("650 °F", "12 V", "2026-12-24 04:30"):
        assert words in text, words


def test_a_run_or_line_that_is_not_its_own_is_refused(line: PageMill) -> None:
    """No such run: said with near names. A line that the run does not go over: said."""
    visitor = line.visitor("dell")
    assert visitor.get("/pellet-line/runs/R-77").status_code == 404
    gone = visitor.post("/pellet-line/runs/R-2", page=PAGE, **typed(motor_current="40"))
    assert gone.status_code == 404
    assert "did you mean R-1" in gone.text
    wrong = visitor.post(PAGE, page=PAGE, line="PL1", **typed(motor_current="40"))
    assert wrong.status_code == 400
    assert "does not go over PL1" in wrong.text


def test_a_slip_is_typed_again_or_taken_back_and_the_water_follows(line: PageMill) -> None:
    """Readings after the pelleting book its water anew; the same again is refused; a manager takes
    the fact back and the water goes back too.
    """
    pelleted(line.record, RUN, at=EARLY - HOUR / 2)
    first = pelletings(line.record, RUN)[0].batches
    visitor = line.visitor("dell")
    form = typed(cooler_outlet_moisture="10.5")
    answer = visitor.post(PAGE, page=PAGE, **form)
    assert answer.headers["location"].endswith("done=water")
    drier = pelletings(line.record, RUN)[0].batches
    assert drier[0].out_mg != first[0].out_mg
    assert "already" in visitor.post(PAGE, page=PAGE, **form).text
    again = visitor.post(PAGE, page=PAGE, **typed(cooler_outlet_moisture="11.5"))
    assert again.status_code == 303
    assert [row.value for row in readings(line.record, "PL2", "cooler outlet moisture").rows] == [
        pytest.approx(0.115)
    ]
    for fact in [one.position for one in line.record.facts(kinds=(READINGS,))]:
        page = f"/journal/{fact}"
        assert "Take this fact back" in visitor.get(page).text
        back = visitor.post(f"{page}/reverse", page=page, why="the wrong run")
        assert back.status_code == 303
    assert readings(line.record, "PL2", "cooler outlet moisture").rows == ()
    assert pelletings(line.record, RUN)[0].batches == first


def test_the_page_says_weight_gained_and_lost_with_its_worth(line: PageMill) -> None:
    """Steam in, water to the air, pellets, the shrink in money, and what was not read."""
    pelleted(line.record, RUN, at=EARLY - HOUR / 2)
    text = line.visitor().get(PAGE).text
    assert "In with steam" in text
    assert "Shrink: the run left" in text  # the dust, where pellets are taken as moist as the mash
    assert "which had cost $" in text
    assert "not read, so that a setting stands for it: cooler outlet moisture" in text
    read(line.record, RUN, at=EARLY, cooler_outlet_moisture=0.10, conditioner_temperature=70.0)
    assert "not by these readings" in line.visitor().get(PAGE).text
    book_water_again(line.record, {RUN}, by="dell", at=EARLY)
    assert "from the run's readings" in line.visitor().get(PAGE).text
    read(line.record, RUN, at=EARLY, cooler_outlet_moisture=0.13)
    book_water_again(line.record, {RUN}, by="dell", at=EARLY)
    assert "at the cost of the mash" in line.visitor().get(PAGE).text


def test_a_dial_that_cannot_be_right_is_said_and_marked(line: PageMill) -> None:
    """Pellets far colder than the air are taken, said to be left out, and marked in the table; where
    the run's pellets are now stands there with the way to their trace.
    """
    pelleted(line.record, RUN, at=EARLY - HOUR / 2)
    visitor = line.visitor("dell")
    form = typed(cooler_outlet_temperature="-10")
    assert visitor.post(PAGE, page=PAGE, **form).status_code == 303
    text = visitor.get(PAGE).text
    assert "colder than the air of its hour" in text
    assert "14 °F, left out" in text or "-10 °F, left out" in text
    assert "Pellets out of the cooler" not in text
    assert "Now, by the books:" in text
    assert f"Trace of {RUN}" in text


def test_what_somebody_must_act_on_stands_on_the_list(line: PageMill) -> None:
    """Pellets far too warm stand on the list of runs with the way to the run, and the bin that
    they went into leads to the page of warm bins.
    """
    pelleted(line.record, RUN, at=EARLY - HOUR / 2)
    read(line.record, RUN, at=EARLY - HOUR, cooler_outlet_temperature=60.0)
    text = line.visitor().get("/pellet-line/runs").text
    assert "To act on" in text
    assert f'href="{PAGE}"' in text
    assert "/pellet-line/bin?bin=FB6" in line.visitor().get(PAGE).text


def test_runs_with_findings_are_found_among_many_and_older_ones_on_their_pages(
    line: PageMill,
) -> None:
    """Of fifty runs, one of them damp, the first page has forty and leads to the rest; the one with
    a finding stands alone where only such are asked for.
    """
    for number in range(50):
        run = f"R-5{number:02d}"
        at = EARLY - (number + 2) * HOUR
        made(line.record, run, batches=(f"5{number:02d}-01",), at=at)
        read(line.record, run, at=at, cooler_outlet_moisture=0.15 if number == 45 else 0.12)
    visitor = line.visitor()
    first = visitor.get("/pellet-line/runs").text
    assert "/pellet-line/runs/R-539" in first.split("<caption>")[1]
    assert "/pellet-line/runs/R-540" not in first.split("<caption>")[1]
    (older,) = re.findall(r'href="(/pellet-line/runs\?before=[^"]+)"', first)
    second = visitor.get(older.replace("&amp;", "&")).text.split("<caption>")[1]
    assert "/pellet-line/runs/R-540" in second
    assert "/pellet-line/runs/R-549" in second
    assert "/pellet-line/runs/R-539" not in second
    told = visitor.get("/pellet-line/runs?which=told").text.split("runs with findings, 60")[1]
    assert "/pellet-line/runs/R-545" in told
    assert "/pellet-line/runs/R-544" not in told


def test_the_temperature_in_a_bin_is_typed_there(line: PageMill) -> None:
    """104 °F in a finished bin is 40 C; a bin that is none is refused."""
    visitor = line.visitor("dell")
    page, post = "/pellet-line/runs?bin=FB8", "/pellet-line/bin-reading"
    assert 'value="FB8" selected' in visitor.get(page).text
    good = visitor.post(post, page=page, bin="FB8", read="104", at="2026-11-26T04:30")
    assert good.status_code == 303
    assert readings(line.record, "FB8", "bin temperature").rows[0].value == pytest.approx(40.0)
    bad = visitor.post(post, page=page, bin="FB99", read="104", at="2026-11-26T04:30")
    assert bad.status_code == 400


def test_todays_page_names_pellets_sent_on_damp(tmp_path: Path) -> None:
    """A run of the last day that left too damp stands on today's page with the way to it; once its
    readings are taken back it is gone.
    """
    with quillback_pages(tmp_path) as mill:
        with_plan(mill)
        made(mill.record, RUN, at=EARLY - 3 * HOUR)
        read(mill.record, RUN, at=EARLY - 2 * HOUR, cooler_outlet_moisture=0.15)
        text = mill.visitor().get("/").text
        assert "last day and a half" in text
        assert f'href="{PAGE}"' in text
        assert "15.0 %" in text
        (fact,) = mill.record.facts(kinds=(READINGS,))
        mill.record.reverse(fact.position, by="dell", why="a slip", recorded_at=EARLY)
        assert "last day and a half" not in mill.visitor().get("/").text


def test_a_planned_run_is_pelleted_with_nothing_typed_and_its_readings_follow(
    tmp_path: Path,
) -> None:
    """Recorded on the page of the day's runs with all left empty: its water is reckoned by the
    settings; the moisture that is then typed on its own page books its pellets anew.
    """
    with quillback_pages(tmp_path) as mill:
        plan = with_plan(mill)
        run = next(row for row in plan.runs if row.product == "SHEEP-GR")
        ids = tuple(row.batch for row in plan.batches if row.run == run.run and row.formula_version)
        made(mill.record, run.run, product=run.product, batches=ids, at=EARLY - HOUR)
        visitor = mill.visitor("dell")
        form = {"day": "2026-11-26", "steam": "", "out": "", "dust": ""}
        done = visitor.post(f"/runs/{run.run}/pelleted", page="/runs?day=2026-11-26", **form)
        assert done.status_code == 303, done.text
        before = pelletings(mill.record, run.run)[0].batches
        assert "reckoned, give or take" in visitor.get("/runs?day=2026-11-26").text
        page = f"/pellet-line/runs/{run.run}"
        answer = visitor.post(page, page=page, **typed(cooler_outlet_moisture="10.2"))
        assert answer.headers["location"].endswith("done=water")
        after = pelletings(mill.record, run.run)[0].batches
        assert all(old.steam_mg == new.steam_mg for old, new in zip(before, after, strict=True))
        assert all(old.out_mg != new.out_mg for old, new in zip(before, after, strict=True))
