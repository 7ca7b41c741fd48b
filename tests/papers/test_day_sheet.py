import io
import re
from dataclasses import replace
from itertools import pairwise
from xml.etree import ElementTree as ET

import pypdf
import pytest

from bedstone.desk.record import Head
from bedstone.errors import Refused
from bedstone.mill.plan import Finding, Plan, Verdict
from bedstone.papers.pictures import bars_svg
from bedstone.papers.sheets import day_sheet
from fakes.plans import HEAD, a_plan, an_order
from fakes.small_mill import a_mill

WHEN = Head(position=1880, head=HEAD)
SVG = "{http://www.w3.org/2000/svg}"


def text_of(pdf: bytes) -> str:
    """Text of all pages, blanks joined."""
    reader = pypdf.PdfReader(io.BytesIO(pdf))
    return " ".join(" ".join(page.extract_text() for page in reader.pages).split())


def words_of(plan: Plan | None = None, units: str = "US") -> str:
    return text_of(day_sheet(plan or a_plan(), a_mill(units), head=WHEN, orders=(an_order(),)))


def picture(plan: Plan) -> ET.Element:
    """The picture of a plan, parsed."""
    return ET.fromstring(bars_svg(plan, a_mill()))  # noqa: S314 - our own text, made a line above


def test_runs_stand_in_order_with_times_bin_and_machines() -> None:
    """The table of runs has product, order, mass, start, ready, due, bin and machines, in order."""
    text = words_of()
    for words in ("R-4105", "Broiler Grower 20 medicated", "4106, Stile & Sons Stock Farm",
                  "12,000 lb", "240 bags", "07:40", "11:30", "15:00", "FB1", "MX1 → PL1 → SK1",
                  "Ring before loading."):  # fmt: skip
        assert words in text, words
    places = [text.index(f"R-{order}") for order in (4105, 4106, 4107)]
    assert places == sorted(places)


def test_a_late_run_says_by_how_much() -> None:
    """Lateness stands beside the due time in words."""
    assert "late by 30 min" in words_of()


def test_flushes_clean_outs_and_grinding_have_their_reasons() -> None:
    """Each flush and clean-out names its time, sheet, reason and fate; grinding its way."""
    text = words_of()
    for words in ("4107-01-flush", "400 lb Barley, ground", "9 mg/kg of copper",
                  "To the flush bin FL1", "4107-01-clean", "after monensin", "G-CORN-1",
                  "15,000 lb Corn, whole", "B1 → GR1 → G1"):  # fmt: skip
        assert words in text, words


def test_orders_left_out_are_named_with_the_reason() -> None:
    """An order that is not made says which, how much, and what is in the way."""
    text = words_of()
    assert "4110" in text
    assert "not enough on stock" in text
    assert "Monensin on stock is enough for one batch" in text


def test_costs_stand_beside_the_order_in_which_orders_came() -> None:
    """What this order of running costs, what the other would, and the difference."""
    text = words_of()
    for words in ("$90.00 (400 lb)", "$360.00 (1,600 lb)", "$207.50", "$706.00", "$498.50"):
        assert words in text, words
    alone = words_of(replace(a_plan(), as_orders_came=None))
    assert "$207.50" in alone
    assert "Saved" not in alone


def test_journal_head_plan_pages_and_release() -> None:
    """The journal's head stands in full, the plan and page number on every page, and who released."""
    text = words_of()
    assert HEAD in text.replace(" ", "")
    assert "Journal 1880:9f3c1d20b4e85a66" in text
    assert re.search(r"page 1 of \d", text)
    assert "Released to run by a manager" in text
    assert "Signature" in text


def test_a_head_without_position_is_printed_alone() -> None:
    """Where only the hash is known the sheet prints the hash."""
    text = text_of(day_sheet(a_plan(), a_mill(), head=HEAD))
    assert "Journal 9f3c1d20b4e85a66" in text


def test_what_asks_to_act_is_on_the_day_sheet() -> None:
    """Findings that somebody must act on are listed; notes are not."""
    act = Finding(code="x", verdict=Verdict.ACT, about="FB1", text="FB1 is full.", do="load out")
    note = replace(act, verdict=Verdict.NOTE, text="Only worth knowing.")
    text = words_of(replace(a_plan(), findings=(act, note)))
    assert "FB1 is full." in text
    assert "load out" in text
    assert "Only worth knowing." not in text


def test_equal_input_gives_equal_bytes_of_the_day() -> None:
    """Printed twice, the same day gives the same file."""
    one = day_sheet(a_plan(), a_mill(), head=WHEN)
    assert one == day_sheet(a_plan(), a_mill(), head=WHEN)


def test_a_rejected_day_is_not_printed() -> None:
    """No day sheet to release for a plan that the verifier rejects."""
    with pytest.raises(Refused):
        day_sheet(replace(a_plan(), status="refused"), a_mill(), head=WHEN)


def test_a_day_without_any_run_is_printed() -> None:
    """When every order is left out the sheet still says so."""
    plan = replace(a_plan(), runs=(), batches=(), bars=(), clean_outs=(), grinding=())
    text = words_of(plan)
    assert "0 runs" in text
    assert "4110" in text


def test_names_are_not_markup_on_the_day_sheet() -> None:
    """Signs of the typesetter and of SVG in names come out as text."""
    name = '#text(red)[<b>&amp; $x$ "q"'
    mill = a_mill()
    products = tuple(replace(row, name=name) for row in mill.products)
    machines = tuple(replace(row, name=name) for row in mill.machines)
    mill = replace(mill, products=products, machines=machines)
    text = text_of(day_sheet(a_plan(), mill, head=WHEN))
    assert text.replace(" ", "").count(name.replace(" ", "")) >= 3


def test_every_bar_is_in_the_picture_with_its_words() -> None:
    """Each bar is one shape that says what it is, when, and why."""
    plan = a_plan()
    root = picture(plan)
    titled = [rect for rect in root.iter(f"{SVG}rect") if rect.find(f"{SVG}title") is not None]
    assert len(titled) == len(plan.bars)
    said = [rect.findtext(f"{SVG}title") or "" for rect in titled]
    assert "4107-01-flush, flush, 07:40 to 07:48. " + plan.batches[3].reason in said


def test_rows_of_the_picture_follow_the_mills_table() -> None:
    """Machines stand in the order of the table; one that does nothing has no row."""
    root = picture(a_plan())
    bold = [text.text for text in root.iter(f"{SVG}text") if text.get("font-weight") == "bold"]
    assert bold == ["hammer mill", "two-ton mixer", "pellet line", "sacking line", "load-out"]


def test_bars_lie_where_their_times_are() -> None:
    """Bars of one machine do not overlap, and an hour is as wide everywhere."""
    plan = a_plan()
    root = picture(plan)
    found = {}
    for rect in root.iter(f"{SVG}rect"):
        title = rect.findtext(f"{SVG}title")
        if title:
            found[title.split(",")[0], rect.get("y")] = rect
    widths = {
        about: float(found[about, y].get("width", ""))
        for about, y in found
        if about in {"4106-01", "corn to G1"}
    }
    assert widths["corn to G1"] / widths["4106-01"] == pytest.approx(55 / 14, rel=0.01)
    lanes: dict[str, list[tuple[float, float]]] = {}
    for (_about, y), rect in found.items():
        left = float(rect.get("x", ""))
        lanes.setdefault(y or "", []).append((left, left + float(rect.get("width", ""))))
    for bars in lanes.values():
        ordered = sorted(bars)
        for (_left, right), (left, _right) in pairwise(ordered):
            assert left >= right - 0.25


def test_a_late_run_and_a_flush_show_without_colour() -> None:
    """A late run has a heavy edge and the word, a flush its hatching: no colour is needed."""
    svg = bars_svg(a_plan(), a_mill(), ident="one")
    assert 'stroke-width="2.4"' in svg
    assert "late: 4106" in svg
    assert 'fill="url(#one-flush)"' in svg
    colours = set(re.findall(r"#[0-9a-f]{6}", svg))
    assert all(colour[1:3] == colour[3:5] == colour[5:7] for colour in colours)
