"""A record in memory with the hand-written mill loaded, stock in its bins and a released plan."""

import datetime as dt
from dataclasses import replace

from bedstone.desk.batches import ActualDraw, record_clean_out
from bedstone.desk.plan_json import plan_to_json
from bedstone.desk.tables import current_mill, load_tables
from bedstone.ledger.model import Fact, FlowPattern, How, Movement
from bedstone.mill.folder import LoadedFolder
from bedstone.mill.model import Bin, Content, Firm, Mill, OpeningStock, Order, Person, Weather
from bedstone.mill.plan import Batch, Plan
from bedstone.mill.residue_places import ResiduePlaces
from fakes.memory import MemoryRecord
from fakes.plans import a_mill, a_plan, at

__all__ = [
    "MORNING",
    "PLAN",
    "a_day",
    "a_desk_mill",
    "a_folder",
    "actuals",
    "an_order",
    "later",
    "move",
    "plan_released",
]

MORNING = at("05:00")
PLAN = a_plan()
STOCK_KG = {
    ("G1", "CORN-GR"): 9000.0,
    ("G3", "BARLEY-GR"): 4000.0,
    ("B4", "SBM"): 6000.0,
    ("B5", "MIDDS"): 5000.0,
    ("B6", "LIME"): 2000.0,
    ("B7", "SALT"): 1000.0,
    ("T1", "MOL"): 3000.0,
    ("T2", "OIL"): 2000.0,
    ("F1", "SHEEP-PX"): 100.0,
    ("F1", "PIG-PX"): 100.0,
    ("F1", "VITE"): 20.0,
    ("F1", "MONEN"): 10.0,
}


def a_desk_mill() -> Mill:
    """The hand-written mill with a supplier and contents of what is bad."""
    mill = a_mill()
    return replace(
        mill,
        revision=0,
        people=(*mill.people, Person(person="osk", name="Oskar Venn", role="manager")),
        firms=(
            *mill.firms,
            Firm(
                firm="fenwold",
                name="Fenwold Grain",
                role="supplier",
                address="2 Weir Road, Ferris County",
                phone="555-0102",
            ),
        ),
        bins=(
            *mill.bins,
            Bin(
                bin="B1",
                kind="ingredient",
                capacity_kg=30_000.0,
                flow=FlowPattern.MASS.value,
                holds="CORN",
            ),
            Bin(
                bin="WH1",
                name="warehouse",
                kind="warehouse",
                capacity_kg=50_000.0,
                flow=FlowPattern.SEPARATE.value,
            ),
        ),
        ingredients=tuple(
            replace(row, ground_from="CORN") if row.ingredient == "CORN-GR" else row
            for row in mill.ingredients
        ),
        contents=(
            Content(ingredient="PIG-PX", substance="copper", content_mg_kg=15_000.0, source="x"),
            Content(ingredient="MONEN", substance="monensin", content_mg_kg=200_000.0, source="x"),
        ),
    )


def an_order(code: str = "4107", **changes: object) -> Order:
    """An order of sheep feed."""
    values: dict[str, object] = {
        "order": code,
        "customer": "harrow",
        "product": "SHEEP-GR",
        "mass_kg": 5443.0,
        "pack": "bags",
        "entered_at": at("04:00"),
        "due_at": at("15:00"),
    }
    return Order(**(values | changes))  # type: ignore[arg-type]


def a_folder(**changes: object) -> LoadedFolder:
    """The mill's folder with one order, stock in every bin and an hour of weather."""
    values: dict[str, object] = {
        "mill": a_desk_mill(),
        "orders": (an_order(),),
        "opening_stock": tuple(
            OpeningStock(
                place=place,
                material=material,
                lot=f"L-{material}",
                mass_kg=mass_kg,
                received_at=at("04:00"),
                supplier="fenwold",
            )
            for (place, material), mass_kg in STOCK_KG.items()
        ),
        "weather": (Weather(hour_at=at("05:00"), temperature_c=4.0, humidity_frac=0.8),),
    }
    return LoadedFolder(**(values | changes))  # type: ignore[arg-type]


def a_day(*, clean: bool = True, mill: Mill | None = None) -> MemoryRecord:
    """A record with the folder loaded, every machine cleaned by hand, and the plan released."""
    record = MemoryRecord()
    load_tables(record, a_folder(mill=mill or a_desk_mill()), by="osk", at=MORNING)
    if clean:
        places = tuple(ResiduePlaces(current_mill(record)).number)
        record_clean_out(record, places=places, reason="new year", by="osk", at=MORNING)
    plan_released(record, PLAN)
    return record


def plan_released(record: MemoryRecord, plan: Plan) -> None:
    """Put a plan into the record and release it, without asking the verifier."""
    for kind, content in (
        ("planning.plan_proposed/1", {"plan": plan_to_json(plan)}),
        ("planning.plan_released/1", {"plan": plan.plan}),
    ):
        fact = Fact(kind=kind, happened_at=MORNING, by="osk", content=content)
        record.append(fact, recorded_at=MORNING)


def actuals(batch: Batch, **off_mg: int) -> tuple[ActualDraw, ...]:
    """Every draw on its target, but for some (``draw_3=+5000``); drugs with their lot."""
    return tuple(
        ActualDraw(
            sequence=draw.sequence,
            actual_mg=draw.target_mg + off_mg.get(f"draw_{draw.sequence}", 0),
            lot=f"L-{draw.ingredient}" if draw.ingredient == "MONEN" else None,
        )
        for draw in batch.draws
    )


def move(start: str, end: str, mass_mg: int, material: str, lot: str | None = None) -> Movement:
    """A weighed movement."""
    return Movement(
        from_place=start, to_place=end, mass_mg=mass_mg, material=material, how=How.WEIGHED, lot=lot
    )


def later(minutes: int) -> dt.datetime:
    """So many minutes after the morning."""
    return MORNING + dt.timedelta(minutes=minutes)
