"""bedstone formulate: one product, all, a week; in words, JSON, CSV and xlsx."""

import csv
import datetime as dt
import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from bedstone.cli.main import run
from bedstone.cli.parts import Parts
from bedstone.demo.quillback import quillback_folder
from bedstone.desk.formula_answer import formulate
from bedstone.desk.formulate import Choices
from bedstone.desk.revisions import current_mill
from bedstone.desk.tables import load_tables
from bedstone.start import parts
from bedstone.store.folder import write_folder

NOW = dt.datetime(2026, 11, 25, 18, 0, tzinfo=dt.UTC)
TON = 907.18474 / 1000
Ask = Callable[..., tuple[int, str, str]]


@pytest.fixture(scope="module")
def mill(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo mill's folder with its orders and opening stock in a record, without a past."""
    directory = tmp_path_factory.mktemp("formulate") / "quillback"
    folder = quillback_folder(dt.date(2026, 11, 26))
    orders = tuple(row for row in folder.orders if row.product in {"SHEEP-GR", "EWE-15", "GOAT-16"})
    folder = replace(folder, orders=orders, weather=())
    write_folder(folder, directory)
    load_tables(joined().open_record(directory, create=True), folder, by="dell", at=NOW)
    return directory


def joined() -> Parts:
    """The real parts, with a clock that stands still."""
    return parts(lambda: NOW)


@pytest.fixture
def ask(mill: Path, capsys: pytest.CaptureFixture[str]) -> Ask:
    """Runs the command and gives its exit code, its answer, and what it said beside it."""

    def asked(*words: str) -> tuple[int, str, str]:
        code = run(["formulate", str(mill), *words], joined())
        said = capsys.readouterr()
        return code, said.out, said.err

    return asked


def test_one_product_in_words(ask: Ask):
    """Parts, batch, limits, unused ingredients and the tag, in the mill's own units."""
    code, out, _ = ask("SHEEP-GR")
    assert code == 0
    for words in (
        "Lamb Grower 16:",
        "USD a ton; version 2 runs at",
        "crude protein on the tag",
        "One more, USD/ton",
        "The tag before an inspector's single sample",
        "Florida Administrative Code",
    ):
        assert words in out


def test_json_is_the_answer_of_the_desk(ask: Ask, mill: Path):
    """Cost, parts and limits as the desk reckons them, in SI."""
    code, out, _ = ask("SHEEP-GR", "--json")
    assert code == 0
    (said,) = json.loads(out)
    record = joined().open_record(mill)
    found = formulate(record, "SHEEP-GR", Choices(on=dt.date(2026, 11, 25)))
    assert found.answer is not None
    assert said["cost_usd_t"] == pytest.approx(found.answer.cost_usd_t, rel=1e-6)
    assert said["draft_version"] is None
    shares = {row["code"]: row["share_frac"] for row in said["ingredients"] if row["share_frac"]}
    assert sum(shares.values()) == pytest.approx(1.0)
    assert {row["name"] for row in said["limits"]} == {row.name for row in found.answer.limits}


def test_all_products_a_line_each(ask: Ask, mill: Path):
    """Without a product every product of the mill has its line."""
    code, out, _ = ask("--by-mean")
    assert code == 0
    for row in current_mill(joined().open_record(mill)).products:
        assert row.product in out


def test_a_typed_price_counts_in_the_mills_unit(ask: Ask):
    """A price is a short ton's at a mill that shows pounds; a dearer ingredient makes a dearer ton."""
    _, plain, _ = ask("SHEEP-GR", "--json")
    _, dear, _ = ask("SHEEP-GR", "--price", "SBM48=500", "--json")
    rows = {row["code"]: row for row in json.loads(dear)[0]["ingredients"]}
    assert rows["SBM48"]["price_usd_t"] == pytest.approx(500 / TON)
    assert json.loads(dear)[0]["cost_usd_t"] > json.loads(plain)[0]["cost_usd_t"]


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (["NIX"], 4, "no product 'NIX'"),
        (["SHEEP-GR", "--price", "SBM48"], 2, "as CORN-G=170"),
        (["SHEEP-GR", "--price", "SBM48=-1"], 2, "as CORN-G=170"),
        (["SHEEP-GR", "--price", "SBM48=nan"], 2, "as CORN-G=170"),
        (["SHEEP-GR", "--price", "NIX=3"], 2, "as CORN-G=170"),
        (["SHEEP-GR", "--on", "tomorrow"], 2, "YYYY-MM-DD"),
        (["SHEEP-GR", "--odds", "30"], 2, "50<=x<=99.99"),
        (["SHEEP-GR", "--out", "answer.pdf"], 2, ".csv or .xlsx"),
        (["SHEEP-GR", "--keep", "why", "--by", "mara"], 3, "may not keep a formula as a draft"),
    ],
)
def test_what_cannot_be_is_said(ask: Ask, words: list[str], code: int, said: str):
    """Unknown products, prices, days, odds and files are refused in words; no traceback."""
    ended, out, err = ask(*words)
    assert ended == code
    assert said in err
    assert out == ""


def test_nothing_fits_ends_with_its_own_code(ask: Ask):
    """Odds that no formula can give: what contradicts what, in words, and exit code 6."""
    code, out, _ = ask("BROIL-ST", "--odds", "99.99")
    assert code == 6
    assert "contradict each other" in out
    assert "would do" in out


def test_files_have_what_was_answered(ask: Ask, tmp_path: Path):
    """CSV has parts and limits beside each other, xlsx both as sheets; text stays text."""
    import openpyxl

    csv_file, book_file = tmp_path / "sheep.csv", tmp_path / "sheep.xlsx"
    assert ask("SHEEP-GR", "EWE-15", "--out", str(csv_file))[0] == 0
    assert ask("SHEEP-GR", "--out", str(book_file))[0] == 0
    with csv_file.open(encoding="utf-8") as file:
        rows: list[dict[str, Any]] = list(csv.DictReader(file))
    parts_pct = [float(row["parts_pct"]) for row in rows if row["product"] == "SHEEP-GR"]
    assert sum(parts_pct) == pytest.approx(100)
    assert (tmp_path / "sheep-limits.csv").is_file()
    book = openpyxl.load_workbook(book_file)
    assert book.sheetnames == ["parts", "limits"]
    assert book["parts"]["A2"].value == "SHEEP-GR"


def test_a_week_on_shared_stock(ask: Ask, tmp_path: Path):
    """What is on order is formulated together, with a bound that no week is below."""
    code, out, _ = ask("--joint", "--by-mean", "--json")
    assert code == 0
    week = json.loads(out)["week"]
    assert {row["product"] for row in week["products"]} == {"SHEEP-GR", "EWE-15", "GOAT-16"}
    assert week["bound_usd"] == pytest.approx(week["cost_usd"], rel=1e-6)
    file = tmp_path / "week.xlsx"
    code, out, err = ask("--joint", "--by-mean", "--out", str(file))
    assert code == 0
    assert "no week is below" in " ".join(out.split())
    assert "Wheat middlings" in out
    assert "written" in err
    assert file.is_file()


def test_keep_makes_a_draft(ask: Ask, mill: Path):
    """--keep records the formula as a draft by whoever signs; it does not run."""
    code, out, _ = ask("GOAT-16", "--keep", "cheaper", "--by", "ines")
    assert code == 0
    assert "kept as draft, version 2" in out
    kept = current_mill(joined().open_record(mill))
    rows = {row.version: row.status for row in kept.formulas if row.product == "GOAT-16"}
    assert rows == {1: "running", 2: "draft"}
    assert sum(row.parts_frac for row in kept.lines_of("GOAT-16", 2)) == pytest.approx(1.0)
