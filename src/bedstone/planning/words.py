"""Numbers in the mill's words: masses and amounts in the units that the mill reads, durations."""

from bedstone.mill.model import Mill
from bedstone.quantities.units import LB_KG

__all__ = ["amount_text", "mass_text", "place_text", "short_number"]

MG_KG_PER_CENT = 10_000.0
LARGE = 100.0


def short_number(value: float) -> str:
    """A number with as many digits as people read: three that count, none after large ones.

    Examples
    --------
    >>> short_number(1234.6), short_number(9.0), short_number(0.0123456)
    ('1,235', '9', '0.0123')
    """
    if abs(value) >= LARGE:
        return f"{value:,.0f}"
    text = f"{value:.3g}"
    return f"{value:.2g}" if "e" in text and abs(value) >= 1 else text


def mass_text(mill: Mill, mass_kg: float) -> str:
    """A mass in the unit that the mill reads."""
    if mill.settings.units == "US":
        return f"{short_number(mass_kg / float(LB_KG))} lb"
    return f"{short_number(mass_kg)} kg"


def amount_text(mill: Mill, substance: str, content_mg_kg: float) -> str:
    """An amount of a substance in the unit in which the mill reads it."""
    row = mill.substance_by_code.get(substance)
    if row is not None and row.unit_shown == "%":
        return f"{short_number(content_mg_kg / MG_KG_PER_CENT)} %"
    return f"{short_number(content_mg_kg)} {'ppm' if mill.settings.units == 'US' else 'mg/kg'}"


def place_text(mill: Mill, code: str) -> str:
    """A machine or bin by its name and code, by its code alone where it has no name."""
    name = mill.name_of(code)
    return code if name == code else f"{name} ({code})"
