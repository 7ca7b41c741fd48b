"""What the intake of a bin carried last: how much of it may come with the next load, and into what."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from bedstone.desk.arrival import eaters_of_ingredient
from bedstone.desk.folding import folded
from bedstone.desk.made import CLEANED_OUT
from bedstone.desk.merged_rows import MG_IN_KG
from bedstone.desk.receive import LOAD_ACCEPTED
from bedstone.desk.record import Record
from bedstone.ledger.model import Recorded
from bedstone.mill.model import Bin, Limit, Mill
from bedstone.mill.residue_chain import batch_map
from bedstone.quantities.masses import shown_mass
from bedstone.receiving.toxins import Eater

__all__ = ["carried_in", "last_loads"]

WORST_FEEDS = 3
LEVEL = "level"


def intake_of(row: Bin) -> str:
    """The intake of a bin; bins that name none share one with their kind, sacks go through none."""
    return "" if row.kind == "floor" else row.intake or f"the intake of {row.kind} bins"


@dataclass(frozen=True, slots=True)
class _Through:
    """The newest load into each bin, and the newest cleaning of each place, by position."""

    loads: Mapping[str, tuple[int, str]] = field(default_factory=dict)
    cleaned: Mapping[str, int] = field(default_factory=dict)


def _through(record: Record) -> _Through:
    def note(before: _Through, facts: Iterable[Recorded]) -> _Through:
        loads, cleaned = dict(before.loads), dict(before.cleaned)
        for item in facts:
            content = item.fact.content
            if item.fact.kind == LOAD_ACCEPTED:
                loads[str(content["into"])] = (item.position, str(content["ingredient"]))
            else:
                places = content["places"]
                cleaned |= (
                    dict.fromkeys(map(str, places), item.position)
                    if isinstance(places, list)
                    else {}
                )
        return _Through(loads, cleaned)

    kinds = (LOAD_ACCEPTED, CLEANED_OUT)
    return folded(record, "through intakes", kinds=kinds, start=_Through(), fold=note)


def last_loads(record: Record, mill: Mill) -> Mapping[str, str]:
    """Ingredient of the last load through each intake; nothing where it was cleaned out since.

    A truckload is hundreds of times what stays in an intake, so that nothing counts of what came
    before the last one.
    """
    through = _through(record)
    newest: dict[str, tuple[int, str]] = {}
    for row in mill.bins:
        intake, load = intake_of(row), through.loads.get(row.bin)
        if intake and load is not None:
            newest[intake] = max(newest.get(intake, load), load)
    return {
        intake: ingredient
        for intake, (position, ingredient) in newest.items()
        if through.cleaned.get(intake, 0) < position
    }


def carried_in(
    mill: Mill, row: Bin, ingredient: str, *, mass_mg: int, last: Mapping[str, str]
) -> tuple[str, ...]:
    """What may come into a bin with a load out of its intake, in sentences; nothing if it is clean
    or carried the same last.
    """
    before = last.get(intake_of(row), "")
    if not before or before == ingredient:
        return ()
    name = row.intake or "The intake"
    first = f"{name} carried {mill.name_of(before)} last"
    barred = _barred(mill, before, ingredient)
    clean = (
        (f"{first}, which brings {', '.join(barred)}: clean it out before this load.",)
        if barred
        else ()
    )
    held_kg, load_kg = row.intake_hold_up_kg, mass_mg / MG_IN_KG
    if held_kg <= 0 or load_kg <= 0:
        return clean or (f"{first}: run it empty first.",)
    sack_frac = first_frac(held_kg, load_kg, mill.settings.sack_kg)
    shown = shown_mass(round(held_kg * MG_IN_KG), units=mill.settings.units)
    amount = (
        f"{first}: up to {shown} of it may come with this load, {held_kg / load_kg:.2%} of all, "
        f"{sack_frac:.0%} of the first sackful. Run it empty first."
    )
    return (*clean, amount, *_feeds(mill, before, ingredient, held_kg=held_kg, load_kg=load_kg))


def first_frac(held_kg: float, load_kg: float, portion_kg: float) -> float:
    """Part of the first portion of a load that is what lay in the intake, by the residue chain that
    holds for all machines of the mill.
    """
    portion_kg = min(portion_kg, load_kg)
    through = batch_map((0.0, held_kg), (1.0, 1.0), mass_kg=portion_kg, sack_kg=portion_kg)
    return float(through.sacks[0, 1])


def _brings(mill: Mill, ingredient: str) -> dict[str, float]:
    return {
        one.substance: one.content_mg_kg for one in mill.contents if one.ingredient == ingredient
    }


def _limits(mill: Mill, eater: Eater) -> dict[str, Limit]:
    return {
        one.substance: one
        for one in mill.limits
        if one.product == eater.product or (not one.product and one.species == eater.species)
    }


def _barred(mill: Mill, before: str, ingredient: str) -> list[str]:
    """What the last load brings that some feed of this ingredient must not get even a trace of."""
    strange = _brings(mill, before).keys() - _brings(mill, ingredient).keys()
    found = {
        code
        for eater in eaters_of_ingredient(mill, ingredient)
        for code, limit in _limits(mill, eater).items()
        if code in strange and limit.kind != LEVEL
    }
    return sorted(mill.substance_by_code[code].name for code in found)


def _feeds(
    mill: Mill, before: str, ingredient: str, *, held_kg: float, load_kg: float
) -> tuple[str, ...]:
    """The feeds that get most of their level out of it, if all of it meets their first batch."""
    rows = []
    for eater in eaters_of_ingredient(mill, ingredient):
        draw_kg = eater.share_frac * _batch_kg(mill, eater.product)
        part = eater.share_frac * first_frac(held_kg, load_kg, draw_kg)
        for code, limit in _limits(mill, eater).items():
            content = _brings(mill, before).get(code, 0.0)
            if content > 0 and limit.kind == LEVEL and limit.level_mg_kg:
                rows.append((part * content / limit.level_mg_kg, part * content, eater, limit))
    rows.sort(key=lambda row: (-row[0], row[2].product))
    return tuple(
        f"In the first batch of {mill.name_of(eater.product)} that is at most {added:.2g} mg/kg "
        f"{mill.substance_by_code[limit.substance].name} (level {limit.level_mg_kg:g})."
        for _, added, eater, limit in rows[:WORST_FEEDS]
    )


def _batch_kg(mill: Mill, product: str) -> float:
    """The smallest batch of a product's mixer, which gets most of a trace."""
    start = mill.product_by_code[product].route.split(">")[0].split("|")[0].strip()
    machine = mill.machine_by_code.get(start)
    return (machine.mass_min_kg if machine else None) or mill.settings.sack_kg
