"""The mill itself as frozen values: its tables, row by row, and the whole with look-ups.

SI inside (see the suffixes); ``None`` means "not given", never nought. Codes are short text made
of letters, digits, "-" and "_".
"""

import datetime as dt
from dataclasses import dataclass, field
from difflib import get_close_matches
from functools import cached_property
from zoneinfo import ZoneInfo

from bedstone.errors import Unknown
from bedstone.ledger.model import FlowPattern
from bedstone.mill.attributes import column

__all__ = [
    "TABLES",
    "Bin",
    "Composition",
    "Content",
    "Firm",
    "Formula",
    "FormulaLine",
    "Guarantee",
    "Ingredient",
    "Limit",
    "Machine",
    "Meter",
    "Mill",
    "OpeningStock",
    "Order",
    "Person",
    "Product",
    "Rate",
    "Route",
    "Scale",
    "Settings",
    "Shift",
    "Substance",
    "Weather",
]

ROLES = {
    "manager": "plans the day and releases plans",
    "receiver": "takes loads in",
    "nutritionist": "makes and approves formulas",
    "batch operator": "weighs and mixes",
    "pellet operator": "runs the pellet lines",
    "sacker": "fills, tags and stacks bags",
    "laboratory": "assays, holds and releases",
    "shipping": "ships orders",
    "inspector": "reads everything, records nothing",
}
BIN_KINDS = {
    "ingredient": "whole or meal ingredients",
    "ground": "ground grain on its way to the mixer",
    "tank": "a liquid",
    "surge": "between the mixer and the next machine",
    "finished": "finished feed before sacking or load-out",
    "flush": "flush material waiting for its fate",
    "floor": "sacks and totes, each lot apart",
    "warehouse": "bagged feed ready to ship",
}
MACHINE_KINDS = {
    "grinder": "hammer mill or roller mill",
    "mixer": "batch mixer",
    "hand-add station": "where micros are weighed by hand into the mixer",
    "pellet line": "conditioner, die and cooler as one line",
    "sacking line": "fills and sews bags",
    "load-out": "loads bulk trucks",
}
FLOWS = {
    FlowPattern.MASS.value: "first in, first out",
    FlowPattern.FUNNEL.value: "a core draws from the top",
    FlowPattern.MIXED.value: "stirred",
    FlowPattern.SEPARATE.value: "each lot can be taken alone",
}
INGREDIENT_CLASSES = {
    "grain": "whole grain",
    "ground grain": "grain after the grinder",
    "protein meal": "oilseed or animal protein meal",
    "by-product": "bran, middlings, hulls, pulp",
    "mineral": "limestone, salt, phosphate",
    "micro": "vitamin and trace mineral premixes, additives",
    "drug": "medicated article",
    "liquid": "molasses, oil, fat, water",
}
FORMS = {
    "mash": "as mixed",
    "pellet": "through a pellet line",
    "textured": "pellets and whole grains coated with molasses",
}
LIMIT_KINDS = {
    "level": "so much at most in the worst sack-sized portion, own content and carry-over",
    "procedure": "so many kg of flush or of a cleaning feed must pass in between",
    "clean-out": "the shared machines must be cleaned by hand in between",
    "never": "must not run on equipment that has handled it",
}
FORMULA_STATES = {
    "draft": "being worked on, cannot run",
    "approved": "approved by a named person, not yet running",
    "running": "the version that batches use",
    "withdrawn": "no longer used",
}
PACKS = {"bags": "sacked", "bulk": "loaded loose"}
WEEKDAYS = {day: day for day in ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")}
ORDER_STATES = {"open": "to be made", "cancelled": "not wanted any more", "made": "made"}
ANY_MATERIAL = ("ingredients", "products")
ANY_PLACE = ("bins", "machines")


@dataclass(frozen=True, slots=True, kw_only=True)
class Person:
    """Somebody who signs facts."""

    person: str = column("short name that signs facts", key=True, example="mara")
    name: str = column("full name", example="Mara Oss")
    role: str = column("what the person does", choices=ROLES, example="batch operator")


@dataclass(frozen=True, slots=True, kw_only=True)
class Firm:
    """A supplier, customer or carrier, with what a trace must be able to name."""

    firm: str = column("short code", key=True, example="harrow")
    name: str = column("name as on papers", example="Harrow Lane Farm")
    role: str = column(
        "what the firm is to the mill",
        choices={
            "supplier": "sells to us",
            "customer": "buys from us",
            "carrier": "hauls for us",
        },
    )
    address: str = column("postal address", default="", source="21 CFR 1.337(a), 1.345(a)")
    phone: str = column("telephone", default="", source="21 CFR 1.337(a), 1.345(a)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Bin:
    """Anything that holds material and is not a machine."""

    bin: str = column("code", key=True, example="B01")
    name: str = column("what people call it", default="", example="north corn bin")
    kind: str = column("what it is for", choices=BIN_KINDS)
    capacity_kg: float = column("most it can hold", unit="kg", low=0, low_open=True)
    volume_m3: float | None = column(
        "most it can hold by volume", unit="m3", default=None, low=0, low_open=True
    )
    flow: str = column("how material leaves it", choices=FLOWS)
    holds: str = column("material it is kept for; empty for any", default="", refers=ANY_MATERIAL)
    feeds: str = column(
        "scales or meters it can be drawn on, with spaces between",
        default="",
        refers=("scales", "meters"),
        example="SC1 SC2",
    )
    hold_up_kg: float = column(
        "what stays behind when it is run empty", unit="kg", default=0.0, low=0
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Machine:
    """A machine that material passes through. Fields that do not apply stay empty."""

    machine: str = column("code", key=True, example="MX1")
    name: str = column("what people call it", default="", example="two-ton ribbon mixer")
    kind: str = column("what it is", choices=MACHINE_KINDS)
    rate_kg_s: float | None = column(
        "usual throughput; needed for all but mixers and hand-add stations",
        unit="kg/s",
        default=None,
        low=0,
        low_open=True,
    )
    mass_max_kg: float | None = column(
        "largest batch by mass; needed for a mixer", unit="kg", default=None, low=0, low_open=True
    )
    mass_min_kg: float | None = column(
        "smallest fill that still mixes; needed for a mixer",
        unit="kg",
        default=None,
        low=0,
        low_open=True,
    )
    volume_max_m3: float | None = column(
        "largest batch by volume; needed for a mixer", unit="m3", default=None, low=0, low_open=True
    )
    fill_s: float = column("time to weigh up and drop a batch", unit="s", default=0.0, low=0)
    dry_mix_s: float = column("mixing time of the dry ingredients", unit="s", default=0.0, low=0)
    wet_mix_s: float = column(
        "further mixing time once liquids are in", unit="s", default=0.0, low=0
    )
    discharge_s: float = column("time to empty", unit="s", default=0.0, low=0)
    loss_frac: float = column("part of the mass lost as dust", default=0.0, low=0, high=0.2)
    hold_up_kg: float = column(
        "what stays inside when it is run empty", unit="kg", default=0.0, low=0
    )
    exchange_frac: float = column(
        "how readily what stays inside mixes with what passes (1: at once, as if stirred)",
        default=1.0,
        low=0,
        low_open=True,
        high=1,
    )
    changeover_s: float = column("time lost at a change of feed", unit="s", default=0.0, low=0)
    die_change_s: float = column("time to change the die", unit="s", default=0.0, low=0)
    clean_out_s: float = column("time to clean it out by hand", unit="s", default=0.0, low=0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """A batch scale or the hand-add scale."""

    scale: str = column("code", key=True, example="SC1")
    name: str = column("what people call it", default="")
    machine: str = column("mixer or hand-add station it weighs for", refers=("machines",))
    capacity_kg: float = column("largest load", unit="kg", low=0, low_open=True)
    division_kg: float = column("scale division", unit="kg", low=0, low_open=True)
    smallest_draw_kg: float = column(
        "smallest draw worth trusting", unit="kg", low=0, low_open=True
    )
    sd_kg: float | None = column(
        "standard deviation of one weighing; half a division if not given",
        unit="kg",
        default=None,
        low=0,
        low_open=True,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Meter:
    """A liquid meter between a tank and a mixer."""

    meter: str = column("code", key=True, example="LM1")
    name: str = column("what people call it", default="")
    machine: str = column("mixer it doses into", refers=("machines",))
    division_kg: float = column("smallest step it shows", unit="kg", low=0, low_open=True)
    smallest_draw_kg: float = column(
        "smallest dose worth trusting", unit="kg", low=0, low_open=True
    )
    rate_kg_s: float = column("dosing rate", unit="kg/s", low=0, low_open=True)
    sd_frac: float = column(
        "standard deviation of a dose as part of it", default=0.005, low=0, low_open=True, high=0.2
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Route:
    """A way from one machine or bin to the next (conveyor, spout, elevator) and what stays in it."""

    start: str = column("machine or bin it leaves", refers=ANY_PLACE, key=True)
    end: str = column("machine or bin it reaches", refers=ANY_PLACE, key=True)
    hold_up_kg: float = column(
        "what stays in it when it is run empty", unit="kg", default=0.0, low=0
    )
    exchange_frac: float = column(
        "how readily what stays inside mixes with what passes (1: at once, as if stirred)",
        default=1.0,
        low=0,
        low_open=True,
        high=1,
    )
    clean_out_s: float = column("time to clean it out by hand", unit="s", default=0.0, low=0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Shift:
    """When machines may run, in the mill's own time."""

    machine: str = column(
        "machine; empty for all without own shifts", default="", refers=("machines",), key=True
    )
    weekday: str = column("day", choices=WEEKDAYS, key=True)
    start_time: dt.time = column("start, HH:MM", key=True, example="06:00")
    end_time: dt.time = column("end, HH:MM, later than the start; 23:59 runs to midnight")


@dataclass(frozen=True, slots=True, kw_only=True)
class Ingredient:
    """Something the mill buys or grinds."""

    ingredient: str = column("code", key=True, example="CORN")
    name: str = column("name as on papers", example="Corn, whole")
    ingredient_class: str = column("what it is", choices=INGREDIENT_CLASSES)
    density_kg_m3: float = column("bulk density", unit="kg/m3", low=50, high=2500)
    moisture_wb: float = column("usual moisture, wet basis", unit="kg/kg", low=0, high=1)
    price_usd_t: float = column("price", unit="USD/t", low=0)
    ground_from: str = column("ingredient it is ground from", default="", refers=("ingredients",))
    hand_add: bool = column("always weighed by hand", default=False)
    caution: str = column("what to tell whoever handles it", default="")


@dataclass(frozen=True, slots=True, kw_only=True)
class Substance:
    """Something that some feed must not get, or only so much of."""

    substance: str = column("code", key=True, example="copper")
    name: str = column("name as on papers", example="Copper")
    unit_shown: str = column(
        "how amounts are shown",
        default="mg/kg",
        choices={"mg/kg": "parts per million", "%": "per cent"},
    )
    caution: str = column("what can happen, in a sentence", default="")
    source: str = column("where the caution comes from", default="")


@dataclass(frozen=True, slots=True, kw_only=True)
class Content:
    """How much of a substance an ingredient contains."""

    ingredient: str = column("ingredient", refers=("ingredients",), key=True)
    substance: str = column("substance", refers=("substances",), key=True)
    content_mg_kg: float = column(
        "content as fed", unit="mg/kg", low=0, low_open=True, high=1_000_000
    )
    source: str = column("where the number comes from")


@dataclass(frozen=True, slots=True, kw_only=True)
class Composition:
    """A nutrient of an ingredient, as fed, with how well it is known."""

    ingredient: str = column("ingredient or product", refers=ANY_MATERIAL, key=True)
    nutrient: str = column("nutrient", key=True, example="crude protein")
    mean: float = column("mean, as fed", low=0)
    unit: str = column(
        "unit of mean and sd",
        choices={
            "%": "per cent as fed",
            "mg/kg": "as fed",
            "IU/kg": "as fed",
            "MJ/kg": "as fed",
        },
    )
    sd: float | None = column("standard deviation between lots", default=None, low=0)
    assays: int = column("number of assays behind it", default=0, low=0)
    source: str = column("where the number comes from")


@dataclass(frozen=True, slots=True, kw_only=True)
class Product:
    """A feed the mill makes."""

    product: str = column("code", key=True, example="SHEEP-GR")
    name: str = column("name as on the tag", example="Sheep Grower 16")
    species: str = column("animal it is for", example="sheep")
    life_stage: str = column("class of animal", example="grower")
    form: str = column("form it is sold in", choices=FORMS)
    route: str = column(
        'way through the mill: codes with ">" between, alternatives with "|"',
        refers=ANY_PLACE,
        example="MX1 > SB1 > PL1 > FB1|FB2 > SK1|LO1",
    )
    die: str = column("die of the pellet line; needed for pellets", default="", example="4.0 mm")
    pack_kg: float | None = column(
        "net mass of a bag; empty if only bulk", unit="kg", default=None, low=0, low_open=True
    )
    medicated: bool = column("holds a drug", default=False)
    density_kg_m3: float = column("bulk density of the mash", unit="kg/m3", low=50, high=2000)
    price_usd_t: float = column("price", unit="USD/t", low=0)
    dry_mix_s: float | None = column(
        "dry mixing time if not the mixer's own", unit="s", default=None, low=0
    )
    wet_mix_s: float | None = column(
        "wet mixing time if not the mixer's own", unit="s", default=None, low=0
    )
    caution: str = column("caution on sheet and tag", default="")


@dataclass(frozen=True, slots=True, kw_only=True)
class Rate:
    """Throughput of a product on a machine, by hour of the day where that matters."""

    product: str = column("product", refers=("products",), key=True)
    machine: str = column("machine", refers=("machines",), key=True)
    start_hour: int = column("from this hour, mill's time", default=0, low=0, high=23, key=True)
    end_hour: int = column("until this hour", default=24, low=1, high=24)
    rate_kg_s: float = column("throughput", unit="kg/s", low=0, low_open=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class Guarantee:
    """A guarantee on the tag."""

    product: str = column("product", refers=("products",), key=True)
    nutrient: str = column("nutrient", key=True)
    minimum: float | None = column("at least", default=None, low=0)
    maximum: float | None = column("at most", default=None, low=0)
    unit: str = column(
        "unit",
        choices={
            "%": "per cent as fed",
            "mg/kg": "as fed",
            "IU/kg": "as fed",
            "MJ/kg": "as fed",
        },
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Formula:
    """A version of a product's formula and whether it may run."""

    product: str = column("product", refers=("products",), key=True)
    version: int = column("number of the version", low=1, key=True)
    status: str = column("whether it may run", choices=FORMULA_STATES)
    approved_by: str = column(
        "who approved it; needed once it is not a draft", default="", refers=("people",)
    )
    approved_on: dt.date | None = column("when, YYYY-MM-DD", default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class FormulaLine:
    """A part of a formula. The parts of a version add up to one."""

    product: str = column("product", refers=("products",), key=True)
    version: int = column("version", low=1, key=True)
    ingredient: str = column("ingredient or product", refers=ANY_MATERIAL, key=True)
    parts_frac: float = column("part of the batch", low=0, low_open=True, high=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """A limit of a substance for one product or for every product of a species."""

    product: str = column(
        "product; empty if the limit is the species's", default="", refers=("products",), key=True
    )
    species: str = column("species; empty if the limit is a product's", default="", key=True)
    substance: str = column("substance", refers=("substances",), key=True)
    kind: str = column("kind of limit", choices=LIMIT_KINDS)
    level_mg_kg: float | None = column(
        'most in any sack; needed for a "level", above nothing',
        unit="mg/kg",
        default=None,
        low=0,
        low_open=True,
    )
    flush_kg: float | None = column(
        'how much must pass; needed for a "procedure"',
        unit="kg",
        default=None,
        low=0,
        low_open=True,
    )
    source: str = column(
        'law, guidance or handbook with its number, or "mill policy", or "customer"'
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """What a customer wants, and by when."""

    order: str = column("number", key=True, example="4107")
    customer: str = column("customer", refers=("firms",))
    product: str = column("product", refers=("products",))
    mass_kg: float = column("mass wanted", unit="kg", low=0, low_open=True)
    pack: str = column("bags or bulk", choices=PACKS)
    entered_at: dt.datetime = column("when it came in, with the offset or the mill's time")
    due_at: dt.datetime = column("when it must be ready")
    status: str = column("where it stands", choices=ORDER_STATES, default="open")
    note: str = column("note for the mill", default="")


@dataclass(frozen=True, slots=True, kw_only=True)
class OpeningStock:
    """What lay where when the record began. Read only into an empty record."""

    place: str = column("bin", refers=("bins",), key=True)
    material: str = column("ingredient or product", refers=ANY_MATERIAL)
    lot: str = column("lot", key=True, example="L-0917-CORN")
    mass_kg: float = column("mass", unit="kg", low=0, low_open=True)
    received_at: dt.datetime = column("when it came in")
    supplier: str = column("who it came from", default="", refers=("firms",))


@dataclass(frozen=True, slots=True, kw_only=True)
class Weather:
    """Outside air of one hour."""

    hour_at: dt.datetime = column("start of the hour", key=True)
    temperature_c: float = column("temperature", unit="C", low=-60, high=60)
    humidity_frac: float = column("relative humidity", low=0, high=1)
    pressure_pa: float = column(
        "pressure, absolute", unit="Pa", default=101_325.0, low=50_000, high=110_000
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """What stands in ``mill.toml``."""

    format: int = column("format of this folder", low=1, high=1)
    name: str = column("name of the mill, as on papers", example="Quillback Mill")
    place: str = column("address, as on papers", default="")
    time_zone: str = column("time zone by its usual name", example="America/Chicago")
    units: str = column(
        "units shown and printed",
        default="SI",
        choices={"SI": "kg, t, C", "US": "lb, short ton, F"},
    )
    flush_material: str = column("ingredient that flushes", default="", refers=("ingredients",))
    flush_bin: str = column("bin that flushes go to", default="", refers=("bins",))
    labour_usd_h: float = column(
        "cost of an hour of the line's crew, for changeovers and cleaning",
        default=0.0,
        low=0,
    )
    late_usd_t_h: float = column(
        "what an hour's lateness of a tonne counts, to weigh lateness against cost",
        default=1.0,
        low=0,
    )
    sack_kg: float = column(
        "sack-sized portion in which a level is judged where a product has no bag of its own",
        unit="kg",
        default=25.0,
        low=1,
        high=100,
    )

    @property
    def zone(self) -> ZoneInfo:
        """The mill's time zone."""
        return ZoneInfo(self.time_zone)


TABLES: dict[str, type] = {
    "people": Person,
    "firms": Firm,
    "bins": Bin,
    "machines": Machine,
    "scales": Scale,
    "meters": Meter,
    "routes": Route,
    "shifts": Shift,
    "ingredients": Ingredient,
    "substances": Substance,
    "contents": Content,
    "composition": Composition,
    "products": Product,
    "rates": Rate,
    "guarantees": Guarantee,
    "formulas": Formula,
    "formula_lines": FormulaLine,
    "limits": Limit,
    "orders": Order,
    "opening_stock": OpeningStock,
    "weather": Weather,
}
"""File name (without ending) to row class, in the order in which a person would fill them."""


@dataclass(frozen=True, kw_only=True)
class Mill:
    """The whole mill of one revision: settings and tables. Orders, opening stock and weather are
    not part of it: they are merged by key into the record."""

    settings: Settings
    people: tuple[Person, ...] = ()
    firms: tuple[Firm, ...] = ()
    bins: tuple[Bin, ...] = ()
    machines: tuple[Machine, ...] = ()
    scales: tuple[Scale, ...] = ()
    meters: tuple[Meter, ...] = ()
    routes: tuple[Route, ...] = ()
    shifts: tuple[Shift, ...] = ()
    ingredients: tuple[Ingredient, ...] = ()
    substances: tuple[Substance, ...] = ()
    contents: tuple[Content, ...] = ()
    composition: tuple[Composition, ...] = ()
    products: tuple[Product, ...] = ()
    rates: tuple[Rate, ...] = ()
    guarantees: tuple[Guarantee, ...] = ()
    formulas: tuple[Formula, ...] = ()
    formula_lines: tuple[FormulaLine, ...] = ()
    limits: tuple[Limit, ...] = ()
    revision: int = field(default=0)

    @cached_property
    def bin_by_code(self) -> dict[str, Bin]:
        """Bins by code."""
        return {row.bin: row for row in self.bins}

    @cached_property
    def machine_by_code(self) -> dict[str, Machine]:
        """Machines by code."""
        return {row.machine: row for row in self.machines}

    @cached_property
    def ingredient_by_code(self) -> dict[str, Ingredient]:
        """Ingredients by code."""
        return {row.ingredient: row for row in self.ingredients}

    @cached_property
    def product_by_code(self) -> dict[str, Product]:
        """Products by code."""
        return {row.product: row for row in self.products}

    @cached_property
    def substance_by_code(self) -> dict[str, Substance]:
        """Substances by code."""
        return {row.substance: row for row in self.substances}

    @cached_property
    def firm_by_code(self) -> dict[str, Firm]:
        """Firms by code."""
        return {row.firm: row for row in self.firms}

    @cached_property
    def person_by_code(self) -> dict[str, Person]:
        """People by code."""
        return {row.person: row for row in self.people}

    @cached_property
    def scale_by_code(self) -> dict[str, Scale]:
        """Scales by code."""
        return {row.scale: row for row in self.scales}

    @cached_property
    def meter_by_code(self) -> dict[str, Meter]:
        """Meters by code."""
        return {row.meter: row for row in self.meters}

    @cached_property
    def route_by_ends(self) -> dict[tuple[str, str], Route]:
        """Routes by their two ends."""
        return {(row.start, row.end): row for row in self.routes}

    @cached_property
    def _lines(self) -> dict[tuple[str, int], tuple[FormulaLine, ...]]:
        lines: dict[tuple[str, int], list[FormulaLine]] = {}
        for row in self.formula_lines:
            lines.setdefault((row.product, row.version), []).append(row)
        return {key: tuple(rows) for key, rows in lines.items()}

    def running_formula(self, product: str) -> Formula | None:
        """The version of a product's formula that runs, or None."""
        for row in self.formulas:
            if row.product == product and row.status == "running":
                return row
        return None

    def lines_of(self, product: str, version: int) -> tuple[FormulaLine, ...]:
        """Lines of one version of a formula; empty if there is none."""
        return self._lines.get((product, version), ())

    def product(self, code: str) -> Product:
        """The product of a code.

        Raises
        ------
        Unknown
            If the mill has no such product; near names are offered.
        """
        found = self.product_by_code.get(code)
        if found is None:
            near = get_close_matches(code, self.product_by_code, n=3)
            raise Unknown(
                f"There is no product {code!r}.",
                do=f"did you mean {', '.join(near)}?" if near else "see the products table",
            )
        return found

    def name_of(self, code: str) -> str:
        """What people call a material, place, machine or firm; the code itself if it has no name."""
        for table in (
            self.product_by_code,
            self.ingredient_by_code,
            self.bin_by_code,
            self.machine_by_code,
            self.firm_by_code,
        ):
            row = table.get(code)
            if row is not None:
                return row.name or code  # type: ignore[attr-defined, no-any-return]
        return code
