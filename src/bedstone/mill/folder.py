"""What a mill folder holds once it has been read and found right."""

from dataclasses import dataclass

from bedstone.mill.model import Mill, OpeningStock, Order, Weather

__all__ = ["LoadedFolder"]


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadedFolder:
    """The tables that make a revision, and the rows that are merged by key into the record."""

    mill: Mill
    orders: tuple[Order, ...] = ()
    opening_stock: tuple[OpeningStock, ...] = ()
    weather: tuple[Weather, ...] = ()
