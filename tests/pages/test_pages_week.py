"""The week of all products on its page: who gets what is scarce, what to buy, files of it."""

import csv
import datetime as dt
import io
from collections.abc import Iterator
from dataclasses import replace

import openpyxl
import pytest

from bedstone.demo.quillback import quillback_folder
from bedstone.desk.formula_week import formulate_week
from bedstone.desk.formulate import Choices
from fakes.formula_desk import AT, DAY, a_load
from fakes.page_server import FixedClock, PageMill, page_mill

WEEK = {"mass.SHEEP-GR": "40,000 lb", "mass.DAIRY-18": "60,000 lb", "mass.LAYER-16": ""}
TONNES = {"SHEEP-GR": 18.1436948, "DAIRY-18": 27.2155422}


@pytest.fixture(scope="module")
def mill(tmp_path_factory: pytest.TempPathFactory) -> Iterator[PageMill]:
    """The demo mill's tables, and one load of middlings in its bin: too little for the week."""
    whole = quillback_folder(dt.date(2026, 11, 26))
    loaded = replace(whole, orders=(), weather=(), opening_stock=())
    folder = tmp_path_factory.mktemp("week")
    with page_mill(folder, loaded, clock=FixedClock(AT + dt.timedelta(hours=4))) as served:
        a_load(served.record, "L-1", "MIDDS", "B06", tonnes=0.1, hours=1)  # type: ignore[arg-type]
        yield served


def test_the_page_says_what_the_desk_says(mill: PageMill) -> None:
    """Cost, each product jointly and alone, who gets the scarce meal and what to buy stand there."""
    found = formulate_week(mill.record, TONNES, Choices(on=DAY))
    text = mill.visitor().http.get("/week", params=WEEK).text
    assert f"${found.answer.cost_usd:,.0f}" in text
    assert f"no week is below ${found.answer.bound_usd:,.0f}" in text
    scarce = [row for row in found.answer.materials if row.scarce]
    assert [row.code for row in scarce] == ["MIDDS"]
    assert "Who gets Wheat middlings" in text
    assert "a ton; it cannot take more" in text
    assert "What to buy of it at most" in text
    assert 'role="img" aria-label="Who gets how much of' in text
    assert "Lamb Grower 16" in text
    assert "Layer 16: how much" not in text


def test_what_somebody_offers_is_answered(mill: PageMill) -> None:
    """Soybean meal offered at half its price: the page says how much to buy and what that saves."""
    half = WEEK | {"offered": "SBM48", "price": "180"}
    text = mill.visitor().http.get("/week", params=half).text
    assert "Who gets Soybean meal 48" in text
    assert "$180.00" in text
    offered = {"SBM48": 180 / 0.90718474}
    found = formulate_week(mill.record, TONNES, Choices(on=DAY), offers=offered)
    (step,) = found.buying["SBM48"].steps
    assert step.up_to_t > 0
    assert f"${step.saves_usd:,.2f}" in text


def test_files_hold_what_the_page_shows(mill: PageMill) -> None:
    """The workbook has a sheet for each table, and the CSV of products adds up to the cost."""
    http = mill.visitor().http
    book = openpyxl.load_workbook(io.BytesIO(http.get("/week.xlsx", params=WEEK).content))
    assert book.sheetnames == ["parts", "products", "shared", "offers", "who_gets", "buy_at_most"]
    answer = http.get("/week-parts.csv", params=WEEK)
    assert answer.headers["content-disposition"] == 'attachment; filename="week-parts.csv"'
    shares: dict[str, float] = {}
    for row in csv.DictReader(io.StringIO(answer.text)):
        shares[row["product"]] = shares.get(row["product"], 0.0) + float(row["parts_pct"])
    assert shares == pytest.approx({"DAIRY-18": 100, "SHEEP-GR": 100})
    assert http.get("/week-nothing.csv", params=WEEK).status_code == 404


@pytest.mark.parametrize(
    ("query", "status", "words"),
    [
        ({"mass.SHEEP-GR": "much"}, 400, "much"),
        ({"mass.NIX": "40"}, 404, "NIX"),
        ({"offered": "NIX", "price": "100"}, 404, "NIX"),
        (WEEK | {"offered": "SBM48", "price": "-1"}, 400, "0 or more"),
        ({"mass.SHEEP-GR": ""}, 409, "there is no week to formulate"),
    ],
)
def test_what_cannot_be_is_refused_in_words(
    mill: PageMill, query: dict[str, str], status: int, words: str
) -> None:
    """Masses, products and offers that cannot be are refused on the page itself, with what is allowed."""
    answer = mill.visitor().http.get("/week", params=query)
    assert answer.status_code == status
    assert words in answer.text
    assert "What is asked" in answer.text
