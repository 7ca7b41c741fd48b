"""How full a mixer gets by volume: a light formula overfills it before it is too heavy."""

import math
from dataclasses import dataclass

from bedstone.desk.bin_room import Density, density_of
from bedstone.desk.merged_rows import MG_IN_KG
from bedstone.mill.model import Mill
from bedstone.mill.plan import Batch, Finding, Verdict
from bedstone.quantities.masses import shown_mass
from bedstone.quantities.units import DIMENSIONS, from_si

__all__ = ["Fill", "Taken", "fill_of", "unmet_fill"]

SURE = 1.645
"""Standard deviations that one batch in twenty passes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """What one draw takes up, by which bulk density."""

    ingredient: str
    volume_m3: float
    density: Density


@dataclass(frozen=True, slots=True, kw_only=True)
class Fill:
    """Volume of a batch in its mixer, as the sum of what its draws take up.

    ``full_frac`` is of the mixer's largest volume.
    """

    volume_m3: float
    sd_m3: float
    most_m3: float
    full_frac: float
    mash_kg_m3: float
    taken: tuple[Taken, ...]


def fill_of(mill: Mill, batch: Batch) -> Fill | None:
    """The fill of a batch by the bulk densities of its draws; None where the mixer has no volume.

    Volumes add up, liquids too: what seeps between particles makes it less, never more.
    """
    mixer = mill.machine_by_code.get(batch.mixer)
    if mixer is None or not mixer.volume_max_m3 or not batch.draws:
        return None
    volume_m3 = variance = mass_kg = 0.0
    taken: list[Taken] = []
    for draw in batch.draws:
        density = density_of(mill, draw.ingredient)
        kg = draw.target_mg / MG_IN_KG
        taken_m3 = kg / density.density_kg_m3
        sd_m3 = taken_m3 * density.sd_kg_m3 / density.density_kg_m3
        mass_kg += kg
        volume_m3 += taken_m3
        variance += sd_m3**2
        taken.append(Taken(ingredient=draw.ingredient, volume_m3=taken_m3, density=density))
    return Fill(
        volume_m3=volume_m3,
        sd_m3=math.sqrt(variance),
        most_m3=mixer.volume_max_m3,
        full_frac=volume_m3 / mixer.volume_max_m3,
        mash_kg_m3=mass_kg / volume_m3,
        taken=tuple(taken),
    )


def unmet_fill(mill: Mill, batch: Batch) -> tuple[Finding, ...]:
    """What there is to say of a batch that overfills its mixer, or may; nothing if it fits."""
    fill = fill_of(mill, batch)
    if fill is None or fill.volume_m3 + SURE * fill.sd_m3 <= fill.most_m3:
        return ()
    units = mill.settings.units
    unit = DIMENSIONS["m3"].written(units)

    def shown(volume_m3: float) -> str:
        return f"{float(from_si(volume_m3, unit)):.3g} {unit.label}"

    too_much = fill.volume_m3 > fill.most_m3
    less_mg = round(
        (fill.volume_m3 + SURE * fill.sd_m3 - fill.most_m3) * fill.mash_kg_m3 * MG_IN_KG
    )
    return (
        Finding(
            code="mixer.fill",
            verdict=Verdict.ACT if too_much else Verdict.NOTE,
            about=batch.batch,
            text=f"This formula {'overfills' if too_much else 'may overfill'} the mixer: "
            f"{shown(fill.volume_m3)}, give or take {shown(fill.sd_m3)}, in "
            f"{shown(fill.most_m3)}.",
            value=fill.volume_m3,
            limit=fill.most_m3,
            unit="m3",
            source="volume_max of the mixer in the mill's tables; bulk densities of the draws",
            do=f"watch that nothing lies above the ribbon or paddles; {shown_mass(less_mg, units=units)} "
            "less in a batch is sure to fit",
        ),
    )
