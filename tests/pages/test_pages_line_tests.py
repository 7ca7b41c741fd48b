"""Pages of dies, tests and logged runs: what is shown, recorded and refused."""

import datetime as dt
from collections.abc import Iterator
from pathlib import Path

import pytest

from bedstone.desk.die_runs import products_on_dies, runs_on_dies
from bedstone.desk.line_tests import durability_tests, sieve_tests
from bedstone.desk.readings import record_readings
from bedstone.desk.revisions import current_mill
from bedstone.desk.wear_parts import fittings, wear
from bedstone.ledger.model import Fact, How, Movement
from bedstone.mill.readings import ReadingRow
from fakes.line_runs import made
from fakes.page_line import EARLY, line_pages
from fakes.page_server import PageMill

HOUR = dt.timedelta(hours=1)
TON_MG = round(907.18474e6)


@pytest.fixture(scope="module")
def line(tmp_path_factory: pytest.TempPathFactory) -> Iterator[PageMill]:
    """The demo mill early on its day, no run logged."""
    with line_pages(tmp_path_factory.mktemp("line")) as served:
        yield served


def pelleted(mill: PageMill, mass_mg: int, *, at: dt.datetime) -> None:
    """Pellets of the dairy feed off the first line."""
    movement = Movement(
        from_place="PL1", to_place="FB1", mass_mg=mass_mg, material="DAIRY-18", how=How.RECKONED
    )
    content = {"run": "R-1", "product": "DAIRY-18", "machine": "PL1", "from": "SB1", "to": "FB1",
               "batches": []}  # fmt: skip
    fact = Fact(kind="pelleting.run_pelleted/1", happened_at=at, by="dell", content=content,
                movements=(movement,))  # fmt: skip
    mill.record.append(fact, recorded_at=at)


def test_a_die_wears_by_the_tons_of_the_ledger_since_it_was_put_in(tmp_path: Path):
    """A die that is put in begins with what it had made; pellets before it do not count."""
    with line_pages(tmp_path) as mill:
        pelleted(mill, 40 * TON_MG, at=EARLY - 9 * HOUR)
        before = next(row for row in wear(mill.record, "PL1") if row.die == "1/4 in")
        assert before.made_mg == pytest.approx(6940 * TON_MG, rel=1e-6)
        answer = mill.visitor("dell").post(
            "/pellet-line/die/fitted",
            page="/pellet-line/die",
            which="PL1:1/4 in",
            made="100 ton",
            lasts="1000 ton",
        )
        assert answer.status_code == 303, answer.text
        pelleted(mill, 50 * TON_MG, at=EARLY + HOUR)
        after = next(row for row in wear(mill.record, "PL1") if row.die == "1/4 in")
        assert after.made_mg == pytest.approx(150 * TON_MG, rel=1e-6)
        assert after.life is not None
        assert after.life.used_frac == pytest.approx(0.15)
        assert after.day_mg == pytest.approx(90 * TON_MG / 28, rel=1e-6)
        assert after.days_left == pytest.approx(850 / (90 / 28), rel=1e-6)
        assert len(fittings(mill.record)) == 1
        assert "put in" in mill.visitor().get("/pellet-line/die").text


def test_sieves_are_recorded_with_mean_and_spread(line: PageMill):
    """Grams typed sieve by sieve give the mean that the page then shows."""
    visitor = line.visitor("dell")
    typed = {"of": "CORN-G", "sample": "100", "on_840": "30", "on_590": "40", "on_420": "30"}
    answer = visitor.post("/pellet-line/tests/sieved", page="/pellet-line/tests", **typed)
    assert answer.status_code == 303, answer.text
    found = sieve_tests(line.record)[-1].found
    assert 590 < found.mean_um < 840
    assert f"{found.mean_um:.0f} µm" in line.visitor().get("/pellet-line/tests").text


@pytest.mark.parametrize(
    ("form", "typed", "said"),
    [
        ("sieved", {"of": "CORN-G", "sample": "100", "on_840": "30"}, "do not account"),
        ("sieved", {"of": "CORN-G", "on_840": "-3"}, "0 g or more"),
        ("sieved", {"of": "NIX", "on_840": "3"}, "no ingredient or product"),
        ("tumbled", {"run": "R-9", "line": "PL1", "retained": "450"}, "No batch of run"),
        ("tumbled", {"run": "R-9", "line": "PL1", "retained": "many"}, "is no number"),
    ],
)
def test_what_cannot_be_is_refused_in_words(
    line: PageMill, form: str, typed: dict[str, str], said: str
):
    """A wrong form records nothing and says what is wrong."""
    head = line.record.head()
    visitor = line.visitor("dell")
    answer = visitor.post(f"/pellet-line/tests/{form}", page="/pellet-line/tests", **typed)
    assert answer.status_code in {400, 404}
    assert said in answer.text
    assert line.record.head() == head
    assert durability_tests(line.record) == ()


def test_a_die_that_is_not_of_the_line_is_refused(line: PageMill):
    """Only dies of the tables can be put in."""
    visitor = line.visitor("dell")
    answer = visitor.post("/pellet-line/die/fitted", page="/pellet-line/die", which="PL1:9 in")
    assert answer.status_code == 400
    assert "a die of PL1" in answer.text


def test_a_logged_run_stands_with_its_readings(tmp_path: Path):
    """A run with readings is listed with what was read of it."""
    with line_pages(tmp_path) as mill:
        rows = [ReadingRow(at=EARLY - HOUR, value=80.0, run="R-77")]
        record_readings(mill.record, instrument="PL1", quantity="conditioner temperature", rows=rows,
                        by="dell", at=EARLY)  # fmt: skip
        text = mill.visitor().get("/pellet-line/runs").text
        assert "R-77" in text
        assert "176 °F" in text


def test_the_die_page_sets_heat_of_the_table_beside_what_was_read(tmp_path: Path):
    """A logged run shows energy, load against the plate, the rise of the table, as read, and by
    energy, and where the knives stand.
    """
    with line_pages(tmp_path) as mill:
        made(mill.record, "R-9", product="DAIRY-18", at=EARLY - 2 * HOUR)
        for quantity, value in (
            ("mash flow", 1.8), ("motor current", 90.0),
            ("conditioner temperature", 78.0), ("die temperature", 83.0),
        ):  # fmt: skip
            rows = [ReadingRow(at=EARLY - HOUR, value=value, run="R-9")]
            record_readings(mill.record, instrument="PL1", quantity=quantity, rows=rows,
                            by="dell", at=EARLY)  # fmt: skip
        text = mill.visitor().get("/pellet-line/die").text
        (row,) = [
            one
            for one in products_on_dies(current_mill(mill.record), runs_on_dies(mill.record, "PL1"))
            if one.product == "DAIRY-18"
        ]
        assert row.rise_read_dk == pytest.approx(5.0)
        assert row.rise_energy_dk > 10
        assert row.gap_mm is not None
        assert row.gap_mm + row.cut_mm / 2 == pytest.approx(row.wanted_mm)
        for words in ("9 °F", f"{row.gap_mm / 25.4:.2f} in off the face", "of full load"):
            assert words in text, words
        assert '<br><span class="soft small">face at ' in text
        assert ">Face</th>" not in text
        wears = wear(mill.record, "PL1")
        assert all(one.days_left is None for one in wears)
