"""What loads are taken in by: weighbridges, rules on earlier cargoes, specifications, terms, steps.

None of these tables is needed. Without specifications a load is judged by its cargo, its looks and
toxins alone; without terms it is paid as it was weighed.
"""

from dataclasses import dataclass

from bedstone.mill.attributes import column

__all__ = [
    "CARGO_CLASSES",
    "CargoRule",
    "PriceStep",
    "ReceivingTerms",
    "Specification",
    "Weighbridge",
]

CARGO_CLASSES = {
    "same ingredient": "the same as is in it now",
    "grain": "grain or oilseed, fit for feed",
    "plant feed": "oilseed meal, bran, hulls, pulp",
    "minerals": "limestone, salt, phosphate for feed",
    "feed liquid": "molasses, oil, fat for feed",
    "allowed animal protein": "fish, poultry, milk or pure pork protein",
    "prohibited protein": "protein that may not be fed to ruminants",
    "medicated feed": "feed or article with a drug in it",
    "fertiliser": "dry fertiliser other than urea",
    "urea": "urea, as fertiliser or for feed",
    "glass": "glass, cullet, scrap metal",
    "treated seed": "seed with a dressing",
    "chemicals": "pesticides, petroleum, industrial chemicals",
    "waste": "refuse, manure, sludge, carcasses",
    "building material": "sand, gravel, coal, wood",
    "unknown": "nobody can say",
}
"""What a carrier may have held before."""
STRICTER = {
    "swept": "only swept and seen clean",
    "wash": "only with a wash ticket",
    "reject": "not at all",
}
SCALE_CLASSES = {
    "III L": "vehicle and axle scales",
    "III": "hopper and other commercial scales",
}
TEST_UNITS = {
    "%": "per cent as it is",
    "mg/kg": "parts per million",
    "ug/kg": "parts per billion",
    "kg/m3": "bulk density",
    "lb/ft3": "bulk density",
    "lb/bu": "test weight",
    "C": "temperature",
    "F": "temperature",
}
SHRINKS = {
    "none": "paid as weighed",
    "dry matter": "to the mass it would have at the base moisture",
    "pencil": "so much for each point above the base",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighbridge:
    """A scale that loads are weighed on."""

    weighbridge: str = column("code", key=True, code=True, example="WB1")
    name: str = column("what people call it", default="", example="truck scale")
    capacity_kg: float = column("largest load", unit="kg", low=0, low_open=True)
    division_kg: float = column("scale division", unit="kg", low=0, low_open=True)
    scale_class: str = column(
        "accuracy class on its plate",
        default="III L",
        choices=SCALE_CLASSES,
        source="NIST Handbook 44, section 2.20",
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class CargoRule:
    """The mill's own word on an earlier cargo. It can only be stricter than the rules that come
    with the program: of two the stricter stands.
    """

    cargo: str = column("what the carrier held", choices=CARGO_CLASSES, key=True)
    ingredient: str = column(
        "ingredient that comes now; empty for all", default="", refers=("ingredients",), key=True
    )
    loads_back: int = column("as far back as so many loads", default=3, low=1, high=3)
    verdict: str = column("how it may unload", choices=STRICTER)
    why: str = column("reason, as told to the driver")
    source: str = column("where the rule comes from", default="mill policy")


@dataclass(frozen=True, slots=True, kw_only=True)
class Specification:
    """What a load of an ingredient must test as."""

    ingredient: str = column("ingredient", refers=("ingredients",), key=True)
    test: str = column("nutrient, toxin, or other test", key=True, example="moisture")
    unit: str = column("unit of the values", choices=TEST_UNITS)
    minimum: float | None = column("at least, to be taken at full price", default=None)
    maximum: float | None = column("at most, to be taken at full price", default=None)
    reject_below: float | None = column("turned away below this", default=None)
    reject_above: float | None = column("turned away above this", default=None)
    at_gate: bool = column("must be known before the load is let in", default=True)
    waits: bool = column(
        "not known at the gate, the load may only be unloaded under hold until it is",
        default=False,
    )
    method: str = column("quick method in use", default="", example="moisture meter")
    repeatability_sd: float | None = column(
        "standard deviation of one result, sampling included; empty: not known",
        default=None,
        low=0,
    )
    risk_max_frac: float = column(
        "most odds of really lying outside with which it is still taken; 0.5: limits as they stand",
        default=0.5,
        low=0.001,
        high=0.5,
    )
    source: str = column("contract, handbook or mill policy", default="mill policy")


@dataclass(frozen=True, slots=True, kw_only=True)
class ReceivingTerms:
    """How an ingredient is paid, and what becomes of its sample."""

    ingredient: str = column("ingredient", refers=("ingredients",), key=True)
    supplier: str = column(
        "supplier; empty for all without terms of their own",
        default="",
        refers=("firms",),
        key=True,
    )
    shrink: str = column("how water above the base is taken off", default="none", choices=SHRINKS)
    moisture_base_wb: float | None = column(
        "base moisture", unit="kg/kg", default=None, low=0, high=0.5
    )
    pencil_frac: float | None = column(
        "for a pencil shrink: part of the mass for each point of moisture",
        default=None,
        low=0,
        high=0.05,
    )
    handling_frac: float = column(
        "part of the weighed mass taken off for handling", default=0.0, low=0, high=0.05
    )
    dockage_free_frac: float = column(
        "dockage up to this is not taken off", default=0.0, low=0, high=0.1
    )
    sample_shelf: str = column("shelf of the retained sample", default="", example="shelf 3")
    sample_days: int = column("days it is kept", default=180, low=1, high=3650)
    source: str = column("contract or mill policy", default="mill policy")


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceStep:
    """A step of a price schedule: what a result between two values adds to the price."""

    ingredient: str = column("ingredient", refers=("ingredients",), key=True)
    test: str = column("test that it goes by", key=True, example="bulk density")
    unit: str = column("unit of the values", choices=TEST_UNITS)
    from_value: float = column("from this result on", key=True)
    to_value: float = column("up to, not with, this result")
    adjust_usd_t: float = column(
        "added to the price; below nothing for a discount", unit="USD/t", low=-1000, high=1000
    )
    source: str = column("contract or mill policy", default="mill policy")
