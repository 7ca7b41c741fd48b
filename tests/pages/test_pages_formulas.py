"""Formulas on the pages: limits beside the answer, what-if, versions, what is known of an ingredient."""

import datetime as dt
import itertools
import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

from bedstone.demo.quillback import quillback_folder
from bedstone.desk.formula_answer import formulate
from bedstone.desk.formulate import Choices
from bedstone.desk.revisions import current_mill
from bedstone.web.formula_pages import limit_words
from fakes.formula_desk import AT, DAY, a_load
from fakes.page_server import FixedClock, PageMill, page_mill

TON = 907.18474 / 1000
PIECE = {"HX-Request": "true"}


def served(folder: Path) -> Iterator[PageMill]:
    """The demo mill behind its pages, with one load of soybean meal in its bin."""
    whole = quillback_folder(dt.date(2026, 11, 26))
    loaded = replace(whole, orders=(), weather=(), opening_stock=())
    with page_mill(folder, loaded, clock=FixedClock(AT + dt.timedelta(hours=4))) as mill:
        a_load(mill.record, "L-1", "SBM48", "B04", tonnes=20, hours=1)  # type: ignore[arg-type]
        yield mill


@pytest.fixture(scope="module")
def read(tmp_path_factory: pytest.TempPathFactory) -> Iterator[PageMill]:
    """The mill, only read."""
    yield from served(tmp_path_factory.mktemp("formulas"))


@pytest.fixture
def own(tmp_path: Path) -> Iterator[PageMill]:
    """The mill, to be written to."""
    yield from served(tmp_path)


def cost_in(text: str) -> float:
    """What the first figure of an answer says that a ton costs."""
    found = re.search(r"costs</dt><dd>\$([0-9.,]+)", text)
    assert found, text[:400]
    return float(found.group(1).replace(",", ""))


def test_the_list_has_every_product_with_its_cost(read: PageMill):
    """Each product stands there with the version that runs; drafts wait beside it."""
    text = read.visitor().get("/formulas").text
    for product in current_mill(read.record).products:
        assert product.name in text
    assert "version 2, draft" in text
    assert "to look at" in text


def test_the_answer_on_the_page_is_that_of_the_desk(read: PageMill):
    """Cost, limits and the ingredients that would come in are the desk's own, in the mill's units."""
    found = formulate(read.record, "SHEEP-GR", Choices(on=DAY))
    text = read.visitor().get("/formulas/SHEEP-GR").text
    assert found.answer is not None
    assert cost_in(text) == pytest.approx(found.answer.cost_usd_t * TON, abs=0.006)
    for row in found.answer.limits:
        assert row.name in text
    assert "5E-3.016" not in text  # the rule is named by the mill's own setting, in words
    assert "Rule: Florida" in text


def test_pictures_are_well_formed_and_named(read: PageMill):
    """Both pictures parse as XML and say in words what they show."""
    text = read.visitor().get("/formulas/SHEEP-GR").text
    pictures = re.findall(r"<svg.*?</svg>", text, re.DOTALL)
    assert len(pictures) == 2
    for picture in pictures:
        root = ET.fromstring(picture)  # noqa: S314 - our own page
        assert root.get("aria-label")
        assert root.get("role") == "img"


@pytest.mark.parametrize(
    ("query", "dearer"),
    [
        ({"price.SBM48": "440"}, True),
        ({"price.SBM48": "300"}, False),
        ({"minimum.tag: crude protein": "17"}, True),
        ({"maximum.tag: calcium": "1.3"}, False),
    ],
)
def test_what_is_dragged_is_asked_again(read: PageMill, query: dict[str, str], *, dearer: bool):
    """A dearer ingredient or a tighter limit raises the cost, a cheaper or looser one lowers it."""
    visitor = read.visitor()
    before = cost_in(visitor.get("/formulas/SHEEP-GR").text)
    answer = visitor.http.get("/formulas/SHEEP-GR/answer", params=query, headers=PIECE)
    assert answer.status_code == 200
    assert "<html" not in answer.text
    assert "1 changed" in answer.text
    assert (cost_in(answer.text) > before) is dearer
    whole = visitor.http.get("/formulas/SHEEP-GR", params=query)
    assert cost_in(whole.text) == cost_in(answer.text)


def test_sliders_left_alone_change_nothing(read: PageMill):
    """Every slider sent as it stands gives the answer that stands, with nothing said to be changed."""
    visitor = read.visitor()
    page = visitor.get("/formulas/RABBIT-16").text
    sliders = dict(
        re.findall(r'name="((?:price|minimum|maximum)\.[^"]+)"[^>]*value="([^"]+)"', page)
    )
    assert len(sliders) > 15
    answer = visitor.http.get("/formulas/RABBIT-16/answer", params=sliders, headers=PIECE).text
    assert "Changed:" not in answer
    assert cost_in(answer) == cost_in(page)


def test_where_nothing_fits_the_page_says_what_contradicts_what(read: PageMill):
    """Protein beyond reach: at once that nothing fits; asked for why, what contradicts what and the cost."""
    query = {"minimum.tag: crude protein": "24"}
    http = read.visitor().http
    at_once = http.get("/formulas/SHEEP-GR/answer", params=query, headers=PIECE).text
    assert "Nothing fits" in at_once
    assert 'data-later="why"' in at_once
    assert "would do" not in at_once
    answer = http.get("/formulas/SHEEP-GR/answer", params=query | {"why": "yes"}, headers=PIECE)
    assert "Nothing fits" in answer.text
    assert 'data-later="why"' not in answer.text
    assert "would do, at $" in http.get("/formulas/SHEEP-GR", params=query).text
    assert "crude protein" in answer.text
    assert "would do, at $" in answer.text


@pytest.mark.parametrize(
    ("query", "said"),
    [
        ({"from": "the moon"}, "tables, assays, bins"),
        ({"odds": "20"}, "50 to 99.99"),
        ({"odds": "many"}, "no number"),
        ({"price.SBM48": "-3"}, "0 or more"),
        ({"price.SBM48": "nan"}, "no number"),
        ({"minimum.tag: crude protein": "1e400"}, "no number"),
    ],
)
def test_what_cannot_be_understood_is_said(read: PageMill, query: dict[str, str], said: str):
    """A wrong choice or number is refused in words, on the page and in the piece."""
    visitor = read.visitor()
    for path, headers in (("/formulas/SHEEP-GR", {}), ("/formulas/SHEEP-GR/answer", PIECE)):
        answer = visitor.http.get(path, params=query, headers=headers)
        assert answer.status_code == 400
        assert said in answer.text


@pytest.mark.parametrize(
    "path",
    [
        "/formulas/NIX",
        "/formulas/NIX/answer",
        "/formulas/SHEEP-GR/versions/9",
        "/formulas/SHEEP-GR/compare?a=1&b=9",
        "/ingredients/NIX",
    ],
)
def test_what_is_not_there_answers_404(read: PageMill, path: str):
    """An unknown product, version or ingredient is unknown."""
    assert read.visitor().get(path).status_code == 404


def test_versions_that_are_no_numbers_are_refused(read: PageMill):
    """A version is a whole number."""
    assert read.visitor().get("/formulas/SHEEP-GR/versions/two").status_code == 400
    assert read.visitor().get("/formulas/SHEEP-GR/compare?a=&b=1").status_code == 400


def test_two_versions_side_by_side(read: PageMill):
    """Parts, change and cost of both, at the same prices."""
    text = read.visitor().get("/formulas/LAYER-16/compare?a=1&b=2").text
    assert "Wheat middlings" in text
    assert "+4.000 %" in text  # 4.5 % becomes 8.5 %


def test_a_version_says_what_must_be_looked_at(read: PageMill):
    """A draft that may miss its tag says with which odds, and what to do."""
    text = read.visitor("ines").get("/formulas/LAYER-16/versions/2").text
    assert "crude protein on the tag is expected at" in text
    assert "To act on" in text
    assert "Approve version 2" in text


def test_from_the_answer_to_the_formula_in_use(own: PageMill):
    """Kept as a draft, approved, put in use: three forms, three facts, and the tables follow."""
    visitor = own.visitor("ines")
    answer = visitor.post(
        "/formulas/SHEEP-GR/draft",
        "/formulas/SHEEP-GR",
        why="cheaper meal",
        **{"price.SBM48": "330"},
    )
    assert answer.headers["location"] == "/formulas/SHEEP-GR/versions/3?done=draft"
    page = "/formulas/SHEEP-GR/versions/3"
    assert "does not run until it was approved" in visitor.get(f"{page}?done=draft").text
    answer = visitor.post(f"{page}/approve", page, why="")
    assert answer.status_code == 303, answer.text
    assert visitor.post(f"{page}/use", page).status_code == 303
    mill = current_mill(own.record)
    running = mill.running_formula("SHEEP-GR")
    assert running is not None
    assert (running.version, running.approved_by) == (3, "ines")
    assert "cheaper meal" in visitor.get("/formulas/SHEEP-GR").text
    answer = visitor.post(f"{page}/withdraw", page, why="a slip")
    assert answer.status_code == 303
    assert current_mill(own.record).running_formula("SHEEP-GR") is None


def test_a_draft_that_needs_an_answer_is_not_approved_without(own: PageMill):
    """Odds below what is asked want a reason; what was typed stays; a second window is a conflict."""
    visitor = own.visitor("ines")
    page = "/formulas/LAYER-16/versions/2"
    refused = visitor.post(f"{page}/approve", page, why="")
    assert refused.status_code == 400
    assert "Say why this may be approved" in refused.text
    other = visitor.fields(page)
    assert visitor.post(f"{page}/withdraw", page, why="old").status_code == 303
    late = visitor.post(f"{page}/approve", hidden=other, why="as agreed")
    assert late.status_code == 409


def test_an_ingredient_shows_what_is_known_of_it(read: PageMill):
    """Tables, assays and bins, each with its spread, and the lots that lie there."""
    text = read.visitor().get("/ingredients/SBM48").text
    assert "crude protein, %" in text
    assert "20 t in 1 bin: 1 lot, 0 of them assayed" in text
    assert "L-1" in text
    assert "Soybean meal 48" in read.visitor().get("/ingredients").text


def test_cost_against_one_price_is_a_curve(read: PageMill):
    """The curve rises with the price, bends down, and passes through the cost of today."""
    visitor = read.visitor()
    text = visitor.get("/formulas/SHEEP-GR/curve?of=SBM48").text
    rows = re.findall(r'<td class="number">\$([0-9.,]+)</td>' * 2, text)
    points = [(float(price), float(cost)) for price, cost in rows]
    assert len(points) > 2
    assert points == sorted(points)
    slopes = [
        (after[1] - before[1]) / (after[0] - before[0])
        for before, after in itertools.pairwise(points)
        if after[0] - before[0] > 1
    ]
    assert all(one >= other - 0.01 for one, other in itertools.pairwise(slopes))
    assert "for being sure" in text
    assert f"${cost_in(visitor.get('/formulas/SHEEP-GR').text):,.2f} with the odds" in text
    assert visitor.get("/formulas/SHEEP-GR/curve?of=NIX").status_code == 404


def test_a_lot_that_assays_differently_is_asked_about(read: PageMill):
    """Poorer meal makes the ton dearer, richer cheaper; the page says what it was."""
    visitor = read.visitor()
    before = cost_in(visitor.get("/formulas/SHEEP-GR").text)
    costs = []
    for assay in ("45", "50"):
        query = {"of": "SBM48", "nutrient": "crude protein", "assay": assay}
        answer = visitor.http.get("/formulas/SHEEP-GR/answer", params=query, headers=PIECE)
        assert f"Soybean meal 48 with {assay} % of crude protein (was 48.5)" in answer.text
        costs.append(cost_in(answer.text))
    assert costs[0] > before > costs[1]
    query = {"of": "SBM48", "nutrient": "gold", "assay": "1"}
    assert visitor.http.get("/formulas/SHEEP-GR", params=query).status_code == 400


def test_price_ranges_with_odds_follow_when_asked_for(read: PageMill):
    """At first the page says that ranges are worked out; asked for, they stand beside each price."""
    http = read.visitor().http
    first = http.get("/formulas/RABBIT-16/answer", headers=PIECE).text
    assert 'data-later="ranges"' in first
    assert "Stays between" not in first
    for path, headers in (("/formulas/RABBIT-16/answer", PIECE), ("/formulas/RABBIT-16", {})):
        ranged = http.get(path, params={"ranges": "yes"}, headers=headers).text
        assert 'data-later="ranges"' not in ranged
        assert "Stays between" in ranged
        assert "no share moves by more than 0.5 % of the mash" in ranged


def test_what_one_more_costs_says_where_that_is_true(read: PageMill):
    """Without odds the range of a binding limit's price stands under it, as the answer has it."""
    answer = formulate(read.record, "SHEEP-GR", Choices(on=DAY, odds_frac=0.5)).answer
    assert answer is not None
    text = read.visitor().http.get("/formulas/SHEEP-GR", params={"odds": "50"}).text
    found = [
        f"true from {limit_words(row, row.true_from)} to {limit_words(row, row.true_to)}"
        for row in answer.limits
        if row.binding.value and row.true_to is not None and row.true_from is not None
    ]
    assert found
    for words in found:
        assert words in text
