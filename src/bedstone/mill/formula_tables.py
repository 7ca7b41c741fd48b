"""What formulas are made by: prices, what a product must keep, what may go into it, and how much.

None of these tables is needed. A product without rows is formulated from the ingredients of the
formula that runs, by the guarantees on its tag.
"""

import datetime as dt
from dataclasses import dataclass

from bedstone.mill.attributes import column
from bedstone.mill.equipment import ANY_MATERIAL

__all__ = ["FormulaRule", "Inclusion", "IngredientGroupLimit", "Price", "Requirement"]

BASES = {
    "as fed": "of the feed as it is",
    "dry matter": "of what is left when all water is gone",
}
UNITS = {
    "%": "per cent",
    "mg/kg": "parts per million",
    "IU/kg": "international units",
    "U/kg": "units of an enzyme's activity",
    "million CFU/g": "live microbes, as colony-forming units",
    "MJ/kg": "energy",
}
DEFAULT_ODDS = 0.95


@dataclass(frozen=True, slots=True, kw_only=True)
class Price:
    """What an ingredient costs from a day on: an offer, or a contract with its amounts."""

    ingredient: str = column("ingredient or product", refers=ANY_MATERIAL, key=True)
    from_on: dt.date = column("first day of the price, YYYY-MM-DD", key=True)
    until_on: dt.date | None = column("last day; empty while it stands", default=None)
    supplier: str = column("who sells it; empty for the market", default="", refers=("firms",),
                           key=True)  # fmt: skip
    contract: str = column("number of the contract; empty if there is none", default="", key=True,
                           example="K-2207")  # fmt: skip
    price_usd_t: float = column("price", unit="USD/t", low=0)
    mass_min_kg: float | None = column("least that must be taken", unit="kg", default=None, low=0)
    mass_max_kg: float | None = column(
        "most that may be had at this price", unit="kg", default=None, low=0, low_open=True
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Requirement:
    """What a product must hold of a nutrient, of a sum of nutrients, or as a ratio of two."""

    product: str = column("product", refers=("products",), key=True)
    nutrients: str = column(
        'nutrient as in composition, or a sum with "+" between',
        key=True,
        example="starch + sugars",
    )
    per: str = column(
        "for a ratio: the nutrient, or sum, under the line; else empty",
        default="",
        key=True,
        example="phosphorus",
    )
    basis: str = column("what it is a part of", default="as fed", choices=BASES, key=True)
    minimum: float | None = column("at least", default=None, low=0)
    maximum: float | None = column("at most", default=None, low=0)
    unit: str = column("unit of the limits; in a ratio that of the upper nutrient", choices=UNITS)
    per_unit: str = column(
        "in a ratio: unit of the lower nutrient", default="", choices={"": "no ratio", **UNITS}
    )
    odds_frac: float | None = column(
        "probability with which it must be met; empty: by the expected value",
        default=None,
        low=0.5,
        high=0.9999,
    )
    firm: bool = column("law or safety: never offered for giving in", default=False)
    source: str = column('law, guidance or handbook with its number, or "mill policy"')


@dataclass(frozen=True, slots=True, kw_only=True)
class Inclusion:
    """An ingredient that may go into a product, and how much of it."""

    product: str = column("product", refers=("products",), key=True)
    ingredient: str = column("ingredient or product", refers=ANY_MATERIAL, key=True)
    min_frac: float = column("at least, part of the batch", default=0.0, low=0, high=1)
    max_frac: float = column("at most; the same as the least for a fixed part", default=1.0,
                             low=0, high=1)  # fmt: skip
    at_least_frac: float | None = column(
        "if it is used at all, then at least so much", default=None, low=0, low_open=True, high=1
    )
    firm: bool = column("law, label or safety: never offered for giving in", default=False)
    source: str = column("where the limits come from", default="mill policy")


@dataclass(frozen=True, slots=True, kw_only=True)
class IngredientGroupLimit:
    """Ingredients that together may make up so much of a product, or of a species' feeds.

    With a nutrient it is a limit on level and share at once: none of them may hold more of it than
    the level, and together they may be no more than the share.
    """

    product: str = column(
        "product; empty if the limit is the species's", default="", refers=("products",), key=True
    )
    species: str = column("species; empty if the limit is a product's", default="", key=True)
    group: str = column("code of the group", key=True, code=True, example="CORN-ALL")
    members: str = column(
        "ingredients or products, with spaces between",
        refers=ANY_MATERIAL,
        example="CORN-G CORN-R DDGS",
    )
    min_frac: float | None = column("together at least", default=None, low=0, high=1)
    max_frac: float | None = column("together at most", default=None, low=0, high=1)
    nutrient: str = column("nutrient or toxin of the level; empty if there is none", default="")
    level_max: float | None = column("most of it in each of them", default=None, low=0)
    unit: str = column(
        "unit of the level", default="", choices={"": "no level", "%": "per cent", "mg/kg": "parts per million"}
    )  # fmt: skip
    basis: str = column("what the level is a part of", default="as fed", choices=BASES)
    firm: bool = column("law or safety: never offered for giving in", default=False)
    source: str = column('law, guidance or handbook with its number, or "mill policy"')


@dataclass(frozen=True, slots=True, kw_only=True)
class FormulaRule:
    """How a product is formulated: odds of its tag, and limits on the whole."""

    product: str = column("product", refers=("products",), key=True)
    odds_frac: float = column(
        "probability with which each guarantee must be met",
        default=DEFAULT_ODDS,
        low=0.5,
        high=0.9999,
    )
    ingredients_max: int | None = column("at most so many ingredients", default=None, low=1)
    change_each_frac: float | None = column(
        "most that one share may move from the running formula", default=None, low=0, high=1
    )
    change_total_frac: float | None = column(
        "most of the feed that may be replaced at once", default=None, low=0, high=1
    )
    moisture_max_wb: float | None = column(
        "most moisture of the finished mash", unit="kg/kg", default=None, low=0, high=1
    )
    density_min_kg_m3: float | None = column(
        "least bulk density of the mash", unit="kg/m3", default=None, low=50, high=2000
    )
    density_max_kg_m3: float | None = column(
        "most bulk density of the mash", unit="kg/m3", default=None, low=50, high=2000
    )
    source: str = column("where the limits come from", default="mill policy")
