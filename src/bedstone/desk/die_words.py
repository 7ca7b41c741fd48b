"""Figures of dies and rolls in the words and units of the mill."""

from bedstone.desk.wear_parts import Wear
from bedstone.pelleting.die import Die, face_speed_m_s
from bedstone.quantities.line_figures import length_words
from bedstone.quantities.units import DIMENSIONS, from_si

__all__ = [
    "area_load_words",
    "energy_words",
    "face_speed_words",
    "face_words",
    "gap_words",
    "left_words",
    "pellet_length_words",
    "tons_words",
]

KG_IN_T = 1000
MM_IN_INCH = 25.4
S_IN_MIN, S_IN_H = 60, 3600
IN2_IN_M2 = 1 / 0.0254**2
LB_IN_KG = 1 / 0.45359237
DAYS_IN_WEEK = 7
LONG_WEEKS = 104


def _tons(mass_t: float, units: str) -> float:
    unit = DIMENSIONS["kg"].units["ton" if units == "US" else "t"]
    return float(from_si(mass_t * KG_IN_T, unit))


def tons_words(mass_t: float, units: str) -> str:
    """Feed made on a part."""
    return f"{_tons(mass_t, units):,.0f} {'tons' if units == 'US' else 't'}"


def energy_words(kwh_t: float, units: str) -> str:
    """Energy for a ton of feed."""
    return f"{kwh_t / _tons(1.0, units):.1f} kWh/{'ton' if units == 'US' else 't'}"


def face_speed_words(speed_m_s: float, units: str) -> str:
    """Speed of the die's face."""
    if units == "US":
        return f"{speed_m_s * S_IN_MIN / 0.3048:,.0f} ft/min"
    return f"{speed_m_s * S_IN_MIN:.0f} m/min"


def face_words(die: Die, turns_per_min: float, units: str) -> str:
    """Speed of a die's face at its turns."""
    return face_speed_words(face_speed_m_s(die, turns_per_min), units)


def area_load_words(kg_s_m2: float, units: str) -> str:
    """Mash for each unit of open area."""
    if units == "US":
        return f"{kg_s_m2 * S_IN_H * LB_IN_KG / IN2_IN_M2:.0f} lb/h for each in² of holes"
    return f"{kg_s_m2:.0f} kg/s for each m² of holes"


def pellet_length_words(length_mm: float, units: str) -> str:
    """A length of pellets, or where the knives stand: no finer than anybody sets it.

    Examples
    --------
    >>> pellet_length_words(16.2, "US"), pellet_length_words(16.2, "SI")
    ('0.64 in', '16.2 mm')
    """
    if units == "US":
        return f"{length_mm / MM_IN_INCH:.2f} in"
    return length_words(length_mm, units)


def gap_words(gap_mm: float | None, wanted_mm: float, units: str) -> str:
    """Where the knives stand for pellets of a length."""
    wanted = pellet_length_words(wanted_mm, units)
    if gap_mm is None:
        return f"at no gap give {wanted}: pellets grow more between them; more knives, or slower"
    return f"{pellet_length_words(gap_mm, units)} off the face for {wanted}"


def left_words(one: Wear, units: str) -> str:
    """How much a part has left, and how long that is at the pace of its last four weeks."""
    if one.life is None:
        return "nobody says how long one lasts"
    said = tons_words(one.life.left_t, units)
    if one.days_left is None:
        return f"{said}; none made of late"
    weeks = one.days_left / DAYS_IN_WEEK
    return f"{said}, over two years" if weeks > LONG_WEEKS else f"{said}, about {weeks:.0f} weeks"
