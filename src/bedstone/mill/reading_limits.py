"""What a reading may be: one range for what is typed and for what a list brings."""

from typing import NamedTuple

from bedstone.mill.model import Mill
from bedstone.mill.readings import QUANTITIES, USUAL

__all__ = ["Allowed", "allowed_reading"]

MOST_OF_RATE = 2.0
"""No line takes more than so many times its fastest rate of the tables."""
MOST_STEAM_FRAC = 0.2
"""Of that rate as steam: boiling the driest, coldest mash takes half of it."""
MOST_OF_PLATE = 1.5
"""A motor's plate so many times over is a start or a plugged die, not a run. All three: common
practice, no source.
"""
READ_AS = {
    "C": "such as 82 °C or 180 °F",
    "kg/kg": "12.5 means 12.5 %",
}
LOOK = "look at the number and its unit"


class Allowed(NamedTuple):
    """The range of a reading in the unit of its quantity, and what to do outside of it."""

    low: float
    high: float
    do: str


def allowed_reading(mill: Mill, instrument: str, quantity: str, *, of_run: bool) -> Allowed:
    """The range in which a reading is taken.

    Parameters
    ----------
    mill : Mill
        Rates and plates of its tables bound flows and current.
    instrument : str
        Where it was read.
    quantity : str
        One of ``QUANTITIES``.
    of_run : bool
        Whether it was typed, or belongs to a run: a line that stands idle may be colder and drier
        than feed on it, never hotter or wetter.

    Returns
    -------
    allowed : Allowed
        In the unit of the quantity.
    """
    known = QUANTITIES[quantity]
    if quantity in USUAL:
        low, high = USUAL[quantity]
        as_typed = f"look at the number, or type its unit behind it; {READ_AS[known.unit]}"
        return Allowed(low if of_run else known.low, high, as_typed if of_run else LOOK)
    most = _most(mill, instrument, quantity, of_run=of_run)
    if most is None or most[0] >= known.high:
        return Allowed(known.low, known.high, LOOK)
    return Allowed(known.low, *most)


def _most(mill: Mill, instrument: str, quantity: str, *, of_run: bool) -> tuple[float, str] | None:
    """The most that a line of the tables can show, and what to do beyond; None if nothing says."""
    machine = mill.machine_by_code.get(instrument)
    if machine is None or machine.kind != "pellet line":
        return None
    if quantity in ("mash flow", "steam flow"):
        rates = [row.rate_kg_s for row in mill.rates if row.machine == instrument]
        fastest = max([machine.rate_kg_s or 0.0, *rates])
        part = MOST_OF_RATE if quantity == "mash flow" else MOST_STEAM_FRAC
        much = "twice" if quantity == "mash flow" else "a fifth of"
        do = (
            f"look at the number and its unit; at most {much} the line's fastest rate in the tables"
        )
        return (part * fastest, do) if fastest else None
    plate = next((row.motor_full_a for row in mill.pellet_lines if row.line == instrument), None)
    if quantity != "motor current" or plate is None or not of_run:
        return None
    do = (
        f"at most {MOST_OF_PLATE:g} times the plate's {plate:.0f} A; the current of a start, or of a "
        "plugged die, is no reading of a run: leave it out, or its run empty in a list"
    )
    return MOST_OF_PLATE * plate, do
