"""Runs of the demo mill on its pellet lines, made batch by batch without a plan."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import replace

from bedstone.demo.quillback import quillback_folder
from bedstone.desk.line_water import pelleted_by_readings
from bedstone.desk.made import MadeBatch, MadeDraw
from bedstone.desk.plain_values import row_plain
from bedstone.desk.readings import record_readings
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.desk.runs import record_pelleted
from bedstone.desk.tables import load_tables
from bedstone.ledger.model import Fact, How, Json, Lot, LotKind, Movement, Recorded
from bedstone.mill.model import Weather
from bedstone.mill.plan import BatchKind
from bedstone.mill.readings import ReadingRow

__all__ = ["AT", "BATCHES", "RUN", "line_record", "made", "pelleted", "read", "shipped"]

AT = dt.datetime(2026, 9, 1, 15, 20, tzinfo=dt.UTC)
RUN = "R-1"
BATCHES = ("1-01", "1-02")
ROUTES = {"RABBIT-16": ("MX2", "SB3", "PL2", "FB6", "SK2"),
          "HORSE-SUP": ("MX2", "SB3", "PL2", "FB8", "SK2"),
          "SHEEP-GR": ("MX1", "SB1", "PL1", "FB1", "SK1"),
          "DAIRY-18": ("MX1", "SB1", "PL1", "FB1", "SK1")}  # fmt: skip


def line_record(record: Record, *, air_c: float = 20.0) -> None:
    """The demo mill's tables with a day of the same air in every hour."""
    folder = quillback_folder(AT.date(), past_days=1)
    hours = tuple(
        Weather(hour_at=AT.replace(hour=hour, minute=0), temperature_c=air_c, humidity_frac=0.5)
        for hour in range(24)
    )
    load_tables(record, replace(folder, weather=hours, assays=(), orders=()), by="dell",
                at=AT - dt.timedelta(hours=10))  # fmt: skip


def made(
    record: Record,
    run: str = RUN,
    *,
    product: str = "RABBIT-16",
    batches: Sequence[str] = BATCHES,
    mass_mg: int = 900_000_000,
    at: dt.datetime = AT - dt.timedelta(hours=1),
) -> None:
    """Batches of a run that lie in the surge bin ahead of its line."""
    route = ROUTES[product]
    all_of_it = MadeDraw(
        sequence=1, ingredient="BARLEY-G", from_place="G02", instrument="SC1", target_mg=mass_mg,
        actual_mg=mass_mg, tolerance_mg=0,
    )  # fmt: skip
    for batch in batches:
        content = row_plain(
            MadeBatch(
                batch=batch, run=run, plan="", kind=BatchKind.FEED, material=product,
                formula_version=1, mixer=route[0], route=route, destination=route[3], draws=(all_of_it,),
            )
        )  # fmt: skip
        fact = Fact(
            kind="batching.batch_made/1",
            happened_at=at,
            by="dell",
            content=content,
            movements=(
                Movement(from_place="opening", to_place=route[1], mass_mg=mass_mg,
                         material=product, how=How.WEIGHED, lot=batch),
            ),
            lots=(Lot(lot=batch, kind=LotKind.BATCH, material=product),),
        )  # fmt: skip
        record.append(fact, recorded_at=at)


def read(
    record: Record,
    run: str = RUN,
    line: str = "PL2",
    *,
    at: dt.datetime = AT,
    **values: float,
) -> None:
    """Readings of a run, one of each quantity."""
    for name, value in values.items():
        record_readings(
            record, instrument=line, quantity=name.replace("_", " "),
            rows=[ReadingRow(at=at, value=value, run=run)], by="dell", at=at,
        )  # fmt: skip


def pelleted(
    record: Record,
    run: str = RUN,
    *,
    product: str = "RABBIT-16",
    mash_mg: Mapping[str, int] | None = None,
    at: dt.datetime = AT + dt.timedelta(minutes=30),
    **given: Mapping[str, int],
) -> Recorded:
    """The pelleting of a run, with what was metered and weighed of it; the rest by its readings."""
    route = ROUTES[product]
    masses = mash_mg or dict.fromkeys(BATCHES, 900_000_000)
    rows = pelleted_by_readings(record, run, route[2], masses, **given)
    return record_pelleted(
        record, run=run, machine=route[2], from_place=route[1], to_place=route[3], batches=rows,
        by="dell", at=at,
    )  # fmt: skip


def shipped(
    record: Record,
    run: str = RUN,
    *,
    product: str = "RABBIT-16",
    bags_mg: int,
    left_mg: int,
    at: dt.datetime = AT + dt.timedelta(hours=1),
) -> None:
    """Pellets of a run packed out of their bin, and what of them left for the first customer."""
    mill = current_mill(record)
    customer = next(row.firm for row in mill.firms if row.role == "customer")
    house = next(row.bin for row in mill.bins if row.kind == "warehouse")
    _, _, _, bin_code, packer = ROUTES[product]
    content: dict[str, Json] = {"run": run, "product": product, "machine": packer, "bags": 1}
    content |= {"from": bin_code, "to": house, "batches": []}
    record.append(
        Fact(
            kind="finishing.run_packed/1", happened_at=at, by="dell", content=content,
            movements=(
                Movement(from_place=bin_code, to_place=packer, mass_mg=bags_mg, material=product,
                         how=How.COUNTED),
                Movement(from_place=packer, to_place=house, mass_mg=bags_mg, material=product,
                         how=How.COUNTED, lot=run),
            ),
            lots=(Lot(lot=run, kind=LotKind.RUN, material=product),),
        ),
        recorded_at=at,
    )  # fmt: skip
    content = {"run": run, "order": "77", "customer": customer, "bags": 1}
    record.append(
        Fact(
            kind="finishing.shipped/1", happened_at=at, by="dell", content=content,
            movements=(
                Movement(from_place=house, to_place=f"customer/{customer}", mass_mg=left_mg,
                         material=product, how=How.COUNTED, lot=run),
            ),
        ),
        recorded_at=at,
    )  # fmt: skip
