"""What may go into a finished bin and come out of it: one feed at a time, nothing on hold, no
more than there can be.
"""

from collections.abc import Mapping

from bedstone.desk.checks import lot_mg, place_mg
from bedstone.desk.holds import held_lots
from bedstone.desk.lots_lying import read_lying, read_now
from bedstone.desk.made import made_batches
from bedstone.desk.merged_rows import MG_IN_KG
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.errors import Refused
from bedstone.ledger.model import Json
from bedstone.mill.model import Bin, Mill
from bedstone.planning.model import EMPTY_FRAC
from bedstone.quantities.masses import shown_mass

__all__ = [
    "other_feed",
    "refuse_beyond_run",
    "refuse_held_inside",
    "refuse_other_feed",
    "refuse_packed_with_held",
    "stays_mg",
]

PACKED = "finishing.run_packed/1"
SHIPPED = "finishing.shipped/1"
MORE_FRAC = 0.02
"""Bags are seldom of exactly their mass: so much more than the books have may come out."""


def other_feed(record: Record, place: str, material: str) -> tuple[str, int] | None:
    """The feed of which most lies in a finished bin beside that of one product, and how much of
    it, if it is more than what stays behind when the bin is run empty. [mg]
    """
    row = current_mill(record).bin_by_code.get(place)
    if row is None or row.kind != "finished":
        return None
    others = [
        (mass_mg, code)
        for code, mass_mg in place_mg(record, place).items()
        if code != material and mass_mg > stays_mg(row)
    ]
    if not others:
        return None
    mass_mg, code = max(others)
    return code, mass_mg


def stays_mg(row: Bin) -> int:
    """A finished bin counts as empty up to this: its hold-up and a hundredth of it. [mg]"""
    return round((row.hold_up_kg + EMPTY_FRAC * row.capacity_kg) * MG_IN_KG)


def refuse_other_feed(record: Record, place: str, material: str, *, act: str) -> None:
    """Refuse to put feed into a finished bin, or to take it out, where another feed lies."""
    found = other_feed(record, place, material)
    if found is None:
        return
    mill = current_mill(record)
    code, mass_mg = found
    raise Refused(
        f"{mill.name_of(material)} must not be {act} {mill.name_of(place)}: by the books "
        f"{_shown(mill, mass_mg)} of {mill.name_of(code)} lies there.",
        seen=f"{_shown(mill, mass_mg)} of {mill.name_of(code)}",
        allowed=f"at most {_shown(mill, stays_mg(mill.bin_by_code[place]))} of another feed",
        do="record where that feed went, or that the bin was seen empty",
    )


def refuse_held_inside(
    record: Record, place: str, mass_mg: int, *, material: str, act: str
) -> None:
    """Refuse to take feed out of a place if a lot on hold would come out, certainly or possibly."""
    held = held_lots(record)
    if not held:
        return
    shares = read_now(
        record, lambda layers, _: layers.would_draw(place, mass_mg, material=material)
    )
    for share in shares:
        if share.lot is not None and share.lot in held:
            mill = current_mill(record)
            sure = "would" if share.mass_mg or share.certain else "may"
            raise Refused(
                f"Lot {share.lot} is on hold and {sure} come out of {mill.name_of(place)} with "
                f"this: it must not be {act}.",
                seen=held[share.lot].rstrip("."),
                do="ask the laboratory: a named person releases it, or it is taken out; if none "
                "of it is left, record that the bin was seen empty before this feed came",
            )


def refuse_packed_with_held(record: Record, run: str, *, act: str) -> None:
    """Refuse bags of a run if a lot that is on hold now came, or may have come, into them."""
    held = held_lots(record)
    if not held:
        return
    lines = [
        (item.position, line)
        for item in record.facts(kinds=(PACKED,))
        if item.fact.content["run"] == run
        for line, _ in enumerate(item.fact.movements, start=1)
    ]
    shares = read_now(
        record, lambda layers, _: [share for key in lines for share in layers.shares(*key)]
    )
    for share in shares:
        if share.lot is not None and share.lot in held:
            sure = "is" if share.mass_mg or share.certain else "may be"
            raise Refused(
                f"Lot {share.lot} is on hold and {sure} in the bags of {run}, which must not be "
                f"{act}.",
                seen=held[share.lot].rstrip("."),
                do="ask the laboratory; a named person releases it or the bags stay",
            )


def refuse_beyond_run(
    record: Record,
    run: str,
    mass_mg: int,
    *,
    place: str,
    batches: tuple[str, ...],
    act: str,
    bags: int = 0,
) -> None:
    """Refuse more feed out of a bin than the books have there, or than came into it of a run.

    Beyond the books may go three standard deviations of what was weighed in and out, 2 % for
    bags that are not of exactly their mass, and of a run what another of the same feed had left.
    """
    mill = current_mill(record)
    came_mg, waiting_mg = _came(record, batches, place)
    material = record.lot(batches[0])[0].material
    row = mill.bin_by_code[place]
    slack_mg = read_lying(record, lambda layers: layers.slack_mg(place))
    there_mg = place_mg(record, place).get(material, 0) + waiting_mg
    gone_mg = _gone(record, run, place, batches)
    left_mg = came_mg - gone_mg + min(stays_mg(row), max(0, there_mg - came_mg + gone_mg))
    most_mg = round(max(0, min(there_mg, left_mg)) * (1 + MORE_FRAC)) + slack_mg
    if mass_mg <= most_mg:
        return
    what = f"{bags} bags ({_shown(mill, mass_mg)})" if bags else _shown(mill, mass_mg)
    raise Refused(
        f"{what} cannot be {act} as run {run} out of {mill.name_of(place)}.",
        seen=f"{_shown(mill, came_mg)} of the run came into it, {_shown(mill, gone_mg)} of that "
        f"is packed or loaded already, {_shown(mill, there_mg)} of this feed lies there",
        allowed=f"at most {_shown(mill, most_mg)}",
        do="count the bags again; if they are right, record what came into the bin before, or "
        "count the bin",
    )


def _came(record: Record, batches: tuple[str, ...], place: str) -> tuple[int, int]:
    """What came of batches into a bin, and what of it the books still have on the way there: a
    mash that goes through a surge bin is booked into that and no act takes it on. [mg]
    """
    mill, made = current_mill(record), made_batches(record)
    came_mg = waiting_mg = 0
    for batch in batches:
        into_mg = sum(
            item.movement.mass_mg
            for item in record.movements(place=place, lot=batch)
            if item.movement.to_place == place
        )
        route = made[batch].made.route
        if not into_mg and place in route[2:] and not _pelleted(mill, route):
            into_mg = lot_mg(record, route[1], batch)
            waiting_mg += into_mg
        came_mg += into_mg
    return came_mg, waiting_mg


def _pelleted(mill: Mill, route: tuple[str, ...]) -> bool:
    machines = (mill.machine_by_code.get(place) for place in route)
    return any(machine is not None and machine.kind == "pellet line" for machine in machines)


def _gone(record: Record, run: str, place: str, batches: tuple[str, ...]) -> int:
    """What was packed or loaded as a run out of a bin so far, of these batches or of no named
    ones. [mg]
    """
    return sum(
        movement.mass_mg
        for item in record.facts(kinds=(PACKED, SHIPPED))
        if item.fact.content["run"] == run
        and not set(batches).isdisjoint(_named(item.fact.content) or batches)
        for movement in item.fact.movements
        if movement.from_place == place
    )


def _named(content: Mapping[str, Json]) -> list[str]:
    named = content.get("batches")
    return [str(batch) for batch in named] if isinstance(named, list) else []


def _shown(mill: Mill, mass_mg: int) -> str:
    return shown_mass(mass_mg, units=mill.settings.units)
