"""A load at the gate on the pages: five forms that work with scripts off."""

from collections.abc import Iterator
from pathlib import Path

import pypdfium2
import pytest

from bedstone.demo.quillback.packaged import packaged_mill
from bedstone.desk.arrival_acts import find_arrival, take_in
from bedstone.desk.arrival_row import Arrival
from bedstone.mill.folder import LoadedFolder
from bedstone.papers.receiving_papers import receiving_paper
from fakes.page_server import PageMill, page_mill

TYPED = {
    "firm": "harrow",
    "ingredient": "CORN",
    "ticket": "T900",
    "lot": "L-900",
    "carrier": "dustyroad",
    "carrier_kind": "truck",
    "cargo1": "grain",
    "cargo2": "grain",
    "cargo3": "grain",
    "cleaned": "none",
    "seals": "intact",
    "papers": "right",
    "odour": "as usual",
    "insects": "none",
    "foreign": "none",
    "test:moisture": "16",
    "test:bulk density": "56",
    "test:foreign matter": "2",
    "test:aflatoxin": "5",
    "weighbridge": "WB1",
    "gross": "78000",
    "tare": "30000 lb",
}


@pytest.fixture
def quillback(tmp_path: Path) -> Iterator[PageMill]:
    """The demo's tables behind pages, with empty bins."""
    with page_mill(tmp_path, LoadedFolder(mill=packaged_mill())) as served:
        yield served


def test_a_load_goes_through_the_gate_into_a_bin_and_its_papers_are_there(quillback: PageMill):
    """Each step carries what was typed, the answer names price, bins and money, and taking it in
    leads to its papers; a second time the ticket is refused.
    """
    tomas = quillback.visitor("tomas")
    first = tomas.http.get("/arrival").text
    assert "Supplier" in first
    second = tomas.http.get("/arrival", params={"step": "2", **TYPED}).text
    assert 'name="gross" value="78000"' in second
    third = tomas.http.get("/arrival", params={"step": "3", **TYPED}).text
    assert "By its earlier cargoes it may unload" in third
    assert "10 probes over the whole length" in third
    answer = tomas.http.get("/arrival", params={"step": "5", **TYPED}).text
    assert "It may unload, at a lower price" in answer
    assert "48,000 lb" in answer
    assert 'value="B01"' in answer
    done = tomas.post("/arrival/take", page="/sign-in", into="B01", **TYPED)
    assert done.status_code == 303, done.text
    page = tomas.get(done.headers["location"]).text
    assert "Taken in, into corn bin" in page
    settled = tomas.post("/arrivals/T900/settle", page="/sign-in")
    assert settled.status_code == 303, settled.text
    assert "1.1834" in tomas.get("/arrivals/T900").text
    for paper in ("ticket", "settlement", "label"):
        assert tomas.get(f"/arrivals/T900/{paper}.pdf").content.startswith(b"%PDF")
    again = tomas.post("/arrival/take", page="/sign-in", into="B01", **TYPED)
    assert "T900 is on record already" in again.text
    assert "T900" in tomas.get("/arrivals").text


def test_what_is_typed_wrong_is_said_and_stays_typed(quillback: PageMill):
    """140 % moisture and a text for a number keep the step, with words; chemicals turn it away."""
    tomas = quillback.visitor("tomas")
    wrong = tomas.http.get("/arrival", params={"step": "4", **TYPED, "test:moisture": "140"})
    assert wrong.status_code == 400
    assert "from 0 to 100 %" in wrong.text
    assert 'value="140"' in wrong.text
    words = tomas.http.get("/arrival", params={"step": "4", **TYPED, "test:moisture": "<b>wet"})
    assert "The moisture is no number" in words.text
    assert "<b>wet" not in words.text
    bad = {**TYPED, "cargo2": "chemicals"}
    answer = tomas.http.get("/arrival", params={"step": "5", **bad}).text
    assert "Turn it away" in answer
    assert "Take it in" not in answer
    refused = tomas.post("/arrival/refuse", page="/sign-in", **bad)
    assert refused.status_code == 303, refused.text
    assert tomas.get("/arrivals/T900/rejection.pdf").content.startswith(b"%PDF")


def test_a_reader_sees_the_answer_and_no_button(quillback: PageMill):
    """Whoever is not signed in may see the answer, and is asked to sign in."""
    page = quillback.visitor().http.get("/arrival", params={"step": "5", **TYPED}).text
    assert "Take it in" not in page
    assert "Sign in</a> to record" in page


DDGS = {
    **{name: TYPED[name] for name in list(TYPED)[4:15]},
    "firm": "elevatorrow",
    "ingredient": "DDGS",
    "ticket": "T901",
    "lot": "L-901",
    "test:moisture": "10.1 10.3",
    "weighbridge": "WB1",
    "gross": "60000",
    "tare": "28000",
}


def test_a_load_that_only_waits_for_the_laboratory_is_unloaded_under_hold(quillback: PageMill):
    """A receiver may not decide it; the manager may, with a reason; then it lies on hold, is not
    settled, and is sent back or released. Its sample stays while it is on hold.
    """
    tomas, dell = quillback.visitor("tomas"), quillback.visitor("dell")
    page = tomas.http.get("/arrival", params={"step": "5", **DDGS}).text
    assert "It stays at the gate" in page
    assert "That is decided by manager or laboratory" in page
    typed = {**DDGS, "into": "B05", "act": "hold"}
    refused = tomas.post("/arrival/take", page="/sign-in", hold_why="fumonisin", **typed)
    assert "manager or laboratory" in refused.text
    silent = dell.post("/arrival/take", page="/sign-in", **typed)
    assert "Say what it waits for" in silent.text
    done = dell.post("/arrival/take", page="/sign-in", hold_why="fumonisin", **typed)
    assert done.status_code == 303, done.text
    assert "Unloaded, on hold" in dell.get("/arrivals").text
    kept = dell.get("/samples").text
    assert "its lot is on hold" in kept
    unsettled = dell.post("/arrivals/T901/settle", page="/sign-in")
    assert "is not settled before it is released" in unsettled.text
    much = dell.post("/arrivals/T901/back", page="/sign-in", mass="99999", back_why="mould")
    assert "More goes back than came" in much.text
    back = dell.post("/arrivals/T901/back", page="/sign-in", mass="32000", back_why="8 ppm")
    assert back.status_code == 303, back.text
    assert "Sent back" in dell.get("/arrivals/T901").text


def test_bad_figures_are_refused_on_every_form_of_a_load(quillback: PageMill):
    """Weights, counts and readings that cannot be, and an unknown ticket, are said in words."""
    tomas = quillback.visitor("tomas")
    wrong = {
        "gross": ("-5", "below"),
        "tare": ("x", "tare"),
        "seller_net": ("999999999", "seller"),
        "units": ("-3", "no whole number"),
        "test:moisture": ("15 1400", "from 0 to 100"),
    }
    for name, (value, _) in wrong.items():
        page = tomas.http.get("/arrival", params={"step": "5", **TYPED, name: value})
        assert page.status_code == 400, name
        assert "Traceback" not in page.text
    between = tomas.http.get("/arrival", params={"step": "5", **TYPED, "gross": "78005"})
    assert "whole divisions of 20 lb" in between.text
    assert tomas.http.get("/arrivals/NIX").status_code == 404
    assert tomas.post("/arrivals/NIX/settle", page="/sign-in").status_code == 404
    assert tomas.post("/samples/NIX/discard", page="/sign-in").status_code == 404
    tomas.post("/arrival/take", page="/sign-in", into="B01", **TYPED)
    for name, value in (("moisture", "140"), ("price", "-3"), ("dockage", "two")):
        answer = tomas.post(
            "/arrivals/T900/settle", page="/sign-in", why="a trial", **{name: value}
        )
        assert answer.status_code == 400, name


def test_the_rules_on_earlier_cargoes_are_a_page_with_their_sources(quillback: PageMill):
    """Each class with its source, the mill's own below."""
    page = quillback.visitor().http.get("/cargo-rules").text
    for words in ("treated seed", "21 CFR 589.2000", "common practice, no source", "mill policy"):
        assert words in page


def test_what_may_kill_is_said_on_the_page_and_papers_of_its_load(quillback: PageMill):
    """A load of a drug says on its page, ticket and label what the tables warn of."""
    drug = Arrival(
        ticket="T7", firm="quillbarn", ingredient="MON-A", lot="L-7", carrier="dustyroad",
        carrier_kind="tote", cargoes=("grain", "grain", "grain"), seals="intact", papers="right",
        odour="as usual", insects="none", foreign="none", weighbridge="WB2",
        gross_mg=45_359_237, tare_mg=22_679_619,
    )  # fmt: skip
    take_in(quillback.record, drug, into="FLOOR", by="tomas", at=quillback.clock())
    page = quillback.visitor("dell").get("/arrivals/T7").text
    row = find_arrival(quillback.record, "T7")
    sheets = [
        pypdfium2.PdfDocument(receiving_paper(quillback.record, row, paper))
        for paper in ("ticket", "label")
    ]
    for text in (page, *(sheet[0].get_textpage().get_text_range() for sheet in sheets)):
        assert "fatal to horses" in " ".join(text.split())
