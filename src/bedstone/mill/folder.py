"""What a mill folder holds once it has been read and found right."""

from dataclasses import dataclass

from bedstone.mill.attributes import column
from bedstone.mill.model import Assay, Mill, OpeningStock, Order, Weather

__all__ = ["LoadedFolder", "RecordPlace"]


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordPlace:
    """``[record]`` of ``mill.toml``: where the record lies if not in the folder itself."""

    address: str = column(
        "address of a PostgreSQL database; its password stands in PGPASSWORD or .pgpass, never "
        "here; without an address the record is bedstone.sqlite in the folder",
        default="",
        example="postgresql://bedstone@server/mill",
        longest=1000,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadedFolder:
    """The tables that make a revision, and the rows that are merged by key into the record."""

    mill: Mill
    orders: tuple[Order, ...] = ()
    opening_stock: tuple[OpeningStock, ...] = ()
    weather: tuple[Weather, ...] = ()
    assays: tuple[Assay, ...] = ()
    record_place: RecordPlace = RecordPlace()
