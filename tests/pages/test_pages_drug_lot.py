"""The lot of a drug is asked for before a batch is recorded."""

from bedstone.desk.made import made_batches
from fakes.desk_day import PLAN
from fakes.page_server import PageMill

MEDICATED = next(batch for batch in PLAN.batches if batch.batch == "4105-01")
PATH = "/batches/4105-01"


def weighed(lot: str) -> dict[str, str]:
    """Every draw on its target, seen as understood, the drug with this lot."""
    fields = {"plan": PLAN.plan}
    for draw in MEDICATED.draws:
        fields[f"actual-{draw.sequence}"] = f"{draw.target_mg / 1e6:.6f} kg"
        fields[f"understood-{draw.sequence}"] = str(draw.target_mg)
        if draw.ingredient == "MONEN":
            fields[f"lot-{draw.sequence}"] = lot
    return fields


def test_a_drug_without_its_lot_is_asked_for(mill: PageMill):
    """Without the lot nothing is written, what was typed stays, and with it the batch is recorded."""
    visitor = mill.visitor("mara")
    before = mill.record.head()
    answer = visitor.post(f"{PATH}/record", page=PATH, **weighed(""))
    assert answer.status_code == 400
    assert "the lot of a drug" in answer.text
    assert f'value="{MEDICATED.draws[0].target_mg / 1e6:.6f} kg"' in answer.text
    assert mill.record.head() == before
    assert visitor.post(f"{PATH}/record", page=PATH, **weighed("L-MONEN")).status_code == 303
    drug = next(row for row in made_batches(mill.record)["4105-01"].made.draws if row.lot)
    assert drug.lot == "L-MONEN"


def test_the_form_says_that_the_lot_is_needed(mill: PageMill):
    """The field for the lot of a drug says that it is needed."""
    visitor = mill.visitor("mara")
    made = visitor.post(f"{PATH}/record", page=PATH, **weighed("") | {"actual-1": ""})
    assert made.text.count("(a drug: needed)") == 1
