"""A load at the gate on the pages: five forms that work with scripts off."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from bedstone.demo.quillback.packaged import packaged_mill
from bedstone.mill.folder import LoadedFolder
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
