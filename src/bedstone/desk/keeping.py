"""How long what lies in a bin keeps, by its moisture, at temperatures to choose from."""

from dataclasses import dataclass

from bedstone.desk.assays import assays_lying_in
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.errors import BadInput
from bedstone.storage.life import corn_keeps_s

__all__ = ["Keeping", "keeping"]

GRAIN_C = (5.0, 15.0, 25.0)
DAY_S = 86_400.0
CORN = "corn"
MOISTURE = "moisture"


@dataclass(frozen=True, slots=True, kw_only=True)
class Keeping:
    """Days from harvest at each temperature of the grain, and where its moisture is from."""

    moisture_wb: float
    moisture_from: str
    days: tuple[tuple[float, float], ...]  # temperature in C, days


def keeping(record: Record, place: str, material: str) -> Keeping | None:
    """How long whole corn in a bin keeps; None for anything else, of which no source is known.

    Moisture is the mean of the assays of the lots that lie in it, weighed by their masses, else
    that of the tables. Corn wetter or drier than was measured gives None too.
    """
    row = current_mill(record).ingredient_by_code.get(material)
    if row is None or row.library != CORN or row.ingredient_class != "grain":
        return None
    seen = [
        (found.value / 100, mass_mg)
        for found, mass_mg in assays_lying_in(record, place)
        if found.nutrient == MOISTURE and found.unit == "%" and found.of == material
    ]
    whole_mg = sum(mass_mg for _, mass_mg in seen)
    moisture_wb, source = row.moisture_wb, "the ingredients table"
    if whole_mg > 0:
        moisture_wb = sum(value * mass_mg for value, mass_mg in seen) / whole_mg
        source = "assays of lots that lie in it"
    try:
        days = tuple(
            (warm_c, corn_keeps_s(temperature_c=warm_c, moisture_wb=moisture_wb) / DAY_S)
            for warm_c in GRAIN_C
        )
    except BadInput:
        return None
    return Keeping(moisture_wb=moisture_wb, moisture_from=source, days=days)
