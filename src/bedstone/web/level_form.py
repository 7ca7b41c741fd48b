"""A level as a person types it on a bin's page: a tape, a gauge, a scale, or bags that were counted."""

import math
from dataclasses import dataclass

from bedstone.mill.model import Bin
from bedstone.quantities.units import DIMENSIONS
from bedstone.web.guard import Posted
from bedstone.web.show import Show
from bedstone.web.typed import typed_count, typed_mass
from bedstone.web.typed_measure import typed_length_m, typed_number

__all__ = ["LevelTyped", "TypedLevel", "level_methods", "typed_level"]

TAPE_SD_M = 0.05
GAUGE_SD_FRAC = 0.01
SCALE_SD_FRAC = 0.002
BAG_SD_FRAC = 0.005
"""How well each is usually read: common practice, no source."""
MG_IN_KG = 1e6
COUNT_SD_BAGS = 0.5
WITHIN = "reading's error"


@dataclass(frozen=True, slots=True, kw_only=True)
class TypedLevel:
    """The form's fields as they were typed."""

    method: str = "tape"
    value: str = ""
    off: str = ""
    bag: str = ""
    of: str = ""

    @classmethod
    def of_form(cls, posted: Posted) -> "TypedLevel":
        """The fields of a form."""
        return cls(**{name: posted.text(name) for name in ("method", "value", "off", "bag", "of")})


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelTyped:
    """What was understood, in SI, ready for the desk."""

    method: str
    value: float
    unit: str
    sd: float
    material: str


def level_methods(show: Show) -> tuple[tuple[str, str], ...]:
    """Methods with the unit in which each is typed."""
    feet = DIMENSIONS["m"].written(show.units).label
    return (
        ("tape", f"tape from the rim down, in {feet}"),
        ("gauge", "gauge, in % full"),
        ("weighed", f"the bin's own scale, in {show.mass_unit}"),
        ("bags", "bags counted"),
    )


def typed_level(typed: TypedLevel, show: Show, row: Bin) -> LevelTyped:
    """The level that a person means.

    Raises
    ------
    BadInput
        If a number cannot be understood without doubt.
    """
    material = row.holds or typed.of
    if typed.method == "bags":
        value, sd = _bags(typed, show)
        return LevelTyped(method="bags", value=value, unit="kg", sd=sd, material=material)
    if typed.method == "weighed":
        value = typed_mass(typed.value, show).mass_mg / MG_IN_KG
        off = typed_mass(typed.off, show).mass_mg / MG_IN_KG if typed.off.strip() else 0.0
        sd = off or SCALE_SD_FRAC * row.capacity_kg
        return LevelTyped(method="weighed", value=value, unit="kg", sd=sd, material=material)
    if typed.method == "gauge":
        value = typed_number(typed.value, what="gauge", unit="% full") / 100
        off = typed_number(typed.off, what=WITHIN, unit="%") / 100 if typed.off.strip() else 0.0
        sd = off or GAUGE_SD_FRAC
        return LevelTyped(method="gauge", value=value, unit="frac", sd=sd, material=material)
    value = typed_length_m(typed.value, show, what="tape")
    off = typed_length_m(typed.off, show, what=WITHIN) if typed.off.strip() else 0.0
    return LevelTyped(
        method=typed.method, value=value, unit="m", sd=off or TAPE_SD_M, material=material
    )


def _bags(typed: TypedLevel, show: Show) -> tuple[float, float]:
    """Mass of counted bags and its sd: half a bag miscounted, and each bag off as bags are."""
    many = typed_count(typed.value, what="bags")
    bag_kg = typed_mass(typed.bag, show).mass_mg / MG_IN_KG
    sd = math.hypot(COUNT_SD_BAGS * bag_kg, BAG_SD_FRAC * many * bag_kg)
    return many * bag_kg, sd
