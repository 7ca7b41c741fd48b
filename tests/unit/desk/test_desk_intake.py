"""What an intake carried last, in kilograms, in the first sackful, and in the feeds made of it."""

import math
from dataclasses import replace

import pytest

from bedstone.demo.quillback.packaged import packaged_mill
from bedstone.desk.arrival_acts import take_in
from bedstone.desk.bin_choice import rank_bins
from bedstone.desk.clean_out import record_clean_out
from bedstone.desk.intake import carried_in, first_frac
from bedstone.mill.goods import Content
from fakes.loads import CORN_LOAD, NOON, a_quillback, pounds

MILL = packaged_mill()
BARLEY = MILL.bin_by_code["B02"]


def _words(record: object, ingredient: str, place: str) -> str:
    ranked = rank_bins(record, ingredient=ingredient, mass_mg=pounds(40_000), at=NOON)  # type: ignore[arg-type]
    return " ".join(next(one for one in ranked if one.bin == place).why)


def test_the_first_sackful_holds_what_a_stirred_vessel_gives():
    """Mean of exp(-m/h) over the portion: h/p (1 - exp(-p/h)), by hand."""
    h, p = 13.6, 22.7
    assert first_frac(h, 20_000.0, p) == pytest.approx(h / p * (1 - math.exp(-p / h)), rel=1e-9)


def test_the_load_after_another_ingredient_is_told_how_much_of_it_may_come():
    """30 lb of corn in a truck of barley; cleaned out, or after barley, nothing is said."""
    record = a_quillback()
    assert "carried" not in _words(record, "BARLEY", "B02")
    take_in(record, CORN_LOAD, into="B01", by="tomas", at=NOON)
    said = _words(record, "BARLEY", "B02")
    assert "PIT1 carried Corn, whole last: up to 30 lb" in said
    assert "carried" not in _words(record, "CORN", "B01")
    assert "carried" not in _words(record, "SBM48", "B04")
    record_clean_out(record, places=("PIT1",), reason="swept", by="mara", at=NOON)
    assert "carried" not in _words(record, "BARLEY", "B02")


def test_a_feed_is_told_what_its_first_batch_may_get():
    """Copper of what came last against the level of sheep's feed; what sheep must never get asks for
    a clean-out instead.
    """
    last = {"PIT1": "OATS"}
    said = " ".join(carried_in(MILL, BARLEY, "BARLEY", mass_mg=pounds(40_000), last=last))
    assert "mg/kg Copper (level 15)" in said
    bad = Content(ingredient="OATS", substance="monensin", content_mg_kg=5.0, source="a trial")
    worse = replace(MILL, contents=(*MILL.contents, bad))
    first, *_ = carried_in(worse, BARLEY, "BARLEY", mass_mg=pounds(40_000), last=last)
    assert "clean it out before this load" in first
