"""Ingredients, products, formulas, limits, orders and stock: rows of the mill's tables."""

import datetime as dt
from dataclasses import dataclass

from bedstone.mill.attributes import column
from bedstone.mill.equipment import ANY_MATERIAL, ANY_PLACE

__all__ = [
    "Assay",
    "Composition",
    "Content",
    "Formula",
    "FormulaLine",
    "Guarantee",
    "Ingredient",
    "Limit",
    "OpeningStock",
    "Order",
    "Product",
    "Rate",
    "Substance",
    "Weather",
]

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
AS_FED = {
    "%": "per cent as fed",
    "mg/kg": "as fed",
    "IU/kg": "international units, as fed",
    "U/kg": "units of an enzyme's activity, as fed",
    "million CFU/g": "live microbes, as colony-forming units, as fed",
    "MJ/kg": "as fed",
}
PACKS = {"bags": "sacked", "bulk": "loaded loose"}
ORDER_STATES = {"open": "to be made", "cancelled": "not wanted any more", "made": "made"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Ingredient:
    """Something the mill buys or grinds."""

    ingredient: str = column("code", key=True, code=True, example="CORN")
    name: str = column("name as on papers", example="Corn, whole")
    ingredient_class: str = column("what it is", choices=INGREDIENT_CLASSES)
    density_kg_m3: float = column("bulk density", unit="kg/m3", low=50, high=2500)
    moisture_wb: float = column("usual moisture, wet basis", unit="kg/kg", low=0, high=1)
    price_usd_t: float = column("price", unit="USD/t", low=0)
    ground_from: str = column("ingredient it is ground from", default="", refers=("ingredients",))
    hand_add: bool = column("always weighed by hand", default=False)
    caution: str = column("what to tell whoever handles it", default="", longest=2000)
    library: str = column(
        "ingredient of the composition library whose published values stand in where the mill "
        "has none; empty for none",
        default="",
        example="corn",
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Substance:
    """Something that some feed must not get, or only so much of."""

    substance: str = column("code", key=True, code=True, example="copper")
    name: str = column("name as on papers", example="Copper")
    unit_shown: str = column(
        "how amounts are shown",
        default="mg/kg",
        choices={"mg/kg": "parts per million", "%": "per cent"},
    )
    caution: str = column("what can happen, in a sentence", default="", longest=2000)
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
        choices=AS_FED,
    )
    sd: float | None = column("standard deviation between lots", default=None, low=0)
    assays: int = column("number of assays behind it", default=0, low=0)
    source: str = column("where the number comes from")


@dataclass(frozen=True, slots=True, kw_only=True)
class Product:
    """A feed the mill makes."""

    product: str = column("code", key=True, code=True, example="SHEEP-GR")
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
    caution: str = column("caution on sheet and tag", default="", longest=2000)


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
        choices=AS_FED,
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

    order: str = column("number", key=True, code=True, example="4107")
    customer: str = column("customer", refers=("firms",))
    product: str = column("product", refers=("products",))
    mass_kg: float = column("mass wanted", unit="kg", low=0, low_open=True)
    pack: str = column("bags or bulk", choices=PACKS)
    entered_at: dt.datetime = column("when it came in, with the offset or the mill's time")
    due_at: dt.datetime = column("when it must be ready")
    status: str = column("where it stands", choices=ORDER_STATES, default="open")
    note: str = column("note for the mill", default="", longest=2000)


@dataclass(frozen=True, slots=True, kw_only=True)
class OpeningStock:
    """What lay where when the record began. Read only into an empty record."""

    place: str = column("bin", refers=("bins",), key=True)
    material: str = column("ingredient or product", refers=ANY_MATERIAL)
    lot: str = column("lot", key=True, code=True, example="L-0917-CORN")
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
class Assay:
    """What a laboratory found of a nutrient in a lot, or in what lay in a bin."""

    assay: str = column("number of the laboratory's report", key=True, code=True, example="A-1042")
    nutrient: str = column("what was measured", key=True, example="crude protein")
    of: str = column("ingredient or product", refers=ANY_MATERIAL)
    lot: str = column(
        "lot that was sampled; either a lot or a place", default="", example="L-0917-CORN"
    )
    place: str = column("bin that was sampled", default="", refers=("bins",))
    value: float = column("result, as fed", low=0)
    unit: str = column(
        "unit of value and sd",
        choices=AS_FED,
    )
    sd: float | None = column(
        "standard deviation of one result by this method", default=None, low=0
    )
    method: str = column("method", default="", example="Kjeldahl")
    laboratory: str = column("who measured", default="", example="own laboratory")
    sampled_at: dt.datetime = column("when the sample was taken")
    retained_sample: str = column("where the rest of the sample lies", default="")
