"""Which bin a load goes into: every bin of the right kind, with room now and when it comes."""

import datetime as dt
from collections.abc import Mapping

from bedstone.desk.bin_room import holds_of
from bedstone.desk.holds import held_lots
from bedstone.desk.intake import carried_in, last_loads
from bedstone.desk.keep_apart import Apart, Results, apart_from, kept_apart_by_lot
from bedstone.desk.lots_lying import read_lying
from bedstone.desk.made import made_batches, started_batches
from bedstone.desk.merged_rows import MG_IN_KG
from bedstone.desk.plans import released_plan
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.errors import Unknown
from bedstone.ledger.layers import Layer, Layers
from bedstone.ledger.model import FlowPattern
from bedstone.mill.model import Bin, Mill
from bedstone.quantities.masses import shown_mass
from bedstone.storage.choice import BinChoice, BinState, rank

__all__ = ["BinChoice", "drawn_until", "rank_bins"]

SMALL = ("micro", "drug")
SLACK_SDS = 3
TRACE_MG = 1_000_000


def rank_bins(
    record: Record,
    *,
    ingredient: str,
    mass_mg: int,
    at: dt.datetime,
    barred: Mapping[str, str] | None = None,
    levels: Results | None = None,
) -> tuple[BinChoice, ...]:
    """Bins for a load, best first; those out of the question last, each with its reasons.

    ``barred`` names bins that must not take this load for reasons of the caller (toxins, species),
    by code. ``levels`` are the load's own results, level and unit by nutrient, for what the mill
    keeps apart. Bins of a kind that never takes such a material are left out.

    Raises
    ------
    Unknown
        If the mill buys no such ingredient.
    """
    mill = current_mill(record)
    if ingredient not in mill.ingredient_by_code:
        raise Unknown(f"The mill buys no {ingredient!r}.", do="see the ingredients table")
    lying = _lying(record)
    drawn = drawn_until(record, at)
    held = held_lots(record)
    rows = [row for row in mill.bins if row.kind == _kind(mill, ingredient)]
    came_last = last_loads(record, mill)
    carried = {
        (row.intake, row.intake_hold_up_kg): carried_in(
            mill, row, ingredient, mass_mg=mass_mg, last=came_last
        )
        for row in {(one.intake, one.intake_hold_up_kg): one for one in rows}.values()
    }
    by_lot = kept_apart_by_lot(record, mill, ingredient)

    def apart(layers: tuple[Layer, ...]) -> Apart:
        return apart_from(mill, ingredient, load=levels or {}, layers=layers, assays_by_lot=by_lot)

    def states(layers: Layers) -> tuple[BinState, ...]:
        return tuple(
            _state(
                mill,
                row,
                ingredient,
                lying=lying.get(row.bin, {}),
                drawn_mg=drawn.get(row.bin, 0),
                layers=layers.layers(row.bin),
                slack_mg=layers.slack_mg(row.bin),
                held=held,
                barred=(barred or {}).get(row.bin, ""),
                carried=carried[row.intake, row.intake_hold_up_kg],
                apart=apart(layers.layers(row.bin)),
            )
            for row in rows
        )

    units = mill.settings.units
    ranked = read_lying(record, states)
    return rank(ranked, mass_mg=mass_mg, at=at, shown=lambda mg: shown_mass(mg, units=units))


def _lying(record: Record) -> dict[str, dict[str, int]]:
    """Book stock by place and material. [mg]"""
    lying: dict[str, dict[str, int]] = {}
    for line in record.stock():
        if line.mass_mg:
            lying.setdefault(line.place, {})[line.material] = line.mass_mg
    return lying


def _kind(mill: Mill, ingredient: str) -> str:
    row = mill.ingredient_by_code[ingredient]
    if row.ingredient_class == "liquid":
        return "tank"
    if row.hand_add or row.ingredient_class in SMALL:
        return "floor"
    return "ground" if row.ingredient_class == "ground grain" else "ingredient"


def _state(
    mill: Mill,
    row: Bin,
    ingredient: str,
    *,
    lying: Mapping[str, int],
    drawn_mg: int,
    layers: tuple[Layer, ...],
    slack_mg: int,
    held: Mapping[str, str],
    barred: str,
    carried: tuple[str, ...],
    apart: Apart,
) -> BinState:
    """What a bin is to this load."""
    name = mill.name_of(row.bin)
    stands_apart = row.flow == FlowPattern.SEPARATE.value
    against = [barred] if barred else []
    if row.holds not in ("", ingredient):
        against.append(f"Kept for {mill.name_of(row.holds)}.")
    for material, mass_mg in lying.items():
        if material != ingredient and mass_mg > TRACE_MG and not stands_apart:
            shown = shown_mass(mass_mg, units=mill.settings.units)
            against.append(f"{shown} of {mill.name_of(material)} lie in it.")
    if not stands_apart:
        against += [
            f"Lot {lot} in it is on hold ({held[lot].rstrip('.')}): nothing may be mixed with it."
            for lot in dict.fromkeys(layer.lot for layer in layers if layer.mass_mg > 0)
            if lot is not None and lot in held
        ]
        against += [] if against else apart.against
    holds_mg = sum(lying.values())
    most = holds_of(mill, row, ingredient)
    room_mg = round(most.most_kg * MG_IN_KG) - holds_mg
    book_sd_mg = slack_mg / SLACK_SDS
    buries = row.flow == FlowPattern.FUNNEL.value and holds_mg - drawn_mg > TRACE_MG
    came = [layer.happened_at for layer in layers if layer.mass_mg > 0]
    return BinState(
        bin=row.bin,
        name=name,
        against=tuple(against),
        cautions=carried + (() if stands_apart else apart.cautions),
        holds_mg=holds_mg,
        room_mg=room_mg,
        room_then_mg=room_mg + drawn_mg,
        room_sd_mg=round(((most.sd_kg * MG_IN_KG) ** 2 + book_sd_mg**2) ** 0.5),
        is_kept_for_it=row.holds == ingredient,
        is_kept_for_other=row.holds not in ("", ingredient),
        buried_at=min(came) if buries and came else None,
    )


def drawn_until(record: Record, at: dt.datetime) -> dict[str, int]:
    """What batches draw from each bin until a moment by the released plan of that day; what is
    already on record is in the books and not counted again, and grinding is left out, so that
    there is rather more room than said. [mg]
    """
    mill = current_mill(record)
    standing = released_plan(record, at.astimezone(mill.settings.zone).date())
    if standing is None:
        return {}
    made, started = made_batches(record), started_batches(record)
    out: dict[str, int] = {}
    for batch in standing.plan.batches:
        if batch.batch in made or (batch.start_at > at and batch.batch not in started):
            continue
        for draw in batch.draws:
            out[draw.from_place] = out.get(draw.from_place, 0) + draw.target_mg
    return out
