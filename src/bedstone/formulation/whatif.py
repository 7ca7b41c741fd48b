"""What if: a problem with one thing changed. What is asked again is the changed problem."""

from dataclasses import replace

from bedstone.errors import Unknown
from bedstone.formulation.answers import Demand, DemandKind, Side
from bedstone.formulation.model import (
    FormulaIngredient,
    FormulaProblem,
    MashLimits,
    NutrientLevel,
)

__all__ = ["with_ingredient", "with_level", "with_limit", "with_price"]


def with_ingredient(problem: FormulaProblem, row: FormulaIngredient) -> FormulaProblem:
    """The problem with one ingredient's row replaced.

    Raises
    ------
    Unknown
        If the problem has no such ingredient.
    """
    codes = [known.code for known in problem.ingredients]
    if row.code not in codes:
        raise Unknown(
            f"{row.code} is no ingredient of {problem.product}.", allowed=", ".join(codes)
        )
    rows = tuple(row if known.code == row.code else known for known in problem.ingredients)
    return replace(problem, ingredients=rows)


def _ingredient(problem: FormulaProblem, code: str) -> FormulaIngredient:
    for row in problem.ingredients:
        if row.code == code:
            return row
    known = ", ".join(row.code for row in problem.ingredients)
    raise Unknown(f"{code} is no ingredient of {problem.product}.", allowed=known)


def with_price(problem: FormulaProblem, ingredient: str, price_usd_t: float) -> FormulaProblem:
    """The problem with another price of one ingredient.

    Parameters
    ----------
    problem : FormulaProblem
        What was asked.
    ingredient : str
        Code of the ingredient.
    price_usd_t : float
        Its price now. [USD/t]

    Raises
    ------
    Unknown
        If the problem has no such ingredient.
    """
    return with_ingredient(
        problem, replace(_ingredient(problem, ingredient), price_usd_t=price_usd_t)
    )


def with_level(
    problem: FormulaProblem, ingredient: str, nutrient: str, level: NutrientLevel
) -> FormulaProblem:
    """The problem with another level of a nutrient in one ingredient: a lot that assays differently.

    Raises
    ------
    Unknown
        If the problem has no such ingredient.
    """
    row = _ingredient(problem, ingredient)
    return with_ingredient(problem, replace(row, levels={**row.levels, nutrient: level}))


def with_limit(problem: FormulaProblem, demand: Demand, limit: float) -> FormulaProblem:
    """The problem with another limit in one demand.

    Raises
    ------
    ValueError
        If the demand is one that no limit of its own can be moved in.
    """
    if demand.kind in {DemandKind.NUTRIENT, DemandKind.RATIO}:
        return _with_requirement(problem, demand, limit)
    if demand.kind in {DemandKind.MOISTURE, DemandKind.DENSITY}:
        return replace(problem, mash=_with_mash(problem.mash, demand, limit))
    if demand.kind is DemandKind.COUNT:
        return replace(problem, ingredients_max=round(limit))
    return _with_share(problem, demand, min(1.0, max(0.0, limit)))


def _with_requirement(problem: FormulaProblem, demand: Demand, limit: float) -> FormulaProblem:
    low = demand.side is Side.MIN
    rows = tuple(
        row
        if row.code != demand.code
        else replace(row, minimum=limit)
        if low
        else replace(row, maximum=limit)
        for row in problem.requirements
    )
    return replace(problem, requirements=rows)


def _with_mash(mash: MashLimits, demand: Demand, limit: float) -> MashLimits:
    low = demand.side is Side.MIN
    if demand.kind is DemandKind.MOISTURE:
        return replace(mash, moisture_min_wb=limit) if low else replace(mash, moisture_max_wb=limit)
    return replace(mash, density_min_kg_m3=limit) if low else replace(mash, density_max_kg_m3=limit)


def _with_share(problem: FormulaProblem, demand: Demand, share: float) -> FormulaProblem:
    low = demand.side is Side.MIN
    if demand.kind is DemandKind.GROUP:
        groups = tuple(
            row
            if row.code != demand.code
            else replace(row, min_frac=share)
            if low
            else replace(row, max_frac=share)
            for row in problem.groups
        )
        return replace(problem, groups=groups)
    if demand.kind is DemandKind.CHANGE:
        return replace(problem, change=replace(problem.change, total_frac=share))
    if demand.kind is DemandKind.AT_LEAST:
        row = replace(_ingredient(problem, demand.code), use_at_least_frac=share or None)
        return with_ingredient(problem, row)
    if demand.kind is DemandKind.INGREDIENT:
        row = _ingredient(problem, demand.code)
        row = replace(row, min_frac=share) if low else replace(row, max_frac=share)
        return with_ingredient(problem, row)
    raise ValueError(f"the limit {demand.words!r} cannot be moved")
