"""Papers of instruments say what was proved, by which tolerance, and how each stands."""

import datetime as dt
from io import BytesIO

import pytest
from pypdf import PdfReader

from bedstone.desk.proofs import ProofPoint, record_proof
from bedstone.desk.revisions import current_mill
from bedstone.errors import Unknown
from bedstone.papers.instrument_papers import instrument_report, proof_certificate
from fakes.loads import NOON, a_quillback


def _text(content: bytes) -> str:
    pages = PdfReader(BytesIO(content)).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


def test_a_certificate_judges_each_known_mass() -> None:
    """SC1 at 500 lb, 2 lb divisions, is allowed one division (Handbook 44, Table 6): one point two
    divisions off is beyond it, one on the mark within; equal bytes each time.
    """
    record = a_quillback()
    points = (
        ProofPoint(reference_mg=226_796_185, seen_mg=228_610_554),
        ProofPoint(reference_mg=226_796_185, seen_mg=226_796_185),
    )
    done = record_proof(
        record, instrument="SC1", kind="test weights", points=points, by="mara", at=NOON
    )
    paper = proof_certificate(record, "SC1", done.position)
    text = _text(paper)
    for word in ("Proof of SC1", "test weights", "Table 6", "beyond", "within", "NOT within"):
        assert word in text
    assert paper == proof_certificate(record, "SC1", done.position)
    with pytest.raises(Unknown):
        proof_certificate(record, "SC1", 10_000)


def test_a_certificate_of_a_meter_says_repeats_factors_and_when_next() -> None:
    """Catches of 20 kg that show 20.0, 20.2 and 20.1: factors 0.9901 to 1 are 1.00 % apart over
    their mean of 0.9950; the next proof by the table of intervals, counted from this one.
    """
    record = a_quillback()
    points = tuple(
        ProofPoint(reference_mg=20_000_000, seen_mg=mass)
        for mass in (20_000_000, 20_200_000, 20_100_000)
    )
    done = record_proof(
        record,
        instrument="LM2",
        kind="catch test",
        points=points,
        adjusted=True,
        factor_before=1.0,
        factor_after=0.995,
        by="mara",
        at=NOON,
    )
    text = _text(proof_certificate(record, "LM2", done.position))
    assert "1.00 %, widest less narrowest of 3 catches" in text
    assert "1, 0.995" in text
    assert "Factor found 0.9950" in text
    row = next(row for row in current_mill(record).proof_intervals if row.instrument == "LM2")
    due = NOON + dt.timedelta(days=row.days)
    assert f"{due.day} {due:%b %Y}, or after" in text


def test_the_report_names_every_instrument_and_what_is_due() -> None:
    """All ten scales and meters of the demo, the proof of the month counted, the rest never proved."""
    record = a_quillback()
    point = ProofPoint(reference_mg=20_000_000, seen_mg=20_000_000)
    record_proof(record, instrument="LM1", kind="catch test", points=(point,), by="mara", at=NOON)
    text = _text(instrument_report(record, NOON.date(), at=NOON + dt.timedelta(hours=1)))
    for code in ("SC1", "SC2", "HS1", "SC4", "SC5", "HS2", "LM1", "LM2", "LM3", "LM4"):
        assert code in text
    assert "never" in text
    assert "Proofs in the month 1" in text
