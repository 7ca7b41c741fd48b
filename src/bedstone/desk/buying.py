"""The buying list: what must be ordered by when, how many trucks, from whom it is cheapest."""

import datetime as dt
from dataclasses import dataclass

from bedstone.desk.formula_prices import standing
from bedstone.desk.loads_taken import LoadTaken, loads_taken
from bedstone.desk.material_use import Use, bought_as, material_use
from bedstone.desk.merged_rows import MG_IN_KG
from bedstone.desk.record import Record
from bedstone.desk.revisions import counted, current_mill
from bedstone.errors import BadInput
from bedstone.mill.model import Mill, Price
from bedstone.mill.storage_tables import BuyingTerm
from bedstone.quantities.masses import shown_mass
from bedstone.storage.buying import Buy, Terms, days_of_cover, what_to_buy

__all__ = ["Coming", "Offered", "ToBuy", "buying_list"]

LOOK_AHEAD_DAYS = 28


@dataclass(frozen=True, slots=True, kw_only=True)
class Offered:
    """An offer or contract that stands, with what may and must still be taken of a contract."""

    supplier: str
    contract: str
    price_usd_t: float
    left_kg: float | None
    must_take_kg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Coming:
    """Trucks that should come on a day."""

    on: dt.date
    trucks: int
    mass_kg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ToBuy:
    """An ingredient on the list. Without buying terms ``buy`` is None and only cover is said."""

    ingredient: str
    name: str
    stock_kg: float
    use_kg_day: float
    use_sd_kg_day: float
    ordered_kg: float
    cover_days: float | None
    cover_by_history_days: float | None
    buy: Buy | None
    order_on: dt.date | None
    truck_kg: float | None  # a full one
    comes: tuple[Coming, ...]  # the first of them is what to order now
    offers: tuple[Offered, ...]
    note: str


def buying_list(
    record: Record, *, at: dt.datetime, days: int = LOOK_AHEAD_DAYS
) -> tuple[ToBuy, ...]:
    """Every ingredient that is used, the most pressing first. Nothing is recorded.

    Raises
    ------
    BadInput
        If fewer days are looked ahead than some lead time has.
    """
    mill = current_mill(record)
    today = at.astimezone(mill.settings.zone).date()
    longest = max((row.lead_days for row in mill.buying_terms), default=0)
    if days <= longest:
        raise BadInput(
            "Too few days are looked at.",
            seen=f"{days}",
            allowed=f"more than the longest lead time, {longest} days",
        )
    whole, ground = _stock_kg(record, mill)
    loads, prices = loads_taken(record), standing(mill, today)
    rows = [
        _row(
            mill,
            code,
            use,
            whole_kg=max(0.0, whole.get(code, 0.0)),
            ground_kg=max(0.0, ground.get(code, 0.0)),
            today=today,
            offers=_offers(mill, code, prices, loads),
        )
        for code, use in material_use(record, at=at, days=days).items()
        if code in mill.ingredient_by_code
    ]
    return tuple(sorted(rows, key=_pressing))


def _stock_kg(record: Record, mill: Mill) -> tuple[dict[str, float], dict[str, float]]:
    """Book stock of the bins by what is bought: as it came, and what lies ground of it. [kg]"""
    whole: dict[str, float] = {}
    ground: dict[str, float] = {}
    for line in record.stock():
        if line.place in mill.bin_by_code:
            code = bought_as(mill, line.material)
            stock = whole if code == line.material else ground
            stock[code] = stock.get(code, 0.0) + line.mass_mg / MG_IN_KG
    return whole, ground


def _row(
    mill: Mill,
    code: str,
    use: Use,
    *,
    whole_kg: float,
    ground_kg: float,
    today: dt.date,
    offers: tuple[Offered, ...],
) -> ToBuy:
    term = next((row for row in mill.buying_terms if row.ingredient == code), None)
    held_kg = whole_kg + ground_kg
    buy = None if term is None else _buy(mill, term, use, whole_kg=whole_kg, ground_kg=ground_kg)
    daily_kg = use.history_kg_day
    return ToBuy(
        ingredient=code,
        name=mill.name_of(code),
        stock_kg=held_kg,
        use_kg_day=daily_kg,
        use_sd_kg_day=use.sd_kg_day,
        ordered_kg=use.ordered_kg,
        cover_days=days_of_cover(held_kg, use.days_kg),
        cover_by_history_days=held_kg / daily_kg if daily_kg > 0 else None,
        buy=buy,
        order_on=_order_on(today, buy, term),
        truck_kg=None if term is None else term.truck_kg,
        comes=_comes(today, buy),
        offers=offers,
        note=" ".join(
            one
            for one in (_note(buy, term, len(use.days_kg)), _room(mill, term, buy, ground_kg))
            if one
        ),
    )


def _buy(mill: Mill, row: BuyingTerm, use: Use, *, whole_kg: float, ground_kg: float) -> Buy:
    terms = Terms(
        lead_days=row.lead_days,
        truck_kg=row.truck_kg,
        safety_days=row.safety_days,
        cover_days=row.cover_days,
        holds_kg=_holds_kg(mill, row.ingredient),
        ground_kg=ground_kg,
    )
    return what_to_buy(whole_kg + ground_kg, use.days_kg, use_sd_kg=use.sd_kg_day, terms=terms)


def _comes(today: dt.date, buy: Buy | None) -> tuple[Coming, ...]:
    return tuple(
        Coming(on=today + dt.timedelta(days=one.in_days), trucks=one.trucks, mass_kg=one.mass_kg)
        for one in (() if buy is None else buy.deliveries)
    )


def _pressing(row: ToBuy) -> tuple[dt.date, float, str]:
    cover = row.cover_days if row.cover_days is not None else float("inf")
    return row.order_on or dt.date.max, cover, row.ingredient


def _order_on(today: dt.date, buy: Buy | None, term: BuyingTerm | None) -> dt.date | None:
    """The day to order what comes first; a day that has gone by is today."""
    if buy is None or term is None or buy.first is None:
        return None
    return today + dt.timedelta(days=max(0, buy.first.in_days - term.lead_days))


def _note(buy: Buy | None, term: BuyingTerm | None, days: int) -> str:
    if buy is None or term is None:
        return "It has no row in the table of buying terms: only days of cover are known."
    if buy.order_in_days is None:
        return f"Nothing to order within {days} days."
    if buy.order_in_days >= 0:
        return ""
    lasts = buy.cover_days
    if lasts is not None and lasts < term.lead_days:
        return (
            f"Late: it takes {counted(term.lead_days, 'day')} to come and stock lasts {lasts:.1f}; "
            "ask for a quicker truck or plan feeds without it."
        )
    return "Late: the truck comes after stock falls below what must always be left."


def _room(mill: Mill, term: BuyingTerm | None, buy: Buy | None, ground_kg: float) -> str:
    """Say where a truck, or what must always be left beside it, does not fit the bins."""
    holds_kg = None if term is None else _holds_kg(mill, term.ingredient)
    if buy is None or term is None or holds_kg is None or buy.order_in_days is None:
        return ""

    def shown(mass_kg: float) -> str:
        return shown_mass(round(mass_kg * MG_IN_KG), units=mill.settings.units)

    if term.truck_kg > holds_kg:
        return (
            f"A full truck of {shown(term.truck_kg)} is more than its bins hold, "
            f"{shown(holds_kg)}: order part loads, or give it another bin."
        )
    if term.truck_kg + buy.safety_kg > holds_kg + ground_kg:
        return (
            f"Its terms do not fit its bins: a full truck of {shown(term.truck_kg)} and the "
            f"{shown(buy.safety_kg)} that must always be left are more than they hold, "
            f"{shown(holds_kg)}. Order smaller loads, leave less, or give it another bin."
        )
    if buy.wanted_trucks * term.truck_kg > holds_kg:
        return f"Its bins hold {shown(holds_kg)}: trucks come as there is room."
    return ""


def _holds_kg(mill: Mill, code: str) -> float | None:
    """What the bins of an ingredient hold together; None if none is its own. [kg]"""
    return sum(row.capacity_kg for row in mill.bins if row.holds == code) or None


def _offers(
    mill: Mill, code: str, prices: tuple[Price, ...], loads: tuple[LoadTaken, ...]
) -> tuple[Offered, ...]:
    """Offers that stand, the cheapest first; contracts that are used up fall away."""
    found = []
    for row in prices:
        if row.ingredient != code:
            continue
        taken_kg = sum(
            load.mass_mg / MG_IN_KG
            for load in loads
            if row.contract
            and (load.ingredient, load.firm) == (code, row.supplier)
            and load.at.astimezone(mill.settings.zone).date() >= row.from_on
        )
        left_kg = None if row.mass_max_kg is None else max(0.0, row.mass_max_kg - taken_kg)
        if left_kg == 0:
            continue
        found.append(
            Offered(
                supplier=row.supplier,
                contract=row.contract,
                price_usd_t=row.price_usd_t,
                left_kg=left_kg,
                must_take_kg=max(0.0, (row.mass_min_kg or 0.0) - taken_kg),
            )
        )
    return tuple(sorted(found, key=lambda one: (one.price_usd_t, one.supplier, one.contract)))
