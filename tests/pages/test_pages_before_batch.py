"""A further flush or a clean-out recorded on the page of a batch whose start was refused."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from bedstone.desk.made import clean_outs, made_batches
from fakes.desk_day import PLAN
from fakes.page_server import PageMill, page_mill

PATH = "/batches/4106-01"


@pytest.fixture
def refused(tmp_path: Path) -> Iterator[PageMill]:
    """The mill of the pages, of whose machines nothing is known."""
    with page_mill(tmp_path) as served:
        yield served


def test_the_page_offers_a_flush_and_a_clean_out(refused: PageMill):
    """A planned batch has both forms, with the places of its own way and the bin to draw from."""
    text = refused.visitor("mara").get(PATH).text
    assert 'name="flush-mass"' in text
    assert '<option value="G3"' in text
    assert 'name="clean-MX1"' in text
    assert 'name="flush-mass"' not in refused.visitor("ines").get(PATH).text


def test_a_flush_is_recorded_on_the_page(refused: PageMill):
    """The typed mass of flush material becomes a flush of its own before the batch."""
    visitor = refused.visitor("mara")
    fields = {"plan": PLAN.plan, "flush-mass": "150 kg", "flush-from": "G3"}
    answer = visitor.post(f"{PATH}/flush", page=PATH, **fields)
    assert answer.status_code == 303
    assert made_batches(refused.record)["4106-01-flush-2"].mass_mg == 150_000_000
    assert "The flush is in the record" in visitor.get(answer.headers["location"]).text


def test_a_wrong_flush_keeps_what_was_typed(refused: PageMill):
    """Nothing is written for a mass that cannot be, and it is still in the field."""
    visitor = refused.visitor("mara")
    head = refused.record.head()
    fields = {"plan": PLAN.plan, "flush-mass": "99999 kg", "flush-from": "G3"}
    answer = visitor.post(f"{PATH}/flush", page=PATH, **fields)
    assert answer.status_code == 400
    assert 'value="99999 kg"' in answer.text
    assert refused.record.head() == head


def test_a_clean_out_is_recorded_on_the_page(refused: PageMill):
    """The places that were ticked are in the record as cleaned, for no batch of the plan."""
    visitor = refused.visitor("mara")
    fields = {"plan": PLAN.plan, "clean-why": "dust"}
    answer = visitor.post(f"{PATH}/clean", page=PATH, **fields)
    assert answer.status_code == 400
    assert 'value="dust"' in answer.text
    answer = visitor.post(f"{PATH}/clean", page=PATH, **fields, **{"clean-MX1": "yes"})
    assert answer.status_code == 303
    last = clean_outs(refused.record)[-1]
    assert (last.places, last.before_batch, last.reason) == (("MX1",), "", "dust")
