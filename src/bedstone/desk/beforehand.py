"""Hand additions weighed before their batch, and the second person who confirms a drug."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from bedstone.desk.appending import appended
from bedstone.desk.folding import folded
from bedstone.desk.holds import refuse_held
from bedstone.desk.made import BATCH_MADE, batch_from_fact, made_batches
from bedstone.desk.plans import batch_of, find_plan
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.desk.roles import check
from bedstone.errors import BadInput, Fault, Refused
from bedstone.ledger.model import Fact, Reading, Recorded
from bedstone.mill.model import Mill
from bedstone.mill.plan import Batch, Draw
from bedstone.quantities.masses import shown_mass

__all__ = [
    "DRUG_CONFIRMED",
    "HAND_WEIGHED",
    "Beforehand",
    "confirm_drug",
    "is_drug",
    "must_be_confirmed",
    "weigh_beforehand",
    "weighed_beforehand",
]

HAND_WEIGHED = "batching.hand_weighed/1"
DRUG_CONFIRMED = "batching.drug_confirmed/1"
SECOND_PERSON = "second person"
MOST_TIMES_TARGET = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Beforehand:
    """A hand addition as it was weighed, and who else has seen it."""

    batch: str
    sequence: int
    ingredient: str
    lot: str
    mass_mg: int
    number: str  # as read, with its unit
    unit: str
    by: str
    weighed_at: dt.datetime
    position: int
    confirmed_by: str = ""
    confirmed_at: dt.datetime | None = None


Known = Mapping[tuple[str, int], Beforehand]


def _note(before: Known, facts: Iterable[Recorded]) -> Known:
    found = dict(before)
    for item in facts:
        content, when = item.fact.content, item.fact.happened_at
        if item.fact.kind == BATCH_MADE:
            made = batch_from_fact(item).made
            for draw in made.draws:  # what went into a batch waits no longer
                found.pop((made.batch, draw.sequence), None)
            continue
        key = (str(content["batch"]), int(str(content["sequence"])))
        if item.fact.kind == HAND_WEIGHED:
            found[key] = Beforehand(
                batch=key[0],
                sequence=key[1],
                ingredient=str(content["ingredient"]),
                lot=str(content["lot"]),
                mass_mg=int(str(content["mass_mg"])),
                number=str(content["number"]),
                unit=str(content["unit"]),
                by=item.fact.by,
                weighed_at=when,
                position=item.position,
            )
        elif key in found and content["weighing"] == found[key].position:
            found[key] = replace(found[key], confirmed_by=item.fact.by, confirmed_at=when)
    return found


def weighed_beforehand(record: Record, batch: str) -> Mapping[int, Beforehand]:
    """What waits for a batch that is not made, by the number of its draw; the latest of each."""
    kinds = (HAND_WEIGHED, DRUG_CONFIRMED, BATCH_MADE)
    start: Known = {}
    known = folded(record, "weighed beforehand", kinds=kinds, start=start, fold=_note)
    return {sequence: row for (code, sequence), row in known.items() if code == batch}


def is_drug(mill: Mill, ingredient: str) -> bool:
    """Whether an ingredient is a drug."""
    row = mill.ingredient_by_code.get(ingredient)
    return row is not None and row.ingredient_class == "drug"


def weigh_beforehand(
    record: Record,
    plan_id: str,
    batch_id: str,
    sequence: int,
    *,
    mass_mg: int,
    lot: str,
    seen: Reading | None = None,
    by: str,
    at: dt.datetime,
) -> Recorded:
    """Record a hand addition weighed before its batch. Weighed again, the later one counts.

    Asks: who may, a draw by hand of a batch of a released plan, its lot as scanned, a mass above
    nothing and at most twice the target. Refused when: the batch is on record, or the lot is held.
    Records: ``batching.hand_weighed/1``.
    """
    mill = current_mill(record)
    check(mill, by, "batch")

    def act() -> Fact:
        draw = _by_hand(_open_batch(record, plan_id, batch_id), sequence)
        found = _lot_of(record, mill, draw, batch_id, lot=lot, mass_mg=mass_mg)
        return Fact(
            kind=HAND_WEIGHED,
            happened_at=at,
            by=by,
            content={
                "batch": batch_id,
                "sequence": sequence,
                "ingredient": draw.ingredient,
                "lot": found,
                "mass_mg": mass_mg,
                "number": seen.number if seen else "",
                "unit": seen.unit if seen else "",
            },
        )

    return appended(record, act, at=at)


def _lot_of(
    record: Record, mill: Mill, draw: Draw, batch_id: str, *, lot: str, mass_mg: int
) -> str:
    """The lot that was scanned, if it and the mass can be what the draw asks for."""
    if not lot.strip():
        raise BadInput(
            "Scan the lot of what was weighed.", seen="nothing", allowed="the lot on the sack"
        )
    if not 0 < mass_mg <= MOST_TIMES_TARGET * draw.target_mg:
        units = mill.settings.units
        raise BadInput(
            f"The mass of {mill.name_of(draw.ingredient)} cannot be.",
            seen=shown_mass(mass_mg, units=units),
            allowed="above 0 and at most "
            f"{shown_mass(MOST_TIMES_TARGET * draw.target_mg, units=units)}",
            do="look at the decimal point and the unit",
        )
    found, _ = record.lot(lot.strip())
    if found.material != draw.ingredient:
        raise BadInput(
            f"Lot {found.lot} is not what draw {draw.sequence} of {batch_id} asks for.",
            seen=mill.name_of(found.material),
            allowed=mill.name_of(draw.ingredient),
            do="put it back and scan the right sack",
        )
    refuse_held(record, (found.lot,), act="put into a batch")
    return found.lot


def confirm_drug(
    record: Record, plan_id: str, batch_id: str, sequence: int, *, by: str, at: dt.datetime
) -> Recorded:
    """Record that a second person has read label and scale of a drug that was weighed.

    Asks: who may. Refused when: nothing was weighed, the same person weighed it, or it is out of
    tolerance. Records: ``batching.drug_confirmed/1``.

    Sources
    -------
    [1] A second look at what cannot be taken back is the mill's policy; 21 CFR 225.102 asks for the
        record of the amounts of drugs used, not for a second person.
    """
    mill = current_mill(record)
    check(mill, by, "drug check")

    def act() -> Fact:
        draw = _by_hand(_open_batch(record, plan_id, batch_id), sequence)
        row = weighed_beforehand(record, batch_id).get(sequence)
        seen = _may_confirm(mill, draw, row, batch_id, by=by)
        return Fact(
            kind=DRUG_CONFIRMED,
            happened_at=at,
            by=by,
            content={
                "batch": batch_id,
                "sequence": sequence,
                "ingredient": draw.ingredient,
                "lot": seen.lot,
                "mass_mg": seen.mass_mg,
                "weighing": seen.position,
            },
        )

    return appended(record, act, at=at)


def _may_confirm(
    mill: Mill, draw: Draw, row: Beforehand | None, batch_id: str, *, by: str
) -> Beforehand:
    """The weighing, if this person may confirm it."""
    if row is None:
        raise Refused(
            f"{mill.name_of(draw.ingredient)} of {batch_id} is not weighed yet.",
            do="weigh it and scan its lot, then call the second person",
        )
    if row.by == by:
        raise Refused(
            "Whoever weighed a drug does not confirm it.",
            seen=mill.name_of(by),
            allowed="another person",
            do="a second person signs in and confirms",
        )
    if abs(row.mass_mg - draw.target_mg) > draw.tolerance_mg:
        units = mill.settings.units
        raise Refused(
            f"{mill.name_of(draw.ingredient)} is out of tolerance.",
            seen=shown_mass(row.mass_mg, units=units),
            allowed=f"{shown_mass(draw.target_mg, units=units)} give or take "
            f"{shown_mass(draw.tolerance_mg, units=units)}",
            do="weigh it again",
        )
    return row


def _open_batch(record: Record, plan_id: str, batch_id: str) -> Batch:
    standing = find_plan(record, plan_id)
    if standing.status != "released":
        raise Refused(
            f"Plan {plan_id} is {standing.status}.", do="a manager releases the plan first"
        )
    if batch_id in made_batches(record):
        raise Refused(f"Batch {batch_id} is on record already.", do="weigh for the next one")
    return batch_of(standing.plan, batch_id)


def _by_hand(batch: Batch, sequence: int) -> Draw:
    draw = next((row for row in batch.draws if row.sequence == sequence), None)
    if draw is None or draw.how != "hand":
        raise BadInput(
            f"Draw {sequence} of {batch.batch} is not weighed by hand.",
            allowed=", ".join(str(row.sequence) for row in batch.draws if row.how == "hand")
            or "it has none by hand",
        )
    return draw


def must_be_confirmed(
    record: Record, mill: Mill, batch: Batch, given: Sequence[tuple[int, int, str | None]]
) -> None:
    """Pass if a second person has confirmed every drug of a batch as it is recorded.

    Parameters
    ----------
    given : sequence of (int, int, str or None)
        Number of the draw, mass in milligrams, lot, as they are about to be recorded.

    Raises
    ------
    Refused
        If a drug was not confirmed, or not with this mass and lot.
    """
    if mill.settings.drug_check != SECOND_PERSON:
        return
    known = weighed_beforehand(record, batch.batch)
    planned = {row.sequence: row for row in batch.draws}
    faults: list[Fault] = []
    for sequence, mass_mg, lot in given:
        draw = planned[sequence]
        if not mass_mg or not is_drug(mill, draw.ingredient):
            continue
        row = known.get(sequence)
        name = f"draw {sequence}, {mill.name_of(draw.ingredient)}"
        if row is None or not row.confirmed_by:
            faults.append(
                Fault(
                    column=name, found="seen by nobody else", allowed="confirmed by a second person"
                )
            )
        elif abs(row.mass_mg - mass_mg) > draw.division_mg or lot != row.lot:
            units = mill.settings.units
            found = f"{shown_mass(mass_mg, units=units)} of {lot or 'no lot'}"
            allowed = f"{shown_mass(row.mass_mg, units=units)} of {row.lot}, as it was confirmed"
            faults.append(Fault(column=name, found=found, allowed=allowed))
    if faults:
        raise Refused(
            f"Batch {batch.batch} has a drug that no second person confirmed; nothing was written.",
            faults=tuple(faults),
            do="weigh the drug beforehand on the batch's page with its lot; another person signs in "
            "and confirms",
        )
