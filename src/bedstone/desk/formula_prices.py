"""What each ingredient costs on a day, and where that price comes from."""

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from bedstone.errors import NoAnswer
from bedstone.mill.model import Mill, Price

__all__ = ["PricedAt", "price_of", "prices_on", "standing"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PricedAt:
    """A price and where it comes from, in words."""

    price_usd_t: float
    source: str


def standing(mill: Mill, on: dt.date) -> tuple[Price, ...]:
    """The offers and contracts that stand on a day: of each seller and contract the newest."""
    newest: dict[tuple[str, str, str], Price] = {}
    for row in mill.prices:
        key = (row.ingredient, row.supplier, row.contract)
        begun = row.from_on <= on and (row.until_on is None or on <= row.until_on)
        if begun and (key not in newest or newest[key].from_on < row.from_on):
            newest[key] = row
    return tuple(newest.values())


def price_of(mill: Mill, material: str, *, on: dt.date) -> PricedAt:
    """What a ton more of an ingredient costs on a day.

    That is the cheapest offer without a contract, since what is under contract runs out; where
    only contracts stand, the cheapest of them; where no price stands, the price of the
    ingredients table. A ground ingredient without prices of its own is priced by what it is
    ground from, and what the tables say that grinding adds. A product of the mill costs what its
    running formula costs.

    Raises
    ------
    NoAnswer
        If a product has no running formula.
    """
    return _priced(mill, _cheapest(standing(mill, on)), material, ())


def prices_on(mill: Mill, materials: Iterable[str], *, on: dt.date) -> dict[str, PricedAt]:
    """The prices of materials on a day, by code."""
    offers = _cheapest(standing(mill, on))
    return {code: _priced(mill, offers, code, ()) for code in materials}


def _cheapest(rows: Iterable[Price]) -> dict[str, Price]:
    best: dict[str, Price] = {}
    for row in rows:
        kept = best.get(row.ingredient)
        if kept is None or _rank(row) < _rank(kept):
            best[row.ingredient] = row
    return best


def _rank(row: Price) -> tuple[bool, float]:
    return bool(row.contract), row.price_usd_t


def _priced(
    mill: Mill, offers: Mapping[str, Price], material: str, above: tuple[str, ...]
) -> PricedAt:
    row = offers.get(material)
    if row is not None:
        seller = mill.name_of(row.supplier) if row.supplier else "market"
        contract = f", contract {row.contract}" if row.contract else ""
        return PricedAt(
            price_usd_t=row.price_usd_t, source=f"{seller}{contract}, from {row.from_on}"
        )
    bought = mill.ingredient_by_code.get(material)
    if bought is None:
        return _made(mill, offers, material, above)
    raw = mill.ingredient_by_code.get(bought.ground_from)
    if raw is not None and raw.ingredient in offers:
        whole = _priced(mill, offers, raw.ingredient, above)
        more = bought.price_usd_t - raw.price_usd_t
        return PricedAt(
            price_usd_t=max(0.0, whole.price_usd_t + more),
            source=f"{raw.name}: {whole.source}, and grinding",
        )
    return PricedAt(price_usd_t=bought.price_usd_t, source="ingredients table")


def _made(
    mill: Mill, offers: Mapping[str, Price], material: str, above: tuple[str, ...]
) -> PricedAt:
    formula = mill.running_formula(material)
    if formula is None or material in above:
        raise NoAnswer(
            f"{mill.name_of(material)} has no running formula, so that it has no price.",
            do="put a version of its formula in use first",
        )
    cost = sum(
        line.parts_frac * _priced(mill, offers, line.ingredient, (*above, material)).price_usd_t
        for line in mill.lines_of(material, formula.version)
    )
    return PricedAt(price_usd_t=cost, source=f"its formula, version {formula.version}")
