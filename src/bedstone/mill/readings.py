"""What is read from machines: the quantities, their units, and what a reading may be."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

__all__ = ["LINE_QUANTITIES", "QUANTITIES", "USUAL", "Quantity", "ReadingRow"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """Something that is read, its unit, and the range outside of which a reading is a slip."""

    unit: str
    low: float
    high: float
    meaning: str


def _rows(*rows: tuple[str, str, float, float, str]) -> Mapping[str, Quantity]:
    return MappingProxyType(
        {
            name: Quantity(unit=unit, low=low, high=high, meaning=meaning)
            for name, unit, low, high, meaning in rows
        }
    )


QUANTITIES: Final[Mapping[str, Quantity]] = _rows(
    ("mash temperature", "C", -30, 80, "mash as it enters the conditioner"),
    ("mash moisture", "kg/kg", 0, 1, "moisture of the mash before steam, wet basis"),
    ("mash flow", "kg/s", 0, 30, "mash into the conditioner, as the feeder shows it"),
    ("conditioner temperature", "C", -30, 130, "mash as it leaves the conditioner"),
    ("steam flow", "kg/s", 0, 5, "steam into the conditioner"),
    ("motor current", "A", 0, 2_000, "main motor of the pellet mill"),
    ("die temperature", "C", -30, 180, "pellets as they leave the die"),
    ("cooler outlet temperature", "C", -40, 120, "pellets as they leave the cooler"),
    ("cooler outlet moisture", "kg/kg", 0, 1, "moisture of those pellets, wet basis"),
    ("exhaust air temperature", "C", -40, 120, "air as it leaves the cooler"),
    ("mixer load cells", "kg", 0, 50_000, "mass in the mixer after each addition; run: the batch"),
    ("bag temperature", "C", -40, 120, "feed as it goes into the bag"),
    ("bag moisture", "kg/kg", 0, 1, "moisture of that feed, wet basis"),
    ("bag mass", "kg", 0, 100, "net mass of a bag weighed again"),
    ("bin temperature", "C", -40, 150, "inside a bin"),
    ("tank temperature", "C", -40, 150, "of a liquid in its tank"),
)
"""Name of each quantity; the ranges are common practice, no source, wide on purpose."""
LINE_QUANTITIES: Final = (
    "mash temperature",
    "mash moisture",
    "mash flow",
    "conditioner temperature",
    "steam flow",
    "motor current",
    "die temperature",
    "cooler outlet temperature",
    "cooler outlet moisture",
    "exhaust air temperature",
)
"""What is read along a pellet line, in the order in which feed passes."""
USUAL: Final[Mapping[str, tuple[float, float]]] = MappingProxyType(
    {
        "mash temperature": (-25, 60),
        "mash moisture": (0.03, 0.3),
        "conditioner temperature": (30, 105),
        "die temperature": (30, 130),
        "cooler outlet temperature": (-25, 80),
        "cooler outlet moisture": (0.03, 0.3),
        "exhaust air temperature": (-25, 100),
    }
)
"""What is typed of a line, or belongs to a run, lies in this range, or is in another unit than meant,
or a slip: common practice, no source. In the unit of the quantity. Nothing that is read of a line is
above it; where the line stands idle a list may go below it.
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingRow:
    """One reading in the unit of its quantity, and the run it belongs to if there is one."""

    at: dt.datetime
    value: float
    run: str = ""
