"""What measurements and complaints are refused for, in words."""

import datetime as dt
import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from bedstone.desk.assays import record_assay
from bedstone.desk.complaints import record_complaint
from bedstone.desk.levels import record_level
from bedstone.desk.mixer_tests import record_mixer_test
from bedstone.desk.proofs import ProofPoint, record_power_event, record_proof
from bedstone.desk.readings import record_readings
from bedstone.desk.tables import load_tables
from bedstone.errors import BadInput, BedstoneError, Refused, Unknown
from bedstone.mill.model import Assay, Composition
from bedstone.mill.readings import QUANTITIES, ReadingRow
from fakes.desk_day import MORNING, a_folder, an_order, later
from fakes.memory import MemoryRecord

ASSAY = Assay(
    assay="A-1", nutrient="moisture", of="CORN-GR", lot="L-CORN-GR", value=11.0, unit="%",
    sampled_at=MORNING,
)  # fmt: skip
GOOD: dict[str, tuple[Callable[..., Any], dict[str, Any]]] = {
    "assay": (lambda record, **said: record_assay(record, replace(ASSAY, **{
        key: value for key, value in said.items() if key not in ("by", "at")
    }), by=said["by"], at=said["at"]), {}),
    "readings": (record_readings, {
        "instrument": "PL1", "quantity": "motor current",
        "rows": [ReadingRow(at=MORNING, value=90.0)],
    }),
    "proof": (record_proof, {
        "instrument": "LM1", "kind": "catch test",
        "points": [ProofPoint(reference_mg=10_000_000, seen_mg=10_000_000)],
    }),
    "power": (record_power_event, {"from_at": MORNING, "to_at": later(1)}),
    "level": (record_level, {
        "place": "T1", "method": "gauge", "value": 0.5, "unit": "frac", "sd": 0.01,
    }),
    "complaint": (record_complaint, {
        "complaint": "C-1", "customer": "harrow", "product": "SHEEP-GR", "what": "dusty",
    }),
    "mixer test": (record_mixer_test, {
        "mixer": "MX1", "product": "SHEEP-GR", "tracer": "salt", "method": "titrated",
        "values": [0.50, 0.52, 0.49], "unit": "%", "mixing_s": 180.0,
    }),
}  # fmt: skip
BAD: list[tuple[str, dict[str, Any], type[BedstoneError], str]] = [
    ("assay", {"lot": "L-CORN-GX"}, Unknown, "did you mean L-CORN-GR"),
    ("assay", {"lot": ""}, BadInput, "both or neither"),
    ("assay", {"lot": "L-SBM"}, BadInput, "SBM, which lot L-SBM is"),
    ("assay", {"nutrient": "moistur"}, BadInput, "did you mean moisture"),
    ("assay", {"value": 140.0}, BadInput, "from 0 to 100 %"),
    ("assay", {"value": math.nan}, BadInput, "from 0 to 100 %"),
    ("assay", {"nutrient": "crude protein", "unit": "mg/kg"}, BadInput, "%, as in composition"),
    ("assay", {"sampled_at": later(600)}, BadInput, "a time to come"),
    ("assay", {"assay": ""}, BadInput, "a code of at most 40"),
    ("assay", {"sd": -1.0}, BadInput, "0 or more, or nothing"),
    ("assay", {"lot": "", "place": "T9"}, Unknown, "no bin 'T9'"),
    ("readings", {"instrument": "PL9"}, BadInput, "a machine, bin, scale or meter"),
    ("readings", {"quantity": "motor curent"}, BadInput, "did you mean motor current"),
    ("readings", {"rows": []}, BadInput, "1 to 10000"),
    ("readings", {"rows": [ReadingRow(at=MORNING, value=9e9)]}, BadInput, "0 A to 2,000 A"),
    ("readings", {"rows": [ReadingRow(at=MORNING, value=math.inf)]}, BadInput, "0 A to 2,000 A"),
    ("readings", {"rows": [ReadingRow(at=later(600), value=9.0)]}, BadInput, "up to now"),
    ("readings", {"how": "guessed"}, BadInput, "typed or imported"),
    ("proof", {"instrument": "LM9"}, Unknown, "no scale or meter"),
    ("proof", {"kind": "test weights"}, BadInput, "catch test"),
    ("proof", {"points": []}, BadInput, "at least one known mass"),
    ("proof", {"points": [ProofPoint(reference_mg=0, seen_mg=1)]}, BadInput, "above nothing"),
    ("proof", {"factor_after": 1.01}, BadInput, "nothing was adjusted"),
    ("proof", {"factor_after": 101.0, "adjusted": True}, BadInput, "0.5 to 2"),
    ("power", {"from_at": later(2)}, BadInput, "came back before it went"),
    ("power", {"to_at": later(600)}, BadInput, "cannot lie ahead"),
    ("power", {"how": "felt"}, BadInput, "typed, imported"),
    ("level", {"place": "T9"}, Unknown, "no bin 'T9'"),
    ("level", {"method": "guess"}, BadInput, "tape, gauge, weighed"),
    ("level", {"method": "tape"}, BadInput, "not read in this unit"),
    ("level", {"value": 42.0}, BadInput, "from 0 to 1 frac"),
    ("level", {"sd": math.nan}, BadInput, "nothing or more"),
    ("complaint", {"customer": "fenwold"}, BadInput, "a firm that is a customer"),
    ("complaint", {"what": "sad"}, BadInput, "mouldy, dusty"),
    ("complaint", {"product": ""}, BadInput, "Name the product"),
    ("complaint", {"product": "SHEEP-GX"}, Unknown, "SHEEP-GR"),
    ("complaint", {"order": "9999"}, Unknown, "no order '9999'"),
    ("complaint", {"order": an_order().order, "product": "BROIL-M"}, BadInput, "do not agree"),
    ("complaint", {"lot": "L-CORN-GR"}, BadInput, "bought, not sold"),
    ("complaint", {"bag": 7}, BadInput, "within a lot"),
    ("complaint", {"complaint": "C 1"}, BadInput, "needs a number"),
    ("mixer test", {"mixer": "PL1"}, BadInput, "wrong machine"),
    ("mixer test", {"product": "NONE"}, Unknown, "no product"),
    ("mixer test", {"values": [1.0, 2.0]}, BadInput, "3 to 200"),
    ("mixer test", {"values": [1.0, -2.0, 3.0]}, BadInput, "0 or more"),
    ("mixer test", {"values": [1.0, 2.5, 3.0], "unit": "count"}, BadInput, "counts are whole"),
    ("mixer test", {"tracer": " "}, BadInput, "the tracer"),
    ("mixer test", {"mixing_s": 0.0}, BadInput, "above 0"),
]  # fmt: skip


def loaded() -> MemoryRecord:
    """The hand-written mill with stock, an order, and protein of ground corn in its tables."""
    record = MemoryRecord()
    folder = a_folder()
    protein = Composition(
        ingredient="CORN-GR", nutrient="crude protein", mean=8.0, unit="%", source="example"
    )
    mill = replace(folder.mill, composition=(*folder.mill.composition, protein))
    load_tables(record, replace(folder, mill=mill), by="osk", at=MORNING)
    return record


def do(record: MemoryRecord, name: str, *, by: str = "osk", **said: Any) -> None:
    """The act of a name with its good arguments, some of them changed."""
    act, good = GOOD[name]
    act(record, **{**good, **said}, by=by, at=later(5))


@pytest.mark.parametrize(("name", "said", "error", "words"), BAD)
def test_bad_input_is_refused_with_words(
    name: str, said: dict[str, Any], error: type[BedstoneError], words: str
) -> None:
    """What cannot be is refused, the words say what may be, and nothing is written."""
    record = loaded()
    before = record.head()
    with pytest.raises(error) as refused:
        do(record, name, **said)
    assert words in str(refused.value)
    assert record.head() == before


@pytest.mark.parametrize("name", GOOD)
def test_only_who_may_records(name: str) -> None:
    """Somebody without the role is refused; a person whom nobody knows as well."""
    record = loaded()
    before = record.head()
    with pytest.raises(Unknown):
        do(record, name, by="zorro")
    if name in ("assay", "complaint"):
        with pytest.raises(Refused, match="may not"):
            do(record, name, by="mara")
    assert record.head() == before


@pytest.mark.parametrize("name", ["assay", "readings", "power", "complaint"])
def test_the_same_again_is_refused(name: str) -> None:
    """Said twice in the same words, the second time is refused."""
    record = loaded()
    do(record, name)
    before = record.head()
    with pytest.raises(Refused):
        do(record, name)
    assert record.head() == before


def test_an_assay_of_an_unknown_lot_stops_a_load() -> None:
    """A folder whose assays name a lot that nobody recorded is refused whole, with the report."""
    record = loaded()
    folder = replace(a_folder(), assays=(replace(ASSAY, lot="L-NEVER"),))
    before = record.head()
    with pytest.raises(BadInput) as refused:
        load_tables(record, folder, by="osk", at=later(5))
    assert "A-1 moisture" in str(refused.value)
    assert record.head() == before


def test_every_quantity_has_a_unit_and_a_range() -> None:
    """Each quantity that is read has a unit and a range that holds something."""
    for quantity in QUANTITIES.values():
        assert quantity.unit
        assert quantity.low < quantity.high
        assert quantity.meaning
    assert dt.timedelta(0) < later(1) - MORNING
