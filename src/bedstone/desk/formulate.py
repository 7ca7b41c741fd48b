"""What is asked of a product's formula, put together from the record: tables, assays, bins, prices."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from bedstone.desk.formula_levels import Composed, Known, known_levels
from bedstone.desk.formula_limits import (
    change_of,
    groups_of,
    inclusions_of,
    level_and_share_of,
    mash_of,
    requirements_of,
    rule_of,
    running_lines,
    shut_out,
    substance_name,
)
from bedstone.desk.formula_prices import PricedAt, prices_on
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.errors import Refused
from bedstone.formulation.model import (
    Assumption,
    FormulaIngredient,
    FormulaProblem,
    NutrientLevel,
    Requirement,
)
from bedstone.mill.contents import contents_of, limits_of
from bedstone.mill.model import Inclusion, Mill

__all__ = ["Asked", "Choices", "asked", "can_be_formulated", "with_shares_held"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Choices:
    """What whoever formulates chooses.

    ``odds_frac`` None: as the mill's rule of the product says; ``by_mean``: no odds, every limit
    by its expected value. ``assume_none`` counts a level that nothing says as none,
    ``assume_cv_frac`` a spread that nothing says as so much of the mean; the answer names each use.
    ``prices_usd_t`` stand in for those of the tables.
    """

    on: dt.date
    composed: Composed = Composed.TABLES
    last_assays: int = 10
    odds_frac: float | None = None
    by_mean: bool = False
    assume_none: bool = False
    assume_cv_frac: float | None = None
    prices_usd_t: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """A product's problem with what it was made from."""

    product: str
    choices: Choices
    problem: FormulaProblem
    prices: Mapping[str, PricedAt]
    known: Mapping[str, Known]
    revision: int


def can_be_formulated(mill: Mill) -> tuple[str, ...]:
    """Products with something to formulate from: inclusions, or a formula that runs."""
    said = {row.product for row in mill.inclusions}
    return tuple(
        row.product
        for row in mill.products
        if row.product in said or running_lines(mill, row.product)
    )


def asked(record: Record, product: str, choices: Choices, *, also: tuple[str, ...] = ()) -> Asked:
    """What is asked of a product's formula.

    ``also`` names further ingredients that a given formula holds; they may not go in by
    themselves, but are known and priced.

    Raises
    ------
    Unknown
        If there is no such product.
    Refused
        If nothing says what may go into it.
    NoAnswer
        If a product that may go into it has no running formula.
    """
    mill = current_mill(record)
    mill.product(product)
    running = {row.ingredient: row.parts_frac for row in running_lines(mill, product)}
    rows = _with_others(inclusions_of(mill, product), product, (*running, *also))
    codes = [row.ingredient for row in rows]
    known = known_levels(record, codes, composed=choices.composed, last=choices.last_assays)
    prices = _prices(mill, codes, choices)
    rule = rule_of(mill, product)
    odds_frac = None if choices.by_mean else choices.odds_frac or rule.odds_frac
    requirements = requirements_of(mill, product, odds_frac=odds_frac)
    problem = FormulaProblem(
        product=product,
        ingredients=tuple(
            _ingredient(mill, product, row, known[row.ingredient], price=prices[row.ingredient])
            for row in rows
        ),
        requirements=tuple(
            replace(row, odds_frac=None) if choices.by_mean else row for row in requirements
        ),
        groups=tuple(groups_of(mill, product, codes)),
        level_and_share=tuple(level_and_share_of(mill, product, codes, odds_frac=odds_frac)),
        mash=mash_of(rule),
        change=change_of(rule),
        ingredients_max=rule.ingredients_max,
        assumptions=_assumptions(requirements, choices),
    )
    if running:
        problem = _with_current(problem, running)
    return Asked(
        product=product,
        choices=choices,
        problem=problem,
        prices=prices,
        known=known,
        revision=mill.revision,
    )


def _with_others(
    rows: tuple[Inclusion, ...], product: str, others: tuple[str, ...]
) -> tuple[Inclusion, ...]:
    """Inclusions, and what runs now or is asked about but may not go in, at nothing."""
    there = {row.ingredient for row in rows}
    gone = tuple(
        Inclusion(product=product, ingredient=code, max_frac=0.0, source="not in inclusions.csv")
        for code in dict.fromkeys(others)
        if code not in there
    )
    return rows + gone


def _with_current(problem: FormulaProblem, running: Mapping[str, float]) -> FormulaProblem:
    return replace(
        problem,
        ingredients=tuple(
            replace(row, current_frac=running.get(row.code, 0.0)) for row in problem.ingredients
        ),
    )


def _prices(mill: Mill, codes: list[str], choices: Choices) -> dict[str, PricedAt]:
    prices = prices_on(mill, codes, on=choices.on)
    typed = {
        code: PricedAt(price_usd_t=price, source="typed")
        for code, price in choices.prices_usd_t.items()
        if code in prices
    }
    return prices | typed


def _ingredient(
    mill: Mill, product: str, row: Inclusion, known: Known, *, price: PricedAt
) -> FormulaIngredient:
    bought = mill.ingredient_by_code.get(row.ingredient)
    made = mill.product_by_code.get(row.ingredient)
    contents = contents_of(mill, row.ingredient)
    out = [limit for substance, limit in shut_out(mill, product).items() if contents.get(substance)]
    if out and row.min_frac > 0:
        raise Refused(
            f"{mill.name_of(row.ingredient)} must not go into {mill.name_of(product)}.",
            seen=f"at least {row.min_frac * 100:g} % of it in inclusions.csv, "
            f"and it holds {out[0].substance}",
            allowed="none of it",
            source=out[0].source,
            do="take it out of the inclusions; ask the nutritionist and the veterinarian",
        )
    density = bought.density_kg_m3 if bought is not None else made.density_kg_m3 if made else None
    return FormulaIngredient(
        code=row.ingredient,
        name=mill.name_of(row.ingredient),
        price_usd_t=price.price_usd_t,
        levels={**known.levels, **_substances(mill, product, contents)},
        dry_matter_frac=1.0 - known.moisture_wb,
        dry_matter_sd=known.moisture_sd,
        density_kg_m3=density,
        min_frac=row.min_frac,
        max_frac=0.0 if out else row.max_frac,
        use_at_least_frac=None if out else row.at_least_frac,
        may_give=not (row.firm or out),
    )


def _substances(
    mill: Mill, product: str, contents: Mapping[str, float]
) -> dict[str, NutrientLevel]:
    """Contents as levels, for the product's limits: what the contents table leaves out is none."""
    return {
        substance_name(mill, limit.substance): NutrientLevel(
            mean=contents.get(limit.substance, 0.0), unit="mg/kg", sd=0.0, source="contents table"
        )
        for limit in limits_of(mill, product)
        if limit.kind == "level"
    }


def _assumptions(requirements: list[Requirement], choices: Choices) -> tuple[Assumption, ...]:
    found: list[Assumption] = []
    cv_frac = choices.assume_cv_frac
    if choices.assume_none:
        nutrients = sorted({term.nutrient for row in requirements for term in (*row.of, *row.per)})
        found += [
            Assumption(
                nutrient=nutrient,
                mean=0.0,
                cv_frac=cv_frac or 0.0,
                why="nothing says what it holds; counted as none",
            )
            for nutrient in nutrients
        ]
    elif cv_frac is not None:
        why = f"no spread is known; {cv_frac:.0%} of the mean is assumed"
        found.append(Assumption(nutrient="", cv_frac=cv_frac, why=why))
    return tuple(found)


def with_shares_held(problem: FormulaProblem, shares: Mapping[str, float]) -> FormulaProblem:
    """The problem with every share fixed: what a given formula is judged by."""
    return replace(
        problem,
        ingredients=tuple(
            replace(
                row,
                min_frac=shares.get(row.code, 0.0),
                max_frac=shares.get(row.code, 0.0),
                use_at_least_frac=None,
            )
            for row in problem.ingredients
        ),
    )
