"""A level typed on a bin's page becomes mass held against the books."""

from fakes.page_server import PageMill


def test_a_tape_is_recorded_and_held_against_the_books(mill: PageMill) -> None:
    """A gauge reading recorded by the page stands on the bin's page and on the list of levels."""
    osk = mill.visitor("osk")
    osk.post("/bins/B1/level", page="/bins/B1", method="gauge", value="50", off="", bag="", of="")
    assert "gauge 50 % full" in osk.get("/bins/B1").text
    assert "gauge 50 % full" in osk.get("/levels").text


def test_levels_that_cannot_be_are_refused_in_words(mill: PageMill) -> None:
    """No number, more than full, bags without a weight: nothing is recorded."""
    osk = mill.visitor("osk")
    before = mill.record.head().position
    for method, value, said in (
        ("tape", "deep", "cannot be understood"),
        ("gauge", "130", "cannot be"),
        ("bags", "40", "mass"),
        ("plumb", "3", "no such method"),
    ):
        answer = osk.post(
            "/bins/B1/level", page="/bins/B1", method=method, value=value, off="", bag="", of=""
        )
        assert answer.status_code == 400, (method, answer.status_code)
        assert said in answer.text.lower() or said in answer.text, method
    assert mill.record.head().position == before
