"""What a simulated person reads off a bin when the moment comes."""

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass

from bedstone.demo.past.floor import Floor, Stock
from bedstone.ledger.model import Fact
from bedstone.mill.model import Bin

__all__ = ["LevelReading"]


@dataclass(frozen=True, kw_only=True)
class LevelReading:
    """Makes the fact of a level from the true stock of its moment."""

    floor: Floor
    held: Bin
    at: dt.datetime
    method: str
    unit: str
    sd: float
    shown: Callable[[Stock], float]

    def __call__(self, stock: Stock) -> Fact:
        """The fact of the level as it was read."""
        return Fact(
            kind="storage.level_read/1",
            happened_at=self.at.replace(microsecond=0),
            by=self.floor.who("receiver", self.at),
            content={
                "place": self.held.bin,
                "material": self.held.holds,
                "method": self.method,
                "value": self.shown(stock),
                "unit": self.unit,
                "sd": self.sd,
            },
        )
