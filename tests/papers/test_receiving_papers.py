"""Papers of a load say what was weighed, found and paid."""

from dataclasses import replace
from io import BytesIO

import pytest
from pypdf import PdfReader

from bedstone.desk.arrival_acts import find_arrival, take_in, turn_away
from bedstone.desk.settlements import settle_load
from bedstone.errors import Unknown
from bedstone.papers.receiving_papers import receiving_paper
from fakes.loads import CORN_LOAD, NOON, a_quillback


def _text(content: bytes) -> str:
    return " ".join(page.extract_text() for page in PdfReader(BytesIO(content)).pages)


def test_ticket_settlement_and_label_name_the_lot_and_its_numbers():
    """Net, lot, bin on the ticket; money on the settlement; shelf and last day on the label."""
    record = a_quillback()
    take_in(record, CORN_LOAD, into="B01", by="tomas", at=NOON)
    row = find_arrival(record, "T900")
    ticket = _text(receiving_paper(record, row, "ticket"))
    for word in ("L-900", "48,000 lb", "corn bin", "Harrow Lane Grain", "T900", "Tomas Reed"):
        assert word in ticket
    assert "local codes" in " ".join(ticket.split())
    with pytest.raises(Unknown):
        receiving_paper(record, row, "settlement")
    settle_load(record, "T900", by="dell", at=NOON)
    paper = _text(receiving_paper(record, row, "settlement"))
    for word in ("$3,773.04", "1.1834", "48,000 lb", "K-2207", "revision 1"):
        assert word in paper
    label = _text(receiving_paper(record, row, "label"))
    assert "shelf 3" in label
    assert "2027-05-24" in label  # 180 days after 2026-11-25
    with pytest.raises(Unknown):
        receiving_paper(record, row, "rejection")


def test_the_rejection_letter_says_why():
    """Reason and that nothing was unloaded; equal bytes each time."""
    record = a_quillback()
    turn_away(record, replace(CORN_LOAD, insects="live"), why="", by="tomas", at=NOON)
    row = find_arrival(record, "T900")
    letter = receiving_paper(record, row, "rejection")
    assert "live insects" in " ".join(_text(letter).split())
    assert letter == receiving_paper(record, row, "rejection")
