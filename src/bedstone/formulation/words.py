"""Demands in the mill's words."""

from bedstone.formulation.answers import Demand, DemandKind, Side
from bedstone.formulation.model import (
    Basis,
    ChangeLimit,
    FormulaIngredient,
    FormulaProblem,
    IngredientGroup,
    LevelAndShare,
    Requirement,
)

__all__ = [
    "change_demand",
    "change_each_demand",
    "choice_demands",
    "group_demand",
    "ingredient_demand",
    "level_demand",
    "mash_demand",
    "number",
    "per_cent",
    "requirement_demand",
    "requirement_name",
    "requirement_unit",
    "share_demand",
    "total_demand",
]

WORD = {Side.MIN: "at least", Side.MAX: "at most"}


def number(value: float) -> str:
    """A number with no more figures than help a reader.

    Examples
    --------
    >>> number(16.0), number(0.30000000004)
    ('16', '0.3')
    """
    return f"{value:.6g}"


def per_cent(share_frac: float) -> str:
    """A share as people say it.

    Parameters
    ----------
    share_frac : float
        Part of the whole. [0 to 1]

    Returns
    -------
    text : str
        Per cent.

    Examples
    --------
    >>> per_cent(0.125)
    '12.5 %'
    """
    return f"{number(100 * share_frac)} %"


def requirement_name(row: Requirement) -> str:
    """What a requirement is on, in words."""
    if row.name:
        return row.name
    over = " plus ".join(term.nutrient for term in row.of)
    return f"{over} to {' plus '.join(term.nutrient for term in row.per)}" if row.per else over


def requirement_unit(row: Requirement) -> str:
    """The unit of a requirement's limits as shown; a ratio of like units has none."""
    if not row.is_ratio:
        return row.unit
    return "" if row.unit == row.per_unit else f"{row.unit} per {row.per_unit}"


def requirement_demand(row: Requirement, side: Side, limit: float) -> Demand:
    """One side of a requirement as a demand."""
    unit = requirement_unit(row)
    text = f"{requirement_name(row)} {WORD[side]} {number(limit)} {unit}".rstrip()
    if row.basis is Basis.DRY_MATTER and not row.is_ratio:
        text += " in dry matter"
    if row.odds_frac is not None:
        text += f" with odds of {per_cent(row.odds_frac)}"
    kind = DemandKind.RATIO if row.is_ratio else DemandKind.NUTRIENT
    return Demand(
        kind=kind,
        code=row.code,
        side=side,
        limit=limit,
        unit=unit,
        words=text,
        may_give=row.may_give,
    )


def group_demand(row: IngredientGroup, side: Side, limit_frac: float) -> Demand:
    """One side of a group's limit as a demand."""
    name = row.name or row.code
    members = ", ".join(row.ingredients)
    return Demand(
        kind=DemandKind.GROUP,
        code=row.code,
        side=side,
        limit=limit_frac,
        unit="",
        words=f"{name} ({members}) {WORD[side]} {per_cent(limit_frac)}",
        may_give=row.may_give,
    )


def ingredient_demand(row: FormulaIngredient, side: Side, limit_frac: float) -> Demand:
    """One side of an ingredient's own limit as a demand."""
    return Demand(
        kind=DemandKind.INGREDIENT,
        code=row.code,
        side=side,
        limit=limit_frac,
        unit="",
        words=f"{row.name or row.code} {WORD[side]} {per_cent(limit_frac)}",
        may_give=row.may_give,
    )


def level_demand(row: LevelAndShare, ingredient: FormulaIngredient) -> Demand:
    """The level part of a level-and-share limit for one ingredient."""
    text = f"{row.nutrient} in {ingredient.name or ingredient.code} at most {number(row.level_max)}"
    text += f" {row.unit}"
    if row.odds_frac is not None:
        text += f" with odds of {per_cent(row.odds_frac)}"
    return Demand(
        kind=DemandKind.LEVEL,
        code=row.code,
        side=Side.MAX,
        limit=row.level_max,
        unit=row.unit,
        words=f"{text} ({row.source})" if row.source else text,
        may_give=False,
    )


def share_demand(row: LevelAndShare) -> Demand:
    """The share part of a level-and-share limit."""
    members = ", ".join(row.ingredients)
    text = f"{row.name or row.code} ({members}) at most {per_cent(row.share_max_frac)}"
    if row.basis is Basis.DRY_MATTER:
        text += " of the dry matter"
    return Demand(
        kind=DemandKind.SHARE,
        code=row.code,
        side=Side.MAX,
        limit=row.share_max_frac,
        unit="",
        words=f"{text} ({row.source})" if row.source else text,
        may_give=False,
    )


def mash_demand(kind: DemandKind, side: Side, limit: float | None) -> Demand | None:
    """One side of a limit on the mash's moisture or bulk density; None where there is none."""
    if limit is None:
        return None
    if kind is DemandKind.MOISTURE:
        text, unit = f"moisture of the mash {WORD[side]} {per_cent(limit)}", "kg/kg"
    else:
        text, unit = f"bulk density of the mash {WORD[side]} {number(limit)} kg/m3", "kg/m3"
    return Demand(
        kind=kind, code=kind.value, side=side, limit=limit, unit=unit, words=text, may_give=True
    )


def change_demand(change: ChangeLimit) -> Demand:
    """The limit on how much of the running formula is replaced."""
    limit = change.total_frac or 0.0
    return Demand(
        kind=DemandKind.CHANGE,
        code="change",
        side=Side.MAX,
        limit=limit,
        unit="",
        words=f"at most {per_cent(limit)} of the running formula replaced",
        may_give=True,
    )


def change_each_demand(change: ChangeLimit, row: FormulaIngredient) -> Demand:
    """The limit on how far one ingredient's share moves from the running formula."""
    limit, now = change.each_frac or 0.0, row.current_frac or 0.0
    return Demand(
        kind=DemandKind.CHANGE_EACH,
        code=row.code,
        side=Side.MAX,
        limit=limit,
        unit="",
        words=f"{row.name or row.code} moved by at most {per_cent(limit)} from {per_cent(now)}",
        may_give=True,
    )


def total_demand() -> Demand:
    """Shares add up to one, which no mill can give in."""
    return Demand(
        kind=DemandKind.TOTAL,
        code="",
        side=Side.NONE,
        limit=1.0,
        unit="",
        words="the parts add up to the whole, 100 %",
        may_give=False,
    )


def choice_demands(problem: FormulaProblem) -> tuple[dict[int, Demand], Demand | None]:
    """Demands that need a choice: if used, at least (by column), and at most so many."""
    at_least = {
        column: Demand(
            kind=DemandKind.AT_LEAST,
            code=row.code,
            side=Side.MIN,
            limit=row.use_at_least_frac,
            unit="",
            words=f"{row.name or row.code}, if used, at least {per_cent(row.use_at_least_frac)}",
            may_give=row.may_give,
        )
        for column, row in enumerate(problem.ingredients)
        if row.use_at_least_frac
    }
    if problem.ingredients_max is None:
        return at_least, None
    count = Demand(
        kind=DemandKind.COUNT,
        code="count",
        side=Side.MAX,
        limit=float(problem.ingredients_max),
        unit="",
        words=f"at most {problem.ingredients_max} ingredients",
        may_give=True,
    )
    return at_least, count
