"""Lots on hold in the bins: they are not planned with, and nothing starts on them."""

from collections.abc import Mapping

from bedstone.desk.holds import held_lots
from bedstone.desk.lots_lying import lying_now
from bedstone.desk.merged_rows import MG_IN_KG
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.ledger.model import FlowPattern
from bedstone.mill.model import Mill
from bedstone.mill.plan import Batch, Finding, Verdict

__all__ = ["held_draws", "held_notes", "without_held"]

DRAWN_KINDS = ("ingredient", "ground", "tank", "floor", "finished")
ON_HOLD = "on hold"
"""What a finished bin holds where a lot on hold lies in it: neither drawn from nor filled."""


def without_held(
    record: Record, stock_mg: Mapping[tuple[str, str], int]
) -> dict[tuple[str, str], int]:
    """Stock without what lies on hold: the lot alone where lots are kept apart, else all of its
    material in that bin, because what comes out of it may be of that lot. A finished bin stays
    taken by what is on hold, so that no other feed is put on it. [mg]
    """
    lines = dict(stock_mg)
    finished = {row.bin for row in current_mill(record).bins if row.kind == "finished"}
    for place, lots in _held_by_place(record).items():
        if place in finished:
            there = [key for key in lines if key[0] == place]
            there_mg = sum(max(0, lines.pop(key)) for key in there)
            lines[place, ON_HOLD] = max(there_mg, sum(lots.values()))
            continue
        apart = _is_apart(current_mill(record), place)
        material_of = {lot.lot: lot.material for lot, _ in record.lots()}
        for key, mass_mg in stock_mg.items():
            if key[0] != place:
                continue
            held_mg = sum(
                lot_mg for lot, lot_mg in lots.items() if not apart or material_of[lot] == key[1]
            )
            if held_mg:
                lines[key] = max(0, mass_mg - held_mg) if apart else min(0, mass_mg)
    return lines


def held_notes(record: Record) -> tuple[Finding, ...]:
    """A word for the plan about each lot on hold that lies in a bin."""
    mill, why = current_mill(record), held_lots(record)
    return tuple(
        Finding(
            code="quality.held_in_bin",
            verdict=Verdict.NOTE,
            about=place,
            text=f"Lot {lot} in {mill.name_of(place)} is on hold ({why[lot].rstrip('.')}), so "
            f"{'it is' if _is_apart(mill, place) else 'the bin is'} not planned with.",
            value=mass_mg / MG_IN_KG,
            unit="kg",
            source="holds on record",
            do="release it or take it out",
        )
        for place, lots in _held_by_place(record).items()
        for lot, mass_mg in lots.items()
    )


def held_draws(record: Record, batch: Batch) -> tuple[Finding, ...]:
    """What a batch would draw from a bin in which a lot on hold lies; nothing if it draws none."""
    mill, held = current_mill(record), held_lots(record)
    if not held:
        return ()
    lying = lying_now(record)
    material_of = {lot.lot: lot.material for lot, _ in record.lots()}
    findings: list[Finding] = []
    for draw in batch.draws:
        lots = [layer.lot for layer in lying.get(draw.from_place, ()) if layer.lot]
        if _is_apart(mill, draw.from_place):
            lots = [lot for lot in lots if material_of.get(lot) == draw.ingredient]
            if not all(lot in held for lot in lots):
                continue  # another lot can be taken; a held one that is scanned is refused
        on_hold = [lot for lot in lots if lot in held]
        if on_hold:
            findings.append(_stop(mill, batch, draw.from_place, on_hold[0], held[on_hold[0]]))
    return tuple(findings)


def _stop(mill: Mill, batch: Batch, place: str, lot: str, why: str) -> Finding:
    return Finding(
        code="quality.held_draw",
        verdict=Verdict.STOP,
        about=batch.batch,
        text=f"{batch.batch} would draw from {mill.name_of(place)}, where lot {lot} lies, which "
        f"is on hold ({why.rstrip('.')}).",
        source="holds on record",
        do="release the lot, or plan the day again without that bin",
    )


def _held_by_place(record: Record) -> dict[str, dict[str, int]]:
    """Lots on hold with their nominal mass, by the bin that they lie in and are drawn from."""
    held = held_lots(record)
    if not held:
        return {}
    lying = lying_now(record)
    found: dict[str, dict[str, int]] = {}
    for row in current_mill(record).bins:
        if row.kind not in DRAWN_KINDS:
            continue
        for layer in lying.get(row.bin, ()):
            if layer.lot is not None and layer.lot in held:
                lots = found.setdefault(row.bin, {})
                lots[layer.lot] = lots.get(layer.lot, 0) + layer.mass_mg
    return found


def _is_apart(mill: Mill, place: str) -> bool:
    row = mill.bin_by_code.get(place)
    return row is not None and row.flow == FlowPattern.SEPARATE.value
