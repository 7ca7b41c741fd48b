"""Pages on which proofs, power events, tank levels and mixer tests are typed in."""

import datetime as dt
import html
import io
from dataclasses import replace

import pytest
from pypdf import PdfReader

from bedstone.desk.levels import levels
from bedstone.desk.mixer_tests import mixer_tests
from bedstone.desk.proof_standing import proof_standings, proofs_due, unproved_meters
from bedstone.desk.proofs import ProofPoint, power_events, proofs, record_power_event, record_proof
from bedstone.desk.revisions import current_mill
from bedstone.mill.instrument_tables import ProofInterval
from fakes.desk_day import a_day, later
from fakes.page_server import PageMill

MG = 1_000_000
PAIRS = {"known-1": "44.2", "seen-1": "41.2", "known-2": "43.9", "seen-2": "41.0"}


def meter_of(mill: PageMill) -> str:
    """A meter of the mill of the pages."""
    return current_mill(mill.record).meters[0].meter


def test_a_catch_test_is_judged_then_recorded_and_printed(mill: PageMill):
    """Nothing is written at the first press; the second writes what was shown; the certificate has it."""
    code, visitor = meter_of(mill), mill.visitor("mara")
    path, head = f"/proofs/{code}", mill.record.head()
    seen = visitor.post(path, page=path, **PAIRS, adjusted="yes", look="yes")
    assert "Out of tolerance" in seen.text
    assert "1.0718" in seen.text  # (44.2 / 41.2 + 43.9 / 41.0) / 2 by hand
    assert mill.record.head() == head
    understood = seen.text.split('name="understood" value="')[1].split('"')[0]
    answer = visitor.post(
        path, page=path, **PAIRS, adjusted="yes", understood=html.unescape(understood)
    )
    assert answer.status_code == 303
    (made,) = proofs(mill.record, code)
    assert made.adjusted
    assert made.factor_after == pytest.approx(1.07177, abs=1e-5)
    paper = visitor.get(f"/instruments/{code}/proofs/{made.position}.pdf")
    assert code in PdfReader(io.BytesIO(paper.content)).pages[0].extract_text()


def test_a_proof_that_cannot_be_is_refused_in_words(mill: PageMill):
    """One catch, half a row, a word instead of a mass, catches that differ: told, nothing written."""
    code, visitor, head = meter_of(mill), mill.visitor("mara"), mill.record.head()
    path = f"/proofs/{code}"
    for fields, words in (
        ({"known-1": "44.2", "seen-1": "41.2"}, "One catch does not show"),
        ({"known-1": "44.2"}, "half typed"),
        ({"known-1": "much", "seen-1": "41"}, "cannot be understood"),
        ({}, "needs known masses"),
    ):
        answer = visitor.post(path, page=path, **fields)
        assert answer.status_code == 400
        assert words in answer.text
    assert mill.visitor().get("/proofs/NOSUCH").status_code == 404
    assert mill.record.head() == head


def test_a_power_event_is_typed_and_every_meter_is_due(mill: PageMill):
    """After the form each meter of the mill counts as unproved; a later beginning is told."""
    visitor = mill.visitor("mara")
    now = mill.clock().astimezone(current_mill(mill.record).settings.zone)
    earlier = (now - dt.timedelta(hours=2)).strftime("%Y-%m-%dT%H:%M")
    end = (now - dt.timedelta(hours=1)).strftime("%Y-%m-%dT%H:%M")
    wrong = visitor.post("/power", page="/proofs", **{"from": end, "to": earlier})
    assert "came back before it went" in wrong.text
    answer = visitor.post("/power", page="/proofs", **{"from": earlier, "to": end}, note="storm")
    assert answer.status_code == 303
    assert power_events(mill.record)[-1].note == "storm"
    assert set(unproved_meters(mill.record)) == set(current_mill(mill.record).meter_by_code)
    assert "the power failed and it has not been proved since" in visitor.get("/proofs").text


def test_a_mixer_test_is_typed_and_what_cannot_be_is_told(mill: PageMill):
    """Ten counts are kept in their order at their time; a word among them is named."""
    visitor, path = mill.visitor("mara"), "/mixers/MX1/test"
    fields = {
        "product": "SHEEP-GR", "tracer": "iron", "method": "cups", "unit": "count",
        "mixing": "180", "when": "2026-11-01T09:00", "batch": "",
    }  # fmt: skip
    wrong = visitor.post(path, page=path, **fields, values="190 many 200")
    assert wrong.status_code == 400
    assert "sample 2" in wrong.text
    assert 'value="iron"' in wrong.text
    answer = visitor.post(path, page=path, **fields, values="190 205 198\n212 187 201")
    assert answer.status_code == 303
    made = mixer_tests(mill.record, "MX1")[-1]
    assert made.values == (190.0, 205.0, 198.0, 212.0, 187.0, 201.0)
    assert made.tested_at.date() == dt.date(2026, 11, 1)
    assert visitor.get(answer.headers["location"]).status_code == 200


def test_a_tank_without_measures_is_said_and_no_level_kept(mill: PageMill):
    """A dip in a tank of which no table says the size, or in what is no tank, is refused in words."""
    visitor = mill.visitor("mara")
    tanks = [row.bin for row in current_mill(mill.record).bins if row.kind == "tank"]
    for tank, words in ((tanks[0], "has no measures"), ("B1", "no tank of the mill")):
        answer = visitor.post("/tanks", page="/tanks", tank=tank, way="dip", length="1.2 m")
        assert answer.status_code == 400
        assert words in answer.text
    wrong = visitor.post("/tanks", page="/tanks", tank=tanks[0], way="dip", length="deep")
    assert "cannot be understood" in wrong.text
    assert not levels(mill.record)


def test_a_proof_is_due_by_days_by_volume_and_after_power_and_says_so():
    """One reason at a time; proved again it is due no more."""
    record = a_day()
    meter = current_mill(record).meters[0].meter
    points = [ProofPoint(reference_mg=20 * MG, seen_mg=20 * MG)] * 2

    def prove(at: dt.datetime) -> None:
        record_proof(record, instrument=meter, kind="catch test", points=points, by="mara", at=at)

    def why(at: dt.datetime) -> str:
        return next(row.why for row in proofs_due(record, at=at) if row.instrument == meter)

    prove(later(2))
    assert not why(later(3))
    assert "more than 90 days old" in why(later(3) + dt.timedelta(days=91))
    record_power_event(record, from_at=later(4), to_at=later(5), by="mara", at=later(6))
    assert "power failed" in why(later(7))
    prove(later(8))
    assert not why(later(9))
    mill = replace(
        current_mill(record),
        proof_intervals=(ProofInterval(instrument=meter, days=30, volume_m3=1.0),),
    )
    drawn = {meter: [(later(9), 1_600.0)]}
    standing = proof_standings(record, mill, drawn, later(10))[meter]
    assert "went through it since its proof" in standing.why
