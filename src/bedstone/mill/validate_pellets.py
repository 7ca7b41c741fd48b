"""Coolers, conditioners, dies and pellets: that they belong to pellet lines and pelleted feeds."""

import math
from collections.abc import Iterator

from bedstone.errors import Fault
from bedstone.mill.goods import Composition
from bedstone.mill.pellet_tables import (
    Cooler,
    DieRow,
    HeatSensitive,
    PelletLine,
    Pellets,
    fan_points,
)
from bedstone.mill.validate_places import Check

__all__ = ["pellet_rules"]

LINE = "pellet line"
MOST_OPEN = 0.7
SLOWEST_M_S, QUICKEST_M_S = 0.05, 4.0
FT_MIN = 60 / 0.3048


def pellet_rules(check: Check) -> Iterator[Iterator[Fault]]:
    """Yield the rules of pellet lines."""
    for at, machine in check.each(PelletLine):
        yield _on_a_line(check, PelletLine, at, machine.line)
    for at, cooler in check.each(Cooler):
        yield _on_a_line(check, Cooler, at, cooler.line)
    for at, die in check.each(DieRow):
        yield _on_a_line(check, DieRow, at, die.line)
    for at, cooler in check.each(Cooler):
        yield _air(check, at, cooler)
        yield _speed(check, at, cooler)
        yield _duct(check, at, cooler)
    for at, die in check.each(DieRow):
        yield _holes(check, at, die)
        yield _thickness(check, at, die)
    for at, pellets in check.each(Pellets):
        yield _pelleted(check, at, pellets)
        yield _fits_die(check, at, pellets)
        yield _liquid(check, at, pellets)
    for at, additive in check.each(HeatSensitive):
        yield _potency(check, at, additive)


def _on_a_line(check: Check, row_type: type, at: int, line: str) -> Iterator[Fault]:
    kind = check.machine_kind(line)
    if kind and kind != LINE:
        yield check.fault(
            row_type, at, "line", found=f"{line}, which is a {kind}", allowed="a pellet line"
        )


def _air(check: Check, at: int, row: Cooler) -> Iterator[Fault]:
    if (row.air_m3_s is None) == (not row.fan_curve):
        yield check.fault(
            Cooler,
            at,
            "air_m3_s",
            found="both a measured volume and a fan's curve"
            if row.fan_curve
            else "neither a measured volume nor a fan's curve",
            allowed="exactly one of the two",
            do="a volume measured at the fan is the better one",
        )
    if row.fan_curve and fan_points(row.fan_curve) is None:
        yield check.fault(
            Cooler,
            at,
            "fan_curve",
            found=f'"{row.fan_curve}"',
            allowed="two points or more such as 0.5:1500 1.5:1200, volume (m3/s) rising and "
            "pressure (Pa) falling",
        )


def _speed(check: Check, at: int, row: Cooler) -> Iterator[Fault]:
    """Air that no bed of the size lets through; published is 1.26 m/s (World Grain, May 2014)."""
    if row.air_m3_s is None:
        return
    speed_m_s = row.air_m3_s / row.area_m2
    if not SLOWEST_M_S <= speed_m_s <= QUICKEST_M_S:
        yield check.fault(
            Cooler,
            at,
            "air_m3_s",
            found=f"{speed_m_s * FT_MIN:.3g} ft3/min for each ft2 of bed ({speed_m_s:.2g} m3/s for "
            "each m2)",
            allowed=f"{SLOWEST_M_S * FT_MIN:.0f} to {QUICKEST_M_S * FT_MIN:.0f} ft3/min "
            f"({SLOWEST_M_S:g} to {QUICKEST_M_S:g} m3/s); usual is 250 (1.3)",
            do="look at the area of the bed and the unit of the air",
        )


def _duct(check: Check, at: int, row: Cooler) -> Iterator[Fault]:
    if row.duct_pa > 0 and row.duct_at_m3_s is None:
        yield check.fault(
            Cooler,
            at,
            "duct_at_m3_s",
            found="an empty cell beside a pressure lost in ducts",
            allowed="the volume of air at which it was measured",
        )


def _holes(check: Check, at: int, row: DieRow) -> Iterator[Fault]:
    face = math.pi * row.inner_diameter_mm * row.face_width_mm
    open_frac = row.holes * math.pi / 4 * row.hole_mm**2 / face
    if open_frac >= MOST_OPEN:
        yield check.fault(
            DieRow,
            at,
            "holes",
            found=f"{row.holes} holes that would open {100 * open_frac:.0f} % of the face",
            allowed=f"below {100 * MOST_OPEN:g} %",
            do="count holes and measure the face again",
        )


def _thickness(check: Check, at: int, row: DieRow) -> Iterator[Fault]:
    if row.thickness_mm is not None and row.thickness_mm < row.effective_mm:
        yield check.fault(
            DieRow,
            at,
            "thickness_mm",
            found=check.shown(DieRow, "thickness_mm", row.thickness_mm),
            allowed=f"at least the length that presses, "
            f"{check.shown(DieRow, 'effective_mm', row.effective_mm)}",
        )


def _pelleted(check: Check, at: int, row: Pellets) -> Iterator[Fault]:
    product = check.products.get(row.product)
    if product is not None and product.form != "pellet":
        yield check.fault(
            Pellets,
            at,
            "product",
            found=f"{row.product}, which products.csv sells as {product.form}",
            allowed="a product whose form is pellet",
        )


def _fits_die(check: Check, at: int, row: Pellets) -> Iterator[Fault]:
    product = check.products.get(row.product)
    if product is None:
        return
    for _, die in check.each(DieRow):
        if die.die == product.die and not 0.8 <= row.diameter_mm / die.hole_mm <= 1.25:  # noqa: PLR2004 - pellets swell and shrink a little
            yield check.fault(
                Pellets,
                at,
                "diameter_mm",
                found=f"{check.shown(Pellets, 'diameter_mm', row.diameter_mm)}, from a die with "
                f"holes of {die.hole_mm:g} mm",
                allowed="near the hole of the die that products.csv names",
                do="look at the unit",
            )
            return


def _potency(check: Check, at: int, row: HeatSensitive) -> Iterator[Fault]:
    """What heat harms has its potency in composition, else nothing can be held against the tag."""
    if not row.nutrient:
        return
    held = {one.nutrient for _, one in check.each(Composition) if one.ingredient == row.ingredient}
    if row.nutrient not in held:
        yield check.fault(
            HeatSensitive,
            at,
            "nutrient",
            found=f'"{row.nutrient}", which composition.csv does not have of {row.ingredient}',
            allowed=f"one of {', '.join(sorted(held))}, or an empty cell"
            if held
            else "an empty cell",
            do=f"add what {row.ingredient} holds of it to composition.csv, from its maker or an assay",
        )


def _liquid(check: Check, at: int, row: Pellets) -> Iterator[Fault]:
    found = check.ingredients.get(row.conditioner_liquid)
    if found is not None and found.ingredient_class != "liquid":
        yield check.fault(
            Pellets,
            at,
            "conditioner_liquid",
            found=f"{row.conditioner_liquid}, which is a {found.ingredient_class}",
            allowed="an ingredient of the class liquid, or an empty cell",
        )
