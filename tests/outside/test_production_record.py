"""What the record of the demo mill holds against what the law asks of medicated feed.

The duties, with their sections, stand in values/production_record.csv.
"""

import csv
from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from bedstone.desk.record import Record
from bedstone.desk.tables import current_mill
from bedstone.desk.trace import trace
from bedstone.ledger.model import Recorded
from bedstone.mill.model import Mill

BATCHES = ("batching.batch_made/1",)
DUTIES = Path(__file__).parent / "values" / "production_record.csv"


@pytest.fixture(scope="module")
def record(demo_made: Any) -> Record:
    """The record of the demo mill."""
    return demo_made.parts.open_record(demo_made.directory)


@pytest.fixture(scope="module")
def mill(record: Record) -> Mill:
    """The demo mill."""
    return current_mill(record)


def drugs_of(mill: Mill) -> set[str]:
    """The medicated articles."""
    return {row.ingredient for row in mill.ingredients if row.ingredient_class == "drug"}


def medicated(record: Record, mill: Mill) -> list[Recorded]:
    """The batches that a drug went into."""
    drugs = drugs_of(mill)
    return [
        row
        for row in record.facts(kinds=BATCHES)
        if any(draw["ingredient"] in drugs for draw in row.fact.content["draws"])
    ]


def test_the_duties_name_their_sections():
    """Each duty checked here stands in the table with its section."""
    lines = [line for line in DUTIES.read_text().splitlines() if not line.startswith("#")]
    sections = {row["source"] for row in csv.DictReader(lines)}
    assert sections == {
        "21 CFR 225.102(a)",
        "21 CFR 225.102(b)(1)",
        "21 CFR 225.202",
        "21 CFR 225.65(b)(2)",
    }


def test_each_medicated_batch_has_its_full_history(record: Record, mill: Mill):
    """21 CFR 225.102(a): drug used with its lot, every other draw, feed made, when and by whom."""
    drugs = drugs_of(mill)
    batches = medicated(record, mill)
    assert len(batches) > 20
    for row in batches:
        content, fact = row.fact.content, row.fact
        used = [draw for draw in content["draws"] if draw["ingredient"] in drugs]
        assert all(draw["actual_mg"] > 0 and draw["lot"] for draw in used)
        asked = mill.lines_of(content["material"], content["formula_version"])
        assert {line.ingredient for line in asked} == {
            draw["ingredient"] for draw in content["draws"]
        }
        weighed_mg = sum(draw["actual_mg"] for draw in content["draws"])
        made_mg = sum(
            move.mass_mg for move in fact.movements if move.from_place == content["mixer"]
        )
        assert made_mg == weighed_mg
        assert fact.by in mill.person_by_code
        assert fact.happened_at.tzinfo is not None
        assert content["dry_mix_s"] > 0


def test_each_medicated_formula_is_a_master_record(record: Record, mill: Mill):
    """21 CFR 225.102(b)(1): each ingredient with its part of the whole, approved, by whom, when."""
    made = {(row.fact.content["material"], row.fact.content["formula_version"]) for row in
            medicated(record, mill)}  # fmt: skip
    for product, version in made:
        lines = mill.lines_of(product, version)
        assert sum(line.parts_frac for line in lines) == pytest.approx(1.0, abs=1e-6)
        formula = next(
            row for row in mill.formulas if (row.product, row.version) == (product, version)
        )
        assert mill.person_by_code[formula.approved_by].role in {"nutritionist", "manager"}
        assert formula.approved_on is not None


def test_a_batch_can_be_recalled_from_its_record(record: Record, mill: Mill):
    """21 CFR 225.202: from a medicated batch to whom it was shipped, when, and how much."""
    runs = {row.fact.content["run"] for row in record.facts(kinds=("finishing.shipped/1",))}
    shipped = [row for row in medicated(record, mill) if row.fact.content["run"] in runs]
    assert shipped
    for row in shipped[:: max(1, len(shipped) // 6)]:
        found = trace(record, row.fact.content["batch"])
        customers = [link for link in found.forward if link.kind == "customer"]
        assert customers
        for link in customers:
            assert link.firm in mill.firm_by_code
            assert link.happened_at >= row.fact.happened_at


def test_the_drug_inventory_can_be_checked_each_day(record: Record, mill: Mill):
    """21 CFR 225.102(a): stock of each drug is what came in less what the batches used."""
    drugs = drugs_of(mill)
    expected: Counter[str] = Counter()
    for row in record.movements():
        move = row.movement
        if move.material in drugs:
            if move.from_place.split("/")[0] in {"supplier", "opening", "unaccounted"}:
                expected[move.material] += move.mass_mg
            if move.to_place == "unaccounted":
                expected[move.material] -= move.mass_mg
    for row in medicated(record, mill):
        for draw in row.fact.content["draws"]:
            if draw["ingredient"] in drugs:
                expected[draw["ingredient"]] -= draw["actual_mg"]
    stock = {line.material: line.mass_mg for line in record.stock() if line.place == "FLOOR"}
    assert drugs == {"MON-A", "SAL-A"}
    assert {drug: stock[drug] for drug in drugs} == {drug: expected[drug] for drug in drugs}


def test_flush_material_is_identified_and_kept_apart(record: Record, mill: Mill):
    """21 CFR 225.65(b)(2): a flush has a lot of its own and goes nowhere but to the flush bin."""
    flushes = [row for row in record.facts(kinds=BATCHES) if row.fact.content["kind"] == "flush"]
    assert len(flushes) > 20
    kept = {row.bin for row in mill.bins if row.kind == "flush"}
    for row in flushes:
        lot = row.fact.content["batch"]
        assert row.fact.content["destination"] in kept
        assert record.lot(lot)[0].material == mill.settings.flush_material
    drawn_from = {
        draw["from_place"]
        for row in record.facts(kinds=BATCHES)
        for draw in row.fact.content["draws"]
    }
    assert not drawn_from & kept
