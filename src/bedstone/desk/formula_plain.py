"""Answers about formulas as plain values, for JSON and for tables in files."""

import math
from collections.abc import Iterable, Mapping, Sequence

from bedstone.desk.formula_answer import Formulated
from bedstone.desk.formula_week import FormulatedWeek
from bedstone.desk.plain_values import plain
from bedstone.ledger.model import Json

__all__ = [
    "LIMIT_COLUMNS",
    "PART_COLUMNS",
    "formulated_plain",
    "limit_rows",
    "part_rows",
    "week_plain",
]

PART_COLUMNS = (
    "product",
    "ingredient",
    "name",
    "parts_pct",
    "running_pct",
    "draw_kg",
    "scale",
    "price_usd_t",
    "price_from",
    "cost_usd_t",
    "held_by",
    "stays_from_usd_t",
    "stays_to_usd_t",
    "enters_usd_t",
)
LIMIT_COLUMNS = (
    "product",
    "limit",
    "unit",
    "basis",
    "minimum",
    "expected",
    "maximum",
    "sd",
    "odds_min_pct",
    "odds_max_pct",
    "binding",
    "one_more_costs_usd_t",
    "true_from",
    "true_to",
    "source",
)
PCT = 100.0
MG_KG = 1e6

Cell = str | float | None


def _finite(value: Json) -> Json:
    """The value with numbers that are none left out."""
    if isinstance(value, float) and not math.isfinite(value):
        return None
    if isinstance(value, list):
        return [_finite(item) for item in value]
    if isinstance(value, Mapping):
        return {key: _finite(item) for key, item in value.items()}
    return value


def formulated_plain(found: Formulated) -> dict[str, Json]:
    """What was answered of a product, as plain values; masses in mg, prices in USD/t."""
    put, answer = found.asked, found.answer
    content = {
        "product": put.product,
        "revision": put.revision,
        "composition": put.choices.composed,
        "prices_on": put.choices.on,
        "cost_usd_t": None if answer is None else answer.cost_usd_t,
        "running_version": found.running_version,
        "running_cost_usd_t": None if found.running is None else found.running.cost_usd_t,
        "saves_usd_t": found.saves_usd_t,
        "way": None if answer is None else answer.way,
        "ingredients": () if answer is None else answer.ingredients,
        "limits": () if answer is None else answer.limits,
        "moisture_wb": None if answer is None else answer.moisture_wb,
        "density_kg_m3": None if answer is None else answer.density_kg_m3,
        "prices": put.prices,
        "bins": {code: known.note for code, known in put.known.items() if known.note},
        "assumed": () if answer is None else answer.assumed,
        "notes": () if answer is None else answer.notes,
        "weighed": found.weighed,
        "not_weighed": found.not_weighed,
        "tag": found.tag,
        "clash": found.clash,
    }
    return {key: _finite(plain(value)) for key, value in content.items()}


def week_plain(week: FormulatedWeek) -> dict[str, Json]:
    """The answer of a week as plain values."""
    content = {"week": week.answer, "claims": week.claims, "buying": week.buying}
    return {key: _finite(plain(value)) for key, value in content.items()}


def part_rows(found: Iterable[Formulated]) -> list[Sequence[Cell]]:
    """Parts of the answers, a row for each ingredient that is used or runs; see PART_COLUMNS."""
    return [row for one in found if one.answer is not None for row in _parts(one)]


def _parts(found: Formulated) -> list[Sequence[Cell]]:
    draws = {row.ingredient: row for row in found.weighed.draws} if found.weighed else {}
    names = {row.code: row for row in found.asked.problem.ingredients}
    rows: list[Sequence[Cell]] = []
    for row in found.answer.ingredients if found.answer is not None else ():
        running = names[row.code].current_frac or 0.0
        if row.share_frac <= 0 and running <= 0:
            continue
        draw, stays = draws.get(row.code), row.stays_usd_t
        rows.append(
            (
                found.asked.product,
                row.code,
                names[row.code].name,
                row.share_frac * PCT,
                running * PCT,
                None if draw is None else draw.mass_mg / MG_KG,
                "" if draw is None else draw.scale,
                row.price_usd_t,
                found.asked.prices[row.code].source,
                row.cost_usd_t,
                row.bound.value,
                None if stays is None else stays.low,
                None if stays is None else stays.high,
                row.enters_usd_t,
            )
        )
    return rows


def limit_rows(found: Iterable[Formulated]) -> list[Sequence[Cell]]:
    """Limits of the answers, a row for each demand; see LIMIT_COLUMNS."""
    return [
        (
            one.asked.product,
            row.name,
            row.unit,
            row.basis.value,
            row.minimum,
            row.expected,
            row.maximum,
            row.sd if row.sd is not None and math.isfinite(row.sd) else None,
            None if row.odds_min_frac is None else row.odds_min_frac * PCT,
            None if row.odds_max_frac is None else row.odds_max_frac * PCT,
            row.binding.value,
            row.marginal_usd_t,
            row.true_from,
            row.true_to,
            row.source,
        )
        for one in found
        if one.answer is not None
        for row in one.answer.limits
    ]
