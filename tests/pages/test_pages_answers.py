"""The answer to a form lies at an address of its own, so that Back leads to the form."""

from fakes.page_server import PageMill, Visitor

PAGE = {"Accept": "text/html,application/xhtml+xml"}
WRONG = {
    "order": "9" * 300, "customer": "harrow", "product": "SHEEP-GR", "mass": "500 kg",
    "pack": "bulk", "due": "2026-11-26T10:00", "note": "n" * 1999,
}  # fmt: skip


def sent(visitor: Visitor, path: str, page: str, **fields: str):
    """A form sent as a browser sends it."""
    headers = {"Origin": str(visitor.http.base_url).rstrip("/"), **PAGE}
    return visitor.http.post(path, data=visitor.fields(page) | fields, headers=headers)


def test_a_refused_form_leads_to_its_answer(mill: PageMill) -> None:
    """A refused form is answered by a redirect to a page that keeps status and what was typed."""
    visitor = mill.visitor("osk")
    answer = sent(visitor, "/orders", "/orders/new", **WRONG)
    assert answer.status_code == 303
    address = answer.headers["location"]
    for _ in range(2):  # and again on Reload
        page = visitor.get(address)
        assert page.status_code == 400
        assert "at most 40" in page.text
        assert "9" * 300 in page.text
        assert "frame-ancestors" in page.headers["content-security-policy"]


def test_an_answer_is_for_the_browser_that_sent_the_form(mill: PageMill) -> None:
    """Another browser, or a word that was never given, finds nothing."""
    answer = sent(mill.visitor("osk"), "/orders", "/orders/new", **WRONG)
    other = mill.visitor("mara")
    assert other.get(answer.headers["location"]).status_code == 404
    assert other.get("/answered/nothing").status_code == 404


def test_a_text_beyond_all_measure_is_refused_with_its_limit(mill: PageMill) -> None:
    """A note of 20,000 characters is refused, says the limit, and writes nothing."""
    before = mill.record.head().position
    answer = mill.visitor("osk").post(
        "/orders", page="/orders/new", **(WRONG | {"order": "5001", "note": "n" * 20_000})
    )
    assert answer.status_code == 400
    assert "at most 2,000 characters" in answer.text
    assert mill.record.head().position == before
