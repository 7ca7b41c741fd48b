"""A made-up mill with two mixers for tests of the planner: numbers easy to reckon by hand."""

import datetime as dt

from bedstone.ledger.model import FlowPattern
from bedstone.mill.model import (
    Bin,
    Content,
    Formula,
    FormulaLine,
    Ingredient,
    Limit,
    Machine,
    Mill,
    Order,
    Product,
    Rate,
    Route,
    Scale,
    Settings,
    Shift,
    Substance,
)
from bedstone.mill.plan import HeldSubstance
from bedstone.mill.residue import CleanedOut, Residue, replay
from bedstone.planning.model import DayProblem, OrderToMake

__all__ = ["DAY", "NOW", "clean_start", "planning_mill", "problem", "stock", "wanted"]

DAY = dt.date(2026, 11, 25)  # a Wednesday
NOW = dt.datetime(2026, 11, 25, 11, tzinfo=dt.UTC)  # five in the morning in Chicago
POLICY = "mill policy"

PRODUCTS = {
    # by code, species, kind of way and parts
    "SHEEP": ("sheep", "pellet", {"BARLEY-G": 0.98, "PX-SHEEP": 0.02}),
    "PIG-CU": ("pig", "pellet", {"CORN-G": 0.98, "PX-PIG": 0.02}),
    "BEEF-M": ("cattle", "mash", {"CORN-G": 0.99, "PX-MON": 0.01}),
    "LAYER": ("layer", "mash", {"CORN-G": 0.9, "LIME": 0.1}),
    "HORSE-CF": ("horse", "side", {"BARLEY-G": 1.0}),
    "HORSE-PL": ("horse", "stock", {"BARLEY-G": 0.9, "LIME": 0.1}),
    "HORSE-TX": ("horse", "textured", {"HORSE-PL": 0.4, "BARLEY-G": 0.6}),
}
ROUTES = {
    "pellet": "MX1 > SB1 > PL1 > FB1|FB2 > SK1|LO1",
    "mash": "MX1 > FB1|FB2 > SK1|LO1",
    "side": "MX2 > FB3|FB4 > SK2",
    "stock": "MX2 > FB5 > SK2",
    "textured": "MX2 > FB3|FB4 > SK2",
}


def planning_mill(
    *,
    limits: tuple[Limit, ...] | None = None,
    shifts: tuple[Shift, ...] | None = None,
    time_zone: str = "America/Chicago",
    flush_material: str = "BARLEY-G",
) -> Mill:
    """Two mixers, a pellet line, two sacking lines and load-out; seven products."""
    if shifts is None:
        shifts = tuple(
            Shift(machine="", weekday=day, start_time=dt.time(6), end_time=dt.time(18))
            for day in ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
        )
    return Mill(
        settings=Settings(
            format=1,
            name="Quillback Mill",
            time_zone=time_zone,
            flush_material=flush_material,
            flush_bin="FL1",
            labour_usd_h=60.0,
            late_usd_t_h=1.0,
        ),
        bins=_bins(),
        machines=_machines(),
        scales=(
            Scale(
                scale="SC1", machine="MX1", capacity_kg=2000, division_kg=1.0, smallest_draw_kg=5
            ),
            Scale(
                scale="SC2", machine="MX2", capacity_kg=1000, division_kg=0.5, smallest_draw_kg=2
            ),
        ),
        routes=_routes(),
        shifts=shifts,
        ingredients=_ingredients(),
        substances=tuple(
            Substance(substance=code, name=code.title()) for code in ("copper", "monensin", "corn")
        ),
        contents=(
            Content(ingredient="PX-PIG", substance="copper", content_mg_kg=10_000, source=POLICY),
            Content(ingredient="BARLEY-G", substance="copper", content_mg_kg=5, source=POLICY),
            Content(ingredient="PX-MON", substance="monensin", content_mg_kg=3000, source=POLICY),
            Content(ingredient="CORN", substance="corn", content_mg_kg=1_000_000, source=POLICY),
        ),
        products=tuple(
            Product(
                product=code,
                name=code.title(),
                species=species,
                life_stage="all",
                form="pellet" if kind == "pellet" else "mash",
                route=ROUTES[kind],
                die={"SHEEP": "3 mm", "PIG-CU": "4 mm"}.get(code, ""),
                pack_kg=25.0,
                density_kg_m3=600.0,
                price_usd_t=400.0,
            )
            for code, (species, kind, _) in PRODUCTS.items()
        ),
        rates=(Rate(product="SHEEP", machine="PL1", rate_kg_s=1.5),),
        formulas=tuple(
            Formula(product=code, version=1, status="running", approved_by="mara")
            for code in PRODUCTS
        ),
        formula_lines=tuple(
            FormulaLine(product=code, version=1, ingredient=ingredient, parts_frac=part)
            for code, (_, _, parts) in PRODUCTS.items()
            for ingredient, part in parts.items()
        ),
        limits=_limits() if limits is None else limits,
        revision=3,
    )


def _limits() -> tuple[Limit, ...]:
    return (
        Limit(species="sheep", substance="copper", kind="level", level_mg_kg=15.0, source=POLICY),
        Limit(
            species="sheep", substance="monensin", kind="procedure", flush_kg=300.0, source=POLICY
        ),
        Limit(species="layer", substance="monensin", kind="clean-out", source="21 CFR 225.65"),
        Limit(species="horse", substance="monensin", kind="never", source="21 CFR 558.355"),
        Limit(
            product="HORSE-CF",
            substance="corn",
            kind="procedure",
            flush_kg=100.0,
            source="customer",
        ),
    )


def _bins() -> tuple[Bin, ...]:
    def row(code: str, kind: str, capacity_kg: float, **more: str) -> Bin:
        return Bin(
            bin=code, kind=kind, capacity_kg=capacity_kg, flow=FlowPattern.MASS.value, **more
        )  # fmt: skip

    return (
        row("B1", "ingredient", 50_000, holds="CORN"),
        row("B2", "ingredient", 50_000, holds="BARLEY"),
        row("B3", "ingredient", 20_000, holds="LIME", feeds="SC1 SC2"),
        row("G1", "ground", 8_000, holds="CORN-G", feeds="SC1 SC2"),
        row("G2", "ground", 8_000, holds="BARLEY-G", feeds="SC1 SC2"),
        row("P1", "ingredient", 5_000, holds="PX-PIG", feeds="SC1"),
        row("P2", "ingredient", 5_000, holds="PX-SHEEP", feeds="SC1"),
        row("P3", "ingredient", 5_000, holds="PX-MON", feeds="SC1"),
        row("SB1", "surge", 4_000),
        row("FB1", "finished", 12_000),
        row("FB2", "finished", 12_000),
        row("FB3", "finished", 6_000),
        row("FB4", "finished", 6_000),
        row("FB5", "finished", 6_000, holds="HORSE-PL", feeds="SC2"),
        row("FL1", "flush", 10_000),
    )


def _machines() -> tuple[Machine, ...]:
    def mixer(code: str, mass_max_kg: float, hold_up_kg: float) -> Machine:
        return Machine(
            machine=code, kind="mixer", mass_max_kg=mass_max_kg, mass_min_kg=mass_max_kg / 4,
            volume_max_m3=mass_max_kg / 500, fill_s=180, dry_mix_s=180, discharge_s=60,
            hold_up_kg=hold_up_kg, changeover_s=60, clean_out_s=1800,
        )  # fmt: skip

    return (
        Machine(machine="HM1", kind="grinder", rate_kg_s=3.0, loss_frac=0.01, changeover_s=120),
        mixer("MX1", 2000.0, 10.0),
        mixer("MX2", 1000.0, 5.0),
        Machine(machine="PL1", kind="pellet line", rate_kg_s=2.0, hold_up_kg=60.0,
                exchange_frac=0.8, changeover_s=300, die_change_s=900, clean_out_s=3600),
        Machine(machine="SK1", kind="sacking line", rate_kg_s=3.0, hold_up_kg=15.0,
                changeover_s=120, clean_out_s=900),
        Machine(machine="SK2", kind="sacking line", rate_kg_s=2.0, hold_up_kg=10.0,
                changeover_s=120, clean_out_s=900),
        Machine(machine="LO1", kind="load-out", rate_kg_s=10.0, hold_up_kg=20.0,
                changeover_s=120, clean_out_s=900),
    )  # fmt: skip


def _routes() -> tuple[Route, ...]:
    rows = [
        Route(start="B1", end="HM1"),
        Route(start="B2", end="HM1"),
        Route(start="HM1", end="G1"),
        Route(start="HM1", end="G2"),
        Route(start="MX1", end="SB1", hold_up_kg=15.0, clean_out_s=300),
        Route(start="SB1", end="PL1", hold_up_kg=3.0, clean_out_s=300),
        Route(start="PL1", end="FL1"),
        Route(start="MX1", end="FL1"),
        Route(start="MX2", end="FL1"),
    ]
    for end in ("FB1", "FB2"):
        rows += [
            Route(start="MX1", end=end, hold_up_kg=15.0, clean_out_s=300),
            Route(start="PL1", end=end, hold_up_kg=10.0, clean_out_s=300),
            Route(start=end, end="SK1", hold_up_kg=5.0, clean_out_s=300),
            Route(start=end, end="LO1", hold_up_kg=5.0, clean_out_s=300),
        ]
    for end in ("FB3", "FB4", "FB5"):
        rows += [
            Route(start="MX2", end=end, hold_up_kg=8.0, clean_out_s=300),
            Route(start=end, end="SK2", hold_up_kg=4.0, clean_out_s=300),
        ]
    return tuple(rows)


def _ingredients() -> tuple[Ingredient, ...]:
    def row(code: str, kind: str, price_usd_t: float, ground_from: str = "") -> Ingredient:
        return Ingredient(
            ingredient=code, name=code.title(), ingredient_class=kind, density_kg_m3=600.0,
            moisture_wb=0.12, price_usd_t=price_usd_t, ground_from=ground_from,
        )  # fmt: skip

    return (
        row("CORN", "grain", 180),
        row("BARLEY", "grain", 200),
        row("CORN-G", "ground grain", 185, "CORN"),
        row("BARLEY-G", "ground grain", 205, "BARLEY"),
        row("LIME", "mineral", 60),
        row("PX-PIG", "micro", 2000),
        row("PX-SHEEP", "micro", 2000),
        row("PX-MON", "drug", 9000),
    )


def stock(**kg_by_place: float) -> dict[tuple[str, str], int]:
    """Book stock with plenty of everything, but what is given by place."""
    usual = {
        "B1": 40_000.0, "B2": 40_000.0, "B3": 10_000.0, "G1": 4_000.0, "G2": 4_000.0,
        "P1": 2_000.0, "P2": 2_000.0, "P3": 2_000.0,
    }  # fmt: skip
    holds = {row.bin: row.holds for row in _bins()}
    return {
        (place, holds[place]): round(kg * 1_000_000)
        for place, kg in {**usual, **kg_by_place}.items()
    }


def clean_start(mill: Mill) -> tuple[HeldSubstance, ...]:
    """A mill whose every place has just been cleaned."""
    places = tuple(row.place for row in Residue(mill).places.all)
    return replay(mill, [CleanedOut(places=places)])


def wanted(
    code: str,
    product: str,
    mass_kg: float,
    *,
    pack: str = "bags",
    due_h: float = 12.0,
    entered_h: float = -24.0,
) -> OrderToMake:
    """An order; due and entered count in hours from NOW."""
    return OrderToMake(
        order=Order(
            order=code,
            customer="harrow",
            product=product,
            mass_kg=mass_kg,
            pack=pack,
            entered_at=NOW + dt.timedelta(hours=entered_h),
            due_at=NOW + dt.timedelta(hours=due_h),
        ),
        remaining_mg=round(mass_kg * 1_000_000),
    )


def problem(
    *orders: OrderToMake,
    mill: Mill | None = None,
    stock_mg: dict[tuple[str, str], int] | None = None,
    starting: tuple[HeldSubstance, ...] | None = None,
    evaluations: int = 60,
    seed: int = 0,
) -> DayProblem:
    """A day to plan."""
    mill = planning_mill() if mill is None else mill
    return DayProblem(
        mill=mill,
        orders=orders,
        stock_mg=stock() if stock_mg is None else stock_mg,
        starting=clean_start(mill) if starting is None else starting,
        day=DAY,
        now=NOW,
        seed=seed,
        evaluations=evaluations,
    )
