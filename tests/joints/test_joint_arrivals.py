"""The demo's past loads against the gate, the settlements and the cards of the program itself."""

import datetime as dt

import pytest

from bedstone.desk.arrival import judge_arrival
from bedstone.desk.arrival_acts import arrivals
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.desk.settlements import paid_for, settlements
from bedstone.desk.supplier_cards import supplier_cards
from bedstone.desk.under_hold import sent_back
from bedstone.papers.receiving_papers import papers_of, receiving_paper

AT = dt.datetime(2026, 11, 26, 12, tzinfo=dt.UTC)


@pytest.fixture(scope="module")
def record(demo_made: object) -> Record:
    """The demo's record."""
    return demo_made.parts.open_record(demo_made.directory)  # type: ignore[attr-defined, no-any-return]


def test_the_gate_judges_each_past_load_as_the_receiver_of_the_demo_did(record: Record):
    """Taken, priced down, held and turned away, each as the checks have it today."""
    mill, rows = current_mill(record), arrivals(record)
    assert {row.outcome.name for row in rows} == {"TAKE", "PRICE_DOWN", "HOLD", "REJECT"}
    assert {row.arrival.cleaned for row in rows} == {"none", "swept", "washed"}
    for row in rows:
        assert judge_arrival(mill, row.arrival).outcome is row.outcome, row.arrival.ticket
        assert bool(row.into) is (row.outcome.name != "REJECT")


def test_past_settlements_are_what_the_program_reckons(record: Record):
    """The simulated office reckons apart; each mass to the milligram and each cent agree."""
    mill, found = current_mill(record), settlements(record)
    assert any(len(rows) > 1 for rows in found.values())
    for row in arrivals(record):
        for one in found.get(row.arrival.ticket, ()):
            net_mg = row.arrival.gross_mg - row.arrival.tare_mg
            paid, said = paid_for(mill, row.arrival, net_mg=net_mg, at=row.at), one.settled
            assert (said.paid_mg, said.money_cents) == (paid.paid_mg, paid.money_cents)
            assert said.dockage_mg == paid.dockage_mg
            assert said.moisture_mg == paid.moisture_mg


def test_nothing_was_drawn_of_a_lot_while_it_was_on_hold(record: Record):
    """Of the lots unloaded under hold nothing moved between hold and release; one went back."""
    held = [row for row in arrivals(record) if row.under_hold]
    assert set(sent_back(record)) < {row.arrival.lot for row in held}
    freed = {
        str(lot): item.fact.happened_at
        for item in record.facts(kinds=("quality.released/1",))
        for lot in item.fact.content["lots"]  # type: ignore[union-attr]
    }
    for row in held:
        for item in record.movements(lot=row.arrival.lot):
            if item.movement.from_place == row.into and row.arrival.lot in freed:
                assert item.happened_at > freed[row.arrival.lot]


def test_papers_of_past_loads_print(record: Record):
    """Each paper that a load of each outcome has becomes a PDF."""
    shown = {}
    for row in arrivals(record):
        shown[row.outcome] = row
    for row in shown.values():
        for paper in papers_of(record, row):
            assert receiving_paper(record, row, paper).startswith(b"%PDF")


def test_a_suppliers_card_shows_what_its_tickets_hide(record: Record):
    """Upper Ferris' tickets say 0.7 % more than the truth, Harrow Lane's 0.1 %: the cards of corn
    find both within three standard errors, and every refusal is on some card.
    """
    cards = supplier_cards(record, at=AT)
    hidden = {"upperferris": 0.7, "harrow": 0.1}
    for card in cards:
        assert card.short is not None or card.loads == card.refused == 0
        if card.ingredient == "CORN" and card.short is not None and card.short.sd is not None:
            error = card.short.sd / card.short.loads**0.5
            assert abs(card.short.mean - hidden[card.supplier]) < 3 * error + 0.02
            assert card.shrunk is not None
            assert card.shrunk.mean >= 0.5  # handling at least
            assert card.paid_usd_t is not None
    refused = sum(not row.into for row in arrivals(record))
    assert sum(card.refused for card in cards) == refused
