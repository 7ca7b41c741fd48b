"""What happens to feed after the mixer: pelleting, packing, shipping; and holds."""

import datetime as dt
import math
from dataclasses import dataclass

from bedstone.desk.appending import appended
from bedstone.desk.bin_acts import record_count, record_ground, record_seen_empty
from bedstone.desk.checks import lot_mg, must_be_bin, must_be_machine, must_weigh
from bedstone.desk.finished_bins import (
    refuse_beyond_run,
    refuse_held_inside,
    refuse_other_feed,
)
from bedstone.desk.holds import held_lots, hold_lots, refuse_held, release_lots
from bedstone.desk.made import BatchOnRecord, batches_of_run, made_batch, made_batches, new_run
from bedstone.desk.merged_rows import MG_IN_KG
from bedstone.desk.receive import record_load
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.desk.ship import record_shipped, record_shipped_bulk
from bedstone.desk.ways import refuse_off_way
from bedstone.errors import BadInput, Refused, Unknown
from bedstone.ledger.model import Fact, How, Json, Movement, Recorded
from bedstone.mill.model import Mill
from bedstone.quantities.masses import shown_mass

__all__ = [
    "RUN_PELLETED",
    "PelletedBatch",
    "held_lots",
    "hold_lots",
    "pelleted_movements",
    "record_count",
    "record_ground",
    "record_load",
    "record_packed",
    "record_pelleted",
    "record_seen_empty",
    "record_shipped",
    "record_shipped_bulk",
    "release_lots",
]

RUN_PELLETED = "pelleting.run_pelleted/1"
RUN_PACKED = "finishing.run_packed/1"


@dataclass(frozen=True, slots=True, kw_only=True)
class PelletedBatch:
    """One batch through the pellet line. What does not come out again left as water with the air.

    With standard deviations steam and pellets are reckoned from readings, without they were
    metered and weighed.
    """

    batch: str
    in_mg: int
    steam_mg: int
    dust_mg: int
    out_mg: int
    steam_sd_mg: int = 0
    out_sd_mg: int = 0


def record_pelleted(
    record: Record,
    *,
    run: str,
    machine: str,
    from_place: str,
    to_place: str,
    batches: tuple[PelletedBatch, ...],
    by: str,
    at: dt.datetime,
) -> Recorded:
    """Record a run through a pellet line: mash and steam in, pellets, dust and water out.

    Asks: batches of this run that were made; no more out than went in. Refused when: nothing of a
    batch lies in the bin any more, or feed of another product lies in the bin that the pellets go
    to. Records: ``pelleting.run_pelleted/1``.
    """
    mill = current_mill(record)
    must_be_machine(mill, machine, kind="pellet line")
    must_be_bin(mill, from_place)
    must_be_bin(mill, to_place)
    if not batches:
        raise BadInput("No batch is named.", allowed="one batch of the run or more")

    def act() -> Fact:
        made = [_batch_of_run(record, run, row.batch) for row in batches]
        product = made[0].made.material
        refuse_other_feed(record, to_place, product, act="pelleted into")
        refuse_off_way(
            record,
            [row.batch for row in batches],
            product=product,
            places=(from_place, machine, to_place),
            act="pelleted",
        )
        for row in batches:
            _must_lie(record, row.batch, from_place)
        movements = [
            movement
            for row in batches
            for movement in pelleted_movements(
                row,
                product,
                machine=machine,
                ends=(from_place, to_place),
                units=mill.settings.units,
            )
        ]
        content: dict[str, Json] = {"run": run, "product": product, "machine": machine}
        content |= {"from": from_place, "to": to_place, "batches": [row.batch for row in batches]}
        return Fact(
            kind=RUN_PELLETED, happened_at=at, by=by, content=content, movements=tuple(movements)
        )

    return appended(record, act, at=at)


def _must_lie(record: Record, batch: str, place: str) -> None:
    """Refuse a batch of which nothing lies in a place any more, by the books."""
    if lot_mg(record, place, batch) <= 0:
        raise Refused(
            f"By the books nothing of batch {batch} lies in {place}.",
            do="it went on already, or lies in another bin",
        )


def _batch_of_run(record: Record, run: str, batch: str) -> BatchOnRecord:
    found = made_batch(record, batch)
    if found.made.run != run:
        raise BadInput(
            f"Batch {batch} is not of run {run}.",
            seen=f"run {found.made.run}",
            allowed=", ".join(
                row.made.batch for row in made_batches(record).values() if row.made.run == run
            ),
        )
    return found


def pelleted_movements(
    row: PelletedBatch, product: str, *, machine: str, ends: tuple[str, str], units: str
) -> list[Movement]:
    """Mash and steam of a batch into its line; water, dust and pellets out of it, all of it.

    Raises
    ------
    BadInput
        If more comes out than went in.
    """
    must_weigh(row.in_mg, what=f"mash of {row.batch}", units=units)
    must_weigh(row.out_mg, what=f"pellets of {row.batch}", units=units)
    water_mg = row.in_mg + row.steam_mg - row.dust_mg - row.out_mg
    if row.steam_mg < 0 or row.dust_mg < 0 or water_mg < 0:
        raise BadInput(
            f"More pellets of {row.batch} came out than mash and steam went in.",
            seen=f"{shown_mass(row.out_mg, units=units)} out and "
            f"{shown_mass(row.dust_mg, units=units)} dust",
            allowed=f"at most {shown_mass(row.in_mg + row.steam_mg, units=units)}",
            do="weigh again, or correct the steam",
        )
    from_place, to_place = ends
    steam_how = How.RECKONED if row.steam_sd_mg else How.METERED
    out_how = How.RECKONED if row.out_sd_mg else How.WEIGHED
    water_sd_mg = round(math.hypot(row.steam_sd_mg, row.out_sd_mg))
    ways = (
        (from_place, machine, row.in_mg, product, How.RECKONED, 0),
        ("steam", machine, row.steam_mg, "water", steam_how, row.steam_sd_mg),
        (machine, "air", water_mg, "water", How.RECKONED, water_sd_mg),
        (machine, "air", row.dust_mg, product, How.RECKONED, 0),
        (machine, to_place, row.out_mg, product, out_how, row.out_sd_mg),
    )
    return [
        Movement(
            from_place=start,
            to_place=end,
            mass_mg=mass_mg,
            material=what,
            how=how,
            lot=row.batch,
            mass_sd_mg=sd_mg,
        )
        for start, end, mass_mg, what, how, sd_mg in ways
        if mass_mg
    ]


def record_packed(
    record: Record,
    *,
    run: str,
    machine: str,
    from_place: str,
    to_place: str,
    bags: int,
    scrap_mg: int = 0,
    batches: tuple[str, ...] = (),
    by: str,
    at: dt.datetime,
) -> Recorded:
    """Record bags filled from a bin into the warehouse; the run becomes a lot.

    Asks: batches of the run that were made and are not on hold (all of it if none is named),
    one bag or more. Refused when: a lot on hold would or may come out of the bin, another feed
    lies in it, or it cannot hold so much of the run. Records: ``finishing.run_packed/1``.
    """
    mill = current_mill(record)
    must_be_machine(mill, machine, kind="sacking line")
    must_be_bin(mill, from_place)
    must_be_bin(mill, to_place, kinds=("warehouse",))
    if bags <= 0 or scrap_mg < 0:
        raise BadInput("This many bags cannot be.", seen=f"{bags} bags", allowed="1 or more")

    def act() -> Fact:
        named = batches or batches_of_run(record, run)
        product = _product_of_run(record, run, named)
        refuse_held(record, named, act="packed")
        bagged_mg = bags * _pack_mg(mill, product)
        taken_mg = bagged_mg + scrap_mg
        must_weigh(taken_mg, what="the run", units=mill.settings.units)
        refuse_other_feed(record, from_place, product, act="packed out of")
        refuse_off_way(record, named, product=product, places=(from_place, machine), act="packed")
        refuse_held_inside(record, from_place, taken_mg, material=product, act="packed")
        refuse_beyond_run(
            record, run, taken_mg, place=from_place, batches=named, act="packed", bags=bags
        )
        movements = _packed(product, run, (from_place, machine, to_place), bagged_mg, scrap_mg)
        content: dict[str, Json] = {
            "run": run,
            "product": product,
            "machine": machine,
            "from": from_place,
            "to": to_place,
            "bags": bags,
            "batches": list(named),
        }
        lots = new_run(record, run, product)
        return Fact(
            kind=RUN_PACKED, happened_at=at, by=by, content=content, movements=movements, lots=lots
        )

    return appended(record, act, at=at)


def _packed(
    product: str, run: str, places: tuple[str, str, str], bagged_mg: int, scrap_mg: int
) -> tuple[Movement, ...]:
    from_place, machine, to_place = places
    ways = (
        (from_place, machine, bagged_mg + scrap_mg, How.RECKONED, None),
        (machine, to_place, bagged_mg, How.COUNTED, run),
        (machine, "scrap", scrap_mg, How.WEIGHED, None),
    )
    return tuple(
        Movement(
            from_place=start, to_place=end, mass_mg=mass_mg, material=product, how=how, lot=lot
        )
        for start, end, mass_mg, how, lot in ways
        if mass_mg
    )


def _product_of_run(record: Record, run: str, batches: tuple[str, ...]) -> str:
    if not batches:
        raise Unknown(f"No batch of run {run!r} is on record.", do="record its batches first")
    return {_batch_of_run(record, run, batch).made.material for batch in batches}.pop()


def _pack_mg(mill: Mill, product: str) -> int:
    pack_kg = mill.product(product).pack_kg
    if pack_kg is None:
        raise BadInput(f"{mill.name_of(product)} has no bag.", do="give it one in the tables")
    return round(pack_kg * MG_IN_KG)
