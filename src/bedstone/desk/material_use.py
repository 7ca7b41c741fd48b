"""What of each bought ingredient will be used day by day: by orders, by plan and by history.

Ground grain counts as the grain it is ground from, a feed of the mill as what it is made of.
"""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from statistics import stdev

from bedstone.desk.made import made_batches
from bedstone.desk.merged_rows import MG_IN_KG
from bedstone.desk.orders import all_orders
from bedstone.desk.plans import released_plan
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.mill.model import Mill

__all__ = ["HISTORY_DAYS", "Use", "bought_as", "material_use"]

HISTORY_DAYS = 28
DEEPEST = 6
FEWEST = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Use:
    """Use of one ingredient: what each coming day asks, today first, and where that comes from."""

    days_kg: tuple[float, ...]
    history_kg_day: float
    sd_kg_day: float
    ordered_kg: float


def bought_as(mill: Mill, material: str) -> str:
    """The ingredient that is bought when a material is used: the grain of what is ground."""
    row = mill.ingredient_by_code.get(material)
    return row.ground_from or material if row is not None else material


def material_use(record: Record, *, at: dt.datetime, days: int) -> dict[str, Use]:
    """Use of every ingredient that history, orders or the plan of today ask for.

    A day asks for what orders due on it need, or for the usual day of the last four weeks if that
    is more; today also for what the released plan has still to draw.
    """
    mill = current_mill(record)
    today = at.astimezone(mill.settings.zone).date()
    history = _history(record, mill, at=at)
    ordered = _ordered(record, mill, today=today, days=days)
    planned = _planned(record, mill, today)
    found = {}
    for code in sorted({*history, *ordered, *planned}):
        past = history.get(code, [0.0])
        mean = sum(past) / len(past)
        asked = ordered.get(code, {})
        coming = [max(mean, asked.get(day, 0.0)) for day in range(days)]
        coming[0] = max(coming[0], planned.get(code, 0.0))
        found[code] = Use(
            days_kg=tuple(coming),
            history_kg_day=mean,
            sd_kg_day=stdev(past) if len(past) >= FEWEST else 0.0,
            ordered_kg=sum(asked.values()),
        )
    return found


def _history(record: Record, mill: Mill, *, at: dt.datetime) -> dict[str, list[float]]:
    """What was drawn of each on every day looked back on, none left out. [kg]"""
    batches = [
        row
        for row in made_batches(record).values()
        if at - dt.timedelta(days=HISTORY_DAYS) < row.happened_at <= at
    ]
    if not batches:
        return {}
    first_at = min(row.happened_at for row in batches)
    many = min(HISTORY_DAYS, max(1, (at - first_at).days + 1))
    found: dict[str, list[float]] = {}
    for row in batches:
        back = min(many - 1, (at - row.happened_at).days)
        for draw in row.made.draws:
            code = bought_as(mill, draw.ingredient)
            if code in mill.ingredient_by_code:
                found.setdefault(code, [0.0] * many)[back] += draw.actual_mg / MG_IN_KG
    return found


def _ordered(
    record: Record, mill: Mill, *, today: dt.date, days: int
) -> dict[str, dict[int, float]]:
    """What open orders need by the day on which they are due; what is late counts today. [kg]"""
    found: dict[str, dict[int, float]] = {}
    for row in all_orders(record):
        if row.status != "open" or row.left_mg <= 0:
            continue
        day = (row.order.due_at.astimezone(mill.settings.zone).date() - today).days
        if day >= days:
            continue
        for code, part in _made_of(mill, row.order.product, 1.0).items():
            asked = found.setdefault(code, {})
            asked[max(0, day)] = asked.get(max(0, day), 0.0) + part * row.left_mg / MG_IN_KG
    return found


def _made_of(mill: Mill, product: str, share: float, deep: int = 0) -> dict[str, float]:
    """Parts of bought ingredients in a product by its running formula; nothing without one."""
    formula = mill.running_formula(product)
    if formula is None or deep > DEEPEST:
        return {}
    parts: dict[str, float] = {}
    for line in mill.lines_of(product, formula.version):
        code = bought_as(mill, line.ingredient)
        inner: Mapping[str, float] = {code: share * line.parts_frac}
        if code not in mill.ingredient_by_code:
            inner = _made_of(mill, code, share * line.parts_frac, deep + 1)
        for one, part in inner.items():
            parts[one] = parts.get(one, 0.0) + part
    return parts


def _planned(record: Record, mill: Mill, today: dt.date) -> dict[str, float]:
    """What the released plan of today has still to draw. [kg]"""
    standing = released_plan(record, today)
    if standing is None:
        return {}
    made = made_batches(record)
    found: dict[str, float] = {}
    for batch in standing.plan.batches:
        if batch.batch in made:
            continue
        for draw in batch.draws:
            code = bought_as(mill, draw.ingredient)
            if code in mill.ingredient_by_code:
                found[code] = found.get(code, 0.0) + draw.target_mg / MG_IN_KG
    return found
