"""What every act asks of places, materials and masses before it makes a fact."""

import datetime as dt
from collections.abc import Collection, Iterable
from difflib import get_close_matches

from bedstone.desk.merged_rows import MG_IN_KG
from bedstone.desk.record import Record
from bedstone.errors import BadInput, Unknown
from bedstone.mill.model import Bin, Machine, Meter, Mill, Scale
from bedstone.quantities.masses import shown_mass
from bedstone.quantities.times import shown_span

__all__ = [
    "lot_mg",
    "must_be_bin",
    "must_be_instrument",
    "must_be_machine",
    "must_be_material",
    "must_fit",
    "must_have_been",
    "must_weigh",
    "place_mg",
]

MOST_MG = 200_000 * MG_IN_KG
"""More than this in one movement is a slip of the keyboard: no truck carries it."""


def _unknown(what: str, code: str, known: Iterable[str]) -> Unknown:
    near = get_close_matches(code, list(known), n=3)
    return Unknown(
        f"There is no {what} {code!r}.",
        do=f"did you mean {', '.join(near)}?" if near else f"see the list of {what}s",
    )


def must_be_bin(mill: Mill, code: str, *, kinds: Collection[str] = ()) -> Bin:
    """The bin of a code, of one of these kinds if any are named."""
    found = mill.bin_by_code.get(code)
    if found is None:
        raise _unknown("bin", code, mill.bin_by_code)
    if kinds and found.kind not in kinds:
        raise BadInput(
            f"{mill.name_of(code)} is not the right kind of bin for this.",
            seen=found.kind,
            allowed=", ".join(kinds),
        )
    return found


def must_be_machine(mill: Mill, code: str, *, kind: str) -> Machine:
    """The machine of a code, which must be of this kind."""
    found = mill.machine_by_code.get(code)
    if found is None:
        raise _unknown("machine", code, mill.machine_by_code)
    if found.kind != kind:
        raise BadInput(
            f"{mill.name_of(code)} is the wrong machine for this.", seen=found.kind, allowed=kind
        )
    return found


def must_be_instrument(mill: Mill, code: str) -> Scale | Meter:
    """The scale or meter of a code."""
    found = mill.scale_by_code.get(code) or mill.meter_by_code.get(code)
    if found is None:
        raise _unknown("scale or meter", code, [*mill.scale_by_code, *mill.meter_by_code])
    return found


def must_have_been(when: dt.datetime, *, at: dt.datetime, what: str) -> None:
    """Pass if a moment is not one to come."""
    if when > at:
        raise BadInput(
            f"{what} cannot lie ahead.",
            seen=f"a moment {shown_span((when - at).total_seconds())} ahead",
            allowed="up to now",
            do="look at the day and the clock",
        )


def must_be_material(mill: Mill, held: Bin, material: str) -> None:
    """Pass if a bin is kept for a material, or for any."""
    if held.holds and held.holds != material:
        raise BadInput(
            f"{mill.name_of(material)} must not go into {mill.name_of(held.bin)}.",
            seen=material,
            allowed=f"{mill.name_of(held.holds)}, for which it is kept",
            do="choose another bin, or change what the bin is kept for in the tables",
        )


def must_weigh(mass_mg: int, *, what: str, units: str) -> None:
    """Pass if a mass is above nothing and not beyond what one movement can be."""
    if not 0 < mass_mg <= MOST_MG:
        raise BadInput(
            f"The mass of {what} cannot be.",
            seen=shown_mass(mass_mg, units=units),
            allowed=f"above 0 and at most {shown_mass(MOST_MG, units=units)}",
        )


def must_fit(mill: Mill, held: Bin, mass_mg: int) -> None:
    """Pass if so much can lie in a bin at all."""
    if mass_mg > held.capacity_kg * MG_IN_KG:
        units = mill.settings.units
        raise BadInput(
            f"{mill.name_of(held.bin)} cannot hold so much.",
            seen=shown_mass(mass_mg, units=units),
            allowed=f"at most {shown_mass(round(held.capacity_kg * MG_IN_KG), units=units)}",
            do="look at the number and its unit; if the bin holds more, correct its capacity in "
            "bins.csv and load it",
        )


def place_mg(record: Record, place: str) -> dict[str, int]:
    """Book stock of one place now, by material."""
    return {line.material: line.mass_mg for line in record.stock() if line.place == place}


def lot_mg(record: Record, place: str, lot: str) -> int:
    """What the movements that name a lot have left of it in a place. [mg]"""
    total_mg = 0
    for item in record.movements(place=place, lot=lot):
        into = item.movement.to_place == place
        total_mg += item.movement.mass_mg if into else -item.movement.mass_mg
    return total_mg
