"""Supplier cards: loads, what they assayed, how much that varies, and what protein really costs."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass, field

from bedstone.desk.arrival_acts import arrivals
from bedstone.desk.assays import assays
from bedstone.desk.formula_prices import standing
from bedstone.desk.loads_taken import LoadTaken, loads_taken
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.desk.settlements import settlements
from bedstone.mill.model import Assay, Mill, Price
from bedstone.receiving.gate import Outcome
from bedstone.storage.suppliers import Spread, assured_level, cost_per_unit, spread_of

__all__ = ["ODDS_FRAC", "NutrientSeen", "SupplierCard", "supplier_cards"]

ODDS_FRAC = 0.9
PRICED = "crude protein"
PCT = 100.0
CENTS = 100
MG_T = 1_000_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class NutrientSeen:
    """A nutrient over a supplier's loads: one value a load, the mean of its assays.

    ``assured`` is what nine loads in ten reach by the loads so far.
    """

    nutrient: str
    unit: str
    spread: Spread
    assured: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplierCard:
    """One supplier's loads of one ingredient, and its price where one stands.

    Cost of a kilogram of protein: by the mean, and by what nine loads in ten reach. ``short``: part
    of the net on the seller's tickets that our scale did not find, one value a load, in per cent.
    ``shrunk``: part of our net that was not paid (water, handling, dockage), in per cent.
    ``paid_usd_t``: what a tonne of our net cost in all settlements together.
    """

    supplier: str
    ingredient: str
    loads: int
    refused: int
    priced_down: int
    held: int
    mass_mg: int
    short: Spread | None
    shrunk: Spread | None
    paid_usd_t: float | None
    last_at: dt.datetime
    price_usd_t: float | None
    nutrients: tuple[NutrientSeen, ...]
    protein_usd_kg: float | None
    protein_assured_usd_kg: float | None


def supplier_cards(record: Record, *, at: dt.datetime) -> tuple[SupplierCard, ...]:
    """A card for each supplier and ingredient with loads on record, by ingredient.

    Suppliers of one ingredient come cheapest assured protein first; those of which too little is
    known come last.
    """
    mill = current_mill(record)
    today = at.astimezone(mill.settings.zone).date()
    of_lot: dict[str, list[Assay]] = {}
    for row in assays(record):
        if row.lot:
            of_lot.setdefault(row.lot, []).append(row)
    gate = _at_gate(record)
    grouped: dict[tuple[str, str], list[LoadTaken]] = {}
    for load in loads_taken(record):
        grouped.setdefault((load.ingredient, load.firm), []).append(load)
    prices = standing(mill, today)
    cards = [
        _card(
            mill,
            ingredient,
            firm,
            loads,
            gate=gate.get((ingredient, firm), _Gate()),
            of_lot=of_lot,
            prices=prices,
        )
        for (ingredient, firm), loads in grouped.items()
    ]
    far = float("inf")
    return tuple(
        sorted(
            cards, key=lambda card: (card.ingredient, card.protein_assured_usd_kg or far,
                                     card.protein_usd_kg or far, card.supplier)
        )
    )  # fmt: skip


@dataclass(slots=True)
class _Gate:
    """What the gate and the office know of a seller's loads of an ingredient."""

    refused: int = 0
    priced_down: int = 0
    held: int = 0
    short_pct: list[float] = field(default_factory=list)
    shrunk_pct: list[float] = field(default_factory=list)
    paid_cents: int = 0
    settled_mg: int = 0

    @property
    def paid_usd_t(self) -> float | None:
        """What a tonne of net was settled at."""
        return self.paid_cents / CENTS / (self.settled_mg / MG_T) if self.settled_mg else None


def _at_gate(record: Record) -> dict[tuple[str, str], _Gate]:
    """Refusals, steps, holds, tickets and settlements of each seller and ingredient."""
    found: dict[tuple[str, str], _Gate] = {}
    paid = settlements(record)
    for one in arrivals(record):
        row, gate = (
            one.arrival,
            found.setdefault((one.arrival.ingredient, one.arrival.firm), _Gate()),
        )
        if not one.into:
            gate.refused += 1
            continue
        gate.priced_down += one.outcome is Outcome.PRICE_DOWN
        gate.held += bool(one.under_hold)
        net_mg = row.gross_mg - row.tare_mg
        if row.seller_net_mg:
            gate.short_pct.append(PCT * (row.seller_net_mg - net_mg) / row.seller_net_mg)
        if row.ticket in paid:
            last = paid[row.ticket][-1].settled
            gate.shrunk_pct.append(PCT * (last.net_mg - last.paid_mg) / last.net_mg)
            gate.paid_cents += last.money_cents
            gate.settled_mg += last.net_mg
    return found


def _card(
    mill: Mill,
    ingredient: str,
    firm: str,
    loads: list[LoadTaken],
    *,
    gate: _Gate,
    of_lot: dict[str, list[Assay]],
    prices: tuple[Price, ...],
) -> SupplierCard:
    nutrients = _nutrients(loads, of_lot)
    price = _price(mill, ingredient, firm, prices)
    protein = next((row for row in nutrients if row.nutrient == PRICED and row.unit == "%"), None)
    mean = protein.spread.mean / PCT if protein is not None else None
    sure = protein.assured / PCT if protein is not None and protein.assured is not None else None
    return SupplierCard(
        supplier=firm,
        ingredient=ingredient,
        loads=len(loads),
        refused=gate.refused,
        priced_down=gate.priced_down,
        held=gate.held,
        short=spread_of(gate.short_pct),
        shrunk=spread_of(gate.shrunk_pct),
        paid_usd_t=gate.paid_usd_t,
        mass_mg=sum(load.mass_mg for load in loads),
        last_at=max(load.at for load in loads),
        price_usd_t=price,
        nutrients=nutrients,
        protein_usd_kg=None if price is None else cost_per_unit(price, mean),
        protein_assured_usd_kg=None if price is None else cost_per_unit(price, sure),
    )


def _price(mill: Mill, ingredient: str, firm: str, prices: Iterable[Price]) -> float | None:
    """The supplier's own price that stands, else the market's, else none."""
    own = [row for row in prices if row.ingredient == ingredient and row.supplier == firm]
    market = [row for row in prices if row.ingredient == ingredient and not row.supplier]
    for rows in (own, market):
        if rows:
            return min(row.price_usd_t for row in rows)
    found = mill.ingredient_by_code.get(ingredient)
    return None if found is None else found.price_usd_t


def _nutrients(loads: list[LoadTaken], of_lot: dict[str, list[Assay]]) -> tuple[NutrientSeen, ...]:
    """Each nutrient with one value a load."""
    values: dict[tuple[str, str], list[float]] = {}
    for load in loads:
        by_name: dict[tuple[str, str], list[float]] = {}
        for row in of_lot.get(load.lot, ()):
            by_name.setdefault((row.nutrient, row.unit), []).append(row.value)
        for key, seen in by_name.items():
            values.setdefault(key, []).append(sum(seen) / len(seen))
    found = []
    for (nutrient, unit), seen in sorted(values.items()):
        spread = spread_of(seen)
        if spread is not None:
            assured = assured_level(spread, odds_frac=ODDS_FRAC)
            found.append(NutrientSeen(nutrient=nutrient, unit=unit, spread=spread, assured=assured))
    return tuple(found)
