"""Answers about formulas as plain values, for JSON and for tables in files."""

import math
from collections.abc import Iterable, Mapping, Sequence

from bedstone.desk.formula_answer import Formulated
from bedstone.desk.formula_week import FormulatedWeek
from bedstone.desk.plain_values import plain
from bedstone.formulation.joint_model import MaterialAnswer, ProductAnswer
from bedstone.ledger.model import Json

__all__ = [
    "formula_tables",
    "formulated_plain",
    "week_plain",
    "week_tables",
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
PRODUCT_COLUMNS = ("product", "mass_t", "cost_usd_t", "next_ton_usd_t", "alone_usd_t")
SHARED_COLUMNS = ("ingredient", "used_t", "left_t", "worth_at_most_usd_t", "scarce")
CLAIM_COLUMNS = ("ingredient", "product", "mass_t", "less_costs_usd_t", "more_saves_usd_t", "why")
OFFER_COLUMNS = (
    "ingredient",
    "kind",
    "from",
    "price_usd_t",
    "least_t",
    "most_t",
    "taken_t",
    "more_saves_usd_t",
)
PCT = 100.0
MG_KG = 1e6

Cell = str | float | None
Tables = dict[str, tuple[tuple[str, ...], Sequence[Sequence[Cell]]]]


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
    content = {
        "week": week.answer,
        "claims": week.claims,
        "buying": week.buying,
        "alone_usd_t": week.alone_usd_t,
    }
    return {key: _finite(plain(value)) for key, value in content.items()}


def formula_tables(found: Sequence[Formulated]) -> Tables:
    """Parts and limits of the answers as tables."""
    return {
        "parts": (PART_COLUMNS, _part_rows(found)),
        "limits": (LIMIT_COLUMNS, _limit_rows(found)),
    }


def week_tables(week: FormulatedWeek) -> Tables:
    """A week as tables: formulas, what they share, what may be bought, who gets what is scarce."""
    materials, products = week.answer.materials, week.answer.products
    return {
        "parts": (
            ("product", "mass_t", "ingredient", "parts_pct"),
            [
                (one.product, one.mass_t, code, share * PCT)
                for one in products
                for code, share in one.shares.items()
            ],
        ),
        "products": (PRODUCT_COLUMNS, [_product_row(week, one) for one in products]),
        "shared": (SHARED_COLUMNS, [_shared_row(row) for row in materials]),
        "offers": (OFFER_COLUMNS, [row for one in materials for row in _offer_rows(one)]),
        "who_gets": (
            CLAIM_COLUMNS,
            [
                (code, one.product, one.mass_t, one.last_usd_t, one.next_usd_t, one.why)
                for code, claims in week.claims.items()
                for one in claims
            ],
        ),
        "buy_at_most": (
            ("ingredient", "price_usd_t", "up_to_t", "saves_usd"),
            [
                (code, step.price_usd_t, step.up_to_t, step.saves_usd)
                for code, limits in week.buying.items()
                for step in limits.steps
            ],
        ),
    }


def _product_row(week: FormulatedWeek, row: ProductAnswer) -> Sequence[Cell]:
    alone_usd_t = week.alone_usd_t[row.product]
    return row.product, row.mass_t, row.cost_usd_t, row.worth_usd_t, alone_usd_t


def _shared_row(row: MaterialAnswer) -> Sequence[Cell]:
    scarce = "yes" if row.scarce else "no"
    return row.code, row.used_t, row.left_t, row.pay_at_most_usd_t, scarce


def _offer_rows(row: MaterialAnswer) -> list[Sequence[Cell]]:
    return [
        (
            row.code,
            one.offer.kind.value,
            one.offer.name,
            one.offer.price_usd_t,
            one.offer.min_t,
            one.offer.max_t,
            one.taken_t,
            one.more_saves_usd_t,
        )
        for one in row.offers
    ]


def _part_rows(found: Iterable[Formulated]) -> list[Sequence[Cell]]:
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


def _limit_rows(found: Iterable[Formulated]) -> list[Sequence[Cell]]:
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
