"""Hand additions weighed before their batch, and the second person who confirms a drug."""

from dataclasses import replace

import pytest

from bedstone.desk.batches import record_batch
from bedstone.desk.beforehand import confirm_drug, weigh_beforehand, weighed_beforehand
from bedstone.errors import BadInput, Refused
from bedstone.mill.model import Person
from fakes.desk_day import PLAN, a_day, a_desk_mill, actuals, later
from fakes.memory import MemoryRecord

DRUG_BATCH = next(
    batch for batch in PLAN.batches if any(draw.ingredient == "MONEN" for draw in batch.draws)
)
DRUG = next(draw for draw in DRUG_BATCH.draws if draw.ingredient == "MONEN")


def a_careful_day() -> MemoryRecord:
    """The hand-written day in a mill that asks for a second person, with one."""
    mill = a_desk_mill()
    return a_day(
        mill=replace(
            mill,
            settings=replace(mill.settings, drug_check="second person"),
            people=(*mill.people, Person(person="labe", name="Labe Finn", role="laboratory")),
        )
    )


def weigh(record: MemoryRecord, mass_mg: int = DRUG.target_mg, lot: str = "L-MONEN") -> None:
    """Weigh the drug beforehand."""
    weigh_beforehand(
        record, PLAN.plan, DRUG_BATCH.batch, DRUG.sequence, mass_mg=mass_mg, lot=lot, by="mara",
        at=later(1),
    )  # fmt: skip


def recorded(record: MemoryRecord) -> object:
    """Record the batch on its targets with the drug's lot."""
    draws = tuple(
        replace(row, lot="L-MONEN") if row.sequence == DRUG.sequence else row
        for row in actuals(DRUG_BATCH)
    )
    return record_batch(record, PLAN.plan, DRUG_BATCH.batch, draws, by="mara", at=later(5))


def test_a_batch_with_a_drug_that_nobody_else_saw_is_not_recorded():
    """Neither unweighed nor weighed but unconfirmed goes on record; nothing is written."""
    record = a_careful_day()
    before = record.head().position
    with pytest.raises(Refused, match="no second person confirmed"):
        recorded(record)
    assert record.head().position == before
    weigh(record)
    with pytest.raises(Refused, match="seen by nobody else"):
        recorded(record)


def test_whoever_weighed_a_drug_does_not_confirm_it():
    """The same person is refused; somebody else confirms, and the batch is recorded."""
    record = a_careful_day()
    weigh(record)
    place = (PLAN.plan, DRUG_BATCH.batch, DRUG.sequence)
    with pytest.raises(Refused, match="does not confirm it"):
        confirm_drug(record, *place, by="mara", at=later(2))
    confirm_drug(record, *place, by="labe", at=later(2))
    assert weighed_beforehand(record, DRUG_BATCH.batch)[DRUG.sequence].confirmed_by == "labe"
    recorded(record)
    assert not weighed_beforehand(record, DRUG_BATCH.batch)  # it is in the batch now


def test_weighed_again_means_confirmed_again():
    """A new weighing drops the confirmation of the one before."""
    record = a_careful_day()
    weigh(record)
    place = (PLAN.plan, DRUG_BATCH.batch, DRUG.sequence)
    confirm_drug(record, *place, by="osk", at=later(2))
    weigh(record)
    assert not weighed_beforehand(record, DRUG_BATCH.batch)[DRUG.sequence].confirmed_by
    with pytest.raises(Refused, match="no second person confirmed"):
        recorded(record)


def test_a_drug_out_of_tolerance_is_not_confirmed():
    """Confirming asks for the mass within the tolerance of the scale."""
    record = a_careful_day()
    weigh(record, mass_mg=DRUG.target_mg + 2 * DRUG.tolerance_mg)
    with pytest.raises(Refused, match="out of tolerance"):
        confirm_drug(record, PLAN.plan, DRUG_BATCH.batch, DRUG.sequence, by="labe", at=later(2))


@pytest.mark.parametrize(
    ("lot", "mass_mg", "words"),
    [
        ("", DRUG.target_mg, "Scan the lot"),
        ("L-SALT", DRUG.target_mg, "is not what draw"),
        ("L-MONEN", 10 * DRUG.target_mg, "cannot be"),
        ("L-MONEN", 0, "cannot be"),
    ],
)
def test_what_cannot_be_weighed_is_refused(lot: str, mass_mg: int, words: str):
    """No lot, a lot of something else, a mass far off: refused with what to do."""
    with pytest.raises(BadInput, match=words):
        weigh(a_careful_day(), mass_mg=mass_mg, lot=lot)
