"""How what lies in a bin keeps, by its moisture, at temperatures to choose from."""

from dataclasses import dataclass

from bedstone.desk.formula_levels import Known
from bedstone.errors import BadInput
from bedstone.materials.library import library
from bedstone.mill.model import Ingredient, Mill
from bedstone.storage.life import (
    PER_CENT_DRY,
    SAFE_ACTIVITY,
    AirBetween,
    air_between,
    corn_keeps_s,
)

__all__ = ["SAFE_ACTIVITY", "Keeping", "keeping"]

GRAIN_C = (5.0, 15.0, 25.0)
DAY_S = 86_400.0
CORN = "corn"


@dataclass(frozen=True, slots=True, kw_only=True)
class Keeping:
    """What the moisture of grain says of its keeping.

    ``air`` is the air between kernels at each temperature; ``source`` whose isotherm that is by.
    ``days`` are days from harvest at each temperature, of whole corn only: of other materials no
    source is known.
    """

    moisture_wb: float
    air: tuple[AirBetween, ...]
    source: str
    days: tuple[tuple[float, float], ...]  # temperature in C, days

    @property
    def is_too_wet(self) -> bool:
        """True when moulds may grow at some of the temperatures."""
        return any(row.activity > SAFE_ACTIVITY for row in self.air)


def keeping(mill: Mill, material: str, known: Known) -> Keeping | None:
    """How grain keeps at the moisture of what is known of it; None for what has no isotherm.

    Of several isotherms of a grain the first of the library is taken.
    """
    row = mill.ingredient_by_code.get(material)
    if row is None or not row.library:
        return None
    isotherm = next(
        (
            one
            for one in library().isotherms
            if one.ingredient == row.library and one.moisture_in == PER_CENT_DRY
        ),
        None,
    )
    if isotherm is None:
        return None
    try:
        air = tuple(
            air_between(temperature_c=warm_c, moisture_wb=known.moisture_wb, isotherm=isotherm)
            for warm_c in GRAIN_C
        )
    except BadInput:
        return None
    return Keeping(
        moisture_wb=known.moisture_wb,
        air=air,
        source=f"{isotherm.printed_as}, {isotherm.form}, {isotherm.source.title}",
        days=_days(row, known.moisture_wb),
    )


def _days(row: Ingredient, moisture_wb: float) -> tuple[tuple[float, float], ...]:
    """Of whole corn, unless it is wetter or drier than was measured."""
    if row.library != CORN or row.ingredient_class != "grain":
        return ()
    try:
        return tuple(
            (warm_c, corn_keeps_s(temperature_c=warm_c, moisture_wb=moisture_wb) / DAY_S)
            for warm_c in GRAIN_C
        )
    except BadInput:
        return ()
