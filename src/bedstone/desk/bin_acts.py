"""What is seen and done at bins: grinding from one into another, counts, a bin seen empty."""

import datetime as dt

from bedstone.desk.appending import appended
from bedstone.desk.checks import (
    must_be_bin,
    must_be_machine,
    must_be_material,
    must_fit,
    must_weigh,
    place_mg,
)
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.errors import BadInput
from bedstone.ledger.model import Fact, How, Movement, Recorded

__all__ = ["record_count", "record_ground", "record_seen_empty"]

GROUND = "grinding.ground/1"
SEEN_EMPTY = "storage.bin_seen_empty/1"
COUNTED = "storage.counted/1"


def record_ground(
    record: Record,
    *,
    machine: str,
    makes: str,
    from_place: str,
    to_place: str,
    in_mg: int,
    out_mg: int,
    job: str = "",
    by: str,
    at: dt.datetime,
) -> Recorded:
    """Record grain ground from one bin into another; what did not come out left as dust.

    Asks: a grinder, an ingredient that is ground from another, bins kept for them, no more out
    than in. Records: ``grinding.ground/1``.
    """
    mill = current_mill(record)
    must_be_machine(mill, machine, kind="grinder")
    ground = mill.ingredient_by_code.get(makes)
    if ground is None or not ground.ground_from:
        raise BadInput("This is no ground ingredient.", seen=repr(makes))
    must_be_material(mill, must_be_bin(mill, from_place), ground.ground_from)
    must_be_material(mill, must_be_bin(mill, to_place), makes)
    must_weigh(in_mg, what="the grain", units=mill.settings.units)
    must_weigh(out_mg, what="the ground grain", units=mill.settings.units)
    if out_mg > in_mg:
        raise BadInput("More came out of the grinder than went in.", allowed="no more than went in")
    ways = (
        (from_place, machine, in_mg, ground.ground_from, How.RECKONED),
        (machine, to_place, out_mg, makes, How.RECKONED),
        (machine, "air", in_mg - out_mg, makes, How.RECKONED),
    )
    fact = Fact(
        kind=GROUND,
        happened_at=at,
        by=by,
        content={
            "machine": machine,
            "ingredient": ground.ground_from,
            "makes": makes,
            "from": from_place,
            "to": to_place,
            "job": job,
        },
        movements=tuple(
            Movement(from_place=start, to_place=end, mass_mg=mass_mg, material=what, how=how)
            for start, end, mass_mg, what, how in ways
            if mass_mg
        ),
    )
    return record.append(fact, recorded_at=at)


def record_seen_empty(record: Record, place: str, *, by: str, at: dt.datetime) -> Recorded:
    """Record that a bin was seen empty; what the books still hold goes to unaccounted.

    From this moment nothing of what lay there before can be in it. Records:
    ``storage.bin_seen_empty/1``.
    """
    must_be_bin(current_mill(record), place)

    def act() -> Fact:
        return Fact(
            kind=SEEN_EMPTY,
            happened_at=at,
            by=by,
            content={"bin": place},
            movements=tuple(
                _corrected(place, material, -mass_mg)
                for material, mass_mg in sorted(place_mg(record, place).items())
            ),
        )

    return appended(record, act, at=at)


def record_count(
    record: Record,
    place: str,
    *,
    material: str,
    counted_mg: int,
    how: str = "counted",
    by: str,
    at: dt.datetime,
) -> Recorded:
    """Record what was found in a place; the difference to the books goes to unaccounted.

    Asks: a bin, a material, nothing or more, no more than the bin holds. Records: ``storage.counted/1``.
    """
    mill = current_mill(record)
    held = must_be_bin(mill, place)
    if material not in mill.ingredient_by_code and material not in mill.product_by_code:
        raise BadInput("There is no such material.", seen=repr(material))
    if counted_mg < 0:
        raise BadInput("A count is never below nothing.", allowed="0 kg or more")
    if counted_mg:
        must_weigh(counted_mg, what="what was counted", units=mill.settings.units)
    must_fit(mill, held, counted_mg)

    def act() -> Fact:
        more_mg = counted_mg - place_mg(record, place).get(material, 0)
        return Fact(
            kind=COUNTED,
            happened_at=at,
            by=by,
            content={"place": place, "material": material, "counted_mg": counted_mg, "how": how},
            movements=(_corrected(place, material, more_mg),) if more_mg else (),
        )

    return appended(record, act, at=at)


def _corrected(place: str, material: str, more_mg: int) -> Movement:
    """The movement that puts so much more into a place on the books, or takes it out."""
    ends = ("unaccounted", place) if more_mg > 0 else (place, "unaccounted")
    return Movement(
        from_place=ends[0],
        to_place=ends[1],
        mass_mg=abs(more_mg),
        material=material,
        how=How.COUNTED,
    )
