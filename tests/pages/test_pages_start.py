"""What the checks note when a batch starts is seen by whoever started it."""

import pytest

from bedstone.desk.made import started_batches
from bedstone.mill.plan import Finding, Verdict
from fakes.desk_day import PLAN
from fakes.page_server import PageMill

NOTED = Finding(
    code="clean-out.not-recorded",
    verdict=Verdict.ACT,
    about="MX1",
    text="The scraper of the mixer was last seen to in May.",
    do="look at it after this batch",
)


def test_findings_of_a_start_are_on_the_page_after_it(
    mill: PageMill, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Starting leads to the batch's page, which has the findings, now and whenever it is read."""
    monkeypatch.setattr("bedstone.desk.start_batch.findings_of_start", lambda *_: (NOTED,))
    visitor = mill.visitor("mara")
    batch = PLAN.batches[0].batch
    answer = visitor.post(f"/batches/{batch}/start", page=f"/batches/{batch}", plan=PLAN.plan)
    assert answer.status_code == 303
    for path in (answer.headers["location"], f"/batches/{batch}"):
        page = visitor.get(path).text
        assert NOTED.text in page
        assert NOTED.do in page
    assert started_batches(mill.record)[batch].findings == (NOTED,)
