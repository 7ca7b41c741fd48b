"""A record in memory with the demo mill's tables loaded, for tests of formulas."""

import datetime as dt
from dataclasses import replace

from bedstone.demo.quillback import quillback_folder
from bedstone.desk.formulate import Choices
from bedstone.desk.tables import load_tables
from bedstone.ledger.model import Fact, How, Lot, LotKind, Movement
from bedstone.mill.model import Assay, Mill
from fakes.memory import MemoryRecord

__all__ = ["AT", "DAY", "TODAY", "a_load", "a_protein", "a_record", "later"]

DAY = dt.date(2026, 11, 25)
AT = dt.datetime(2026, 11, 25, 12, tzinfo=dt.UTC)
TODAY = Choices(on=DAY)
MG_IN_T = 10**9


def later(hours: float) -> dt.datetime:
    """So many hours after the tables were loaded."""
    return AT + dt.timedelta(hours=hours)


def a_record(change: object = None) -> MemoryRecord:
    """The demo mill without orders and without stock; its tables changed if asked."""
    folder = quillback_folder(dt.date(2026, 11, 26))
    mill: Mill = change(folder.mill) if callable(change) else folder.mill
    record = MemoryRecord()
    bare = replace(folder, mill=mill, orders=(), weather=(), opening_stock=())
    load_tables(record, bare, by="dell", at=AT)
    return record


def a_load(
    record: MemoryRecord, lot: str, ingredient: str, place: str, *, tonnes: float, hours: float
) -> None:
    """Put a load of an ingredient into a bin."""
    record.append(
        Fact(
            kind="receiving.load_accepted/1",
            happened_at=later(hours),
            by="tomas",
            content={"lot": lot, "firm": "harrow", "ingredient": ingredient, "into": place,
                     "ticket": "", "carrier": "", "note": ""},
            movements=(
                Movement(from_place="supplier/harrow", to_place=place, material=ingredient,
                         mass_mg=round(tonnes * MG_IN_T), how=How.WEIGHED, lot=lot),
            ),
            lots=(Lot(lot=lot, kind=LotKind.LOAD, material=ingredient),),
        ),
        recorded_at=later(hours),
    )  # fmt: skip


def a_protein(
    report: str, of: str, lot: str, value: float, *, sd: float | None, hours: float
) -> Assay:
    """A laboratory's crude protein of a lot."""
    return Assay(assay=report, nutrient="crude protein", of=of, lot=lot, value=value, unit="%",
                 sd=sd, method="combustion", sampled_at=later(hours))  # fmt: skip
