"""Prices, requirements, inclusions, groups and rules of formulas: limits that must agree."""

import math
from collections.abc import Iterator

from bedstone.errors import Fault
from bedstone.materials.library import library
from bedstone.mill.cells import near_words
from bedstone.mill.formula_tables import (
    FormulaRule,
    Inclusion,
    IngredientGroupLimit,
    Price,
    Requirement,
)
from bedstone.mill.goods import Composition, Ingredient
from bedstone.mill.validate_places import Check

__all__ = ["formulation_rules", "nutrients_in"]

WHOLE_PCT = 100


def nutrients_in(text: str) -> tuple[str, ...]:
    """The nutrients that a cell names, one or a sum with "+" between; "" for a missing one."""
    return tuple(part.strip() for part in text.split("+"))


def formulation_rules(check: Check) -> Iterator[Iterator[Fault]]:
    """Yield the rules of what formulas are made by."""
    for at, price in check.each(Price):
        yield _price(check, at, price)
    for at, row in check.each(Requirement):
        yield _limits_agree(check, Requirement, at, low=row.minimum, high=row.maximum)
        yield _ratio(check, at, row)
        if check.whole("composition", "ingredients"):
            yield _nutrients(check, at, row)
    for at, inclusion in check.each(Inclusion):
        yield _inclusion(check, at, inclusion)
        if check.whole("products", "ingredients"):
            yield _drug(check, at, inclusion)
    if check.whole("inclusions"):
        yield _room_for_all(check)
    for at, ingredient in check.each(Ingredient):
        yield _in_library(check, at, ingredient)
    for at, group in check.each(IngredientGroupLimit):
        yield _whose(check, at, group)
        yield _group(check, at, group)
        yield _level(check, at, group)
    for at, rule in check.each(FormulaRule):
        yield _densities(check, at, rule)


def _price(check: Check, at: int, row: Price) -> Iterator[Fault]:
    if row.until_on is not None and row.until_on < row.from_on:
        yield check.fault(
            Price,
            at,
            "until_on",
            found=f"{row.until_on}, before the first day {row.from_on}",
            allowed="a last day not before the first",
        )
    least, most = row.mass_min_kg, row.mass_max_kg
    if least is not None and most is not None and least > most:
        yield check.fault(
            Price,
            at,
            "mass_min_kg",
            found=f"{check.shown(Price, 'mass_min_kg', least)}, more than the most that may be had",
            allowed=f"at most {check.shown(Price, 'mass_max_kg', most)}",
        )


def _limits_agree(
    check: Check, row_type: type, at: int, *, low: float | None, high: float | None
) -> Iterator[Fault]:
    if low is None and high is None:
        yield check.fault(
            row_type,
            at,
            "minimum",
            found="neither minimum nor maximum",
            allowed="at least one of the two",
        )
    elif low is not None and high is not None and low > high:
        yield check.fault(
            row_type,
            at,
            "minimum",
            found=f"a minimum of {low:g} above the maximum of {high:g}",
            allowed="a minimum up to the maximum",
        )


def _ratio(check: Check, at: int, row: Requirement) -> Iterator[Fault]:
    if bool(row.per) != bool(row.per_unit):
        yield check.fault(
            Requirement,
            at,
            "per_unit",
            found=row.per_unit or "an empty cell",
            allowed="the unit of the lower nutrient in a ratio, an empty cell otherwise",
            do="" if row.per else "name the lower nutrient in per, or empty the cell",
        )
    for field in ("minimum", "maximum"):
        value = getattr(row, field)
        if value is not None and row.unit == "%" and not row.per and value > WHOLE_PCT:
            yield check.fault(
                Requirement,
                at,
                field,
                found=f"{value:g} %",
                allowed=f"at most {WHOLE_PCT} %",
                do="look at the decimal point",
            )


def _nutrients(check: Check, at: int, row: Requirement) -> Iterator[Fault]:
    known = {item.nutrient for _, item in check.each(Composition)}
    if any(item.library for _, item in check.each(Ingredient)):
        known |= set(library().nutrients)
    for field in ("nutrients", "per"):
        text = getattr(row, field)
        for name in nutrients_in(text) if text else ():
            if name not in known:
                yield check.fault(
                    Requirement,
                    at,
                    field,
                    found=f'"{name}", which neither composition.csv nor the library has',
                    allowed='a nutrient of composition.csv or the library, or several with "+" between',
                    do=near_words(name, sorted(known)) or "add it to composition.csv",
                )


def _inclusion(check: Check, at: int, row: Inclusion) -> Iterator[Fault]:
    for field, value in (("min_frac", row.min_frac), ("at_least_frac", row.at_least_frac)):
        if value is not None and value > row.max_frac:
            yield check.fault(
                Inclusion,
                at,
                field,
                found=f"{check.shown(Inclusion, field, value)}, above the most that may go in",
                allowed=f"at most {check.shown(Inclusion, 'max_frac', row.max_frac)}",
            )


def _drug(check: Check, at: int, row: Inclusion) -> Iterator[Fault]:
    ingredient = check.ingredients.get(row.ingredient)
    product = check.products.get(row.product)
    inside = check.products.get(row.ingredient)
    drug = (ingredient is not None and ingredient.ingredient_class == "drug") or (
        inside is not None and inside.medicated
    )
    if drug and product is not None and not product.medicated and row.max_frac > 0:
        yield check.fault(
            Inclusion,
            at,
            "ingredient",
            found=f"{row.ingredient}, which holds a drug, in {row.product}, which is not medicated",
            allowed="drugs only in products that products.csv says are medicated",
        )


def _in_library(check: Check, at: int, row: Ingredient) -> Iterator[Fault]:
    if row.library and row.library not in library().ingredients:
        known = sorted(library().ingredients)
        yield check.fault(
            Ingredient,
            at,
            "library",
            found=f'"{row.library}", which the composition library does not have',
            allowed=f"one of its {len(known)} ingredients, or an empty cell",
            do=near_words(row.library, known) or "see docs/materials.md",
        )


def _room_for_all(check: Check) -> Iterator[Fault]:
    """The least of all ingredients together may not be more than the whole, nor the most less."""
    rows: dict[str, list[tuple[int, Inclusion]]] = {}
    for at, row in check.each(Inclusion):
        rows.setdefault(row.product, []).append((at, row))
    for product, listed in rows.items():
        least = math.fsum(row.min_frac for _, row in listed)
        most = math.fsum(row.max_frac for _, row in listed)
        for field, total, wrong, words in (
            ("min_frac", least, least > 1 + 1e-9, "more than the whole"),
            ("max_frac", most, most < 1 - 1e-9, "less than the whole"),
        ):
            if wrong:
                yield check.fault(
                    Inclusion,
                    listed[-1][0],
                    field,
                    found=f"rows of {product} that add up to {total * 100:.6g} %, {words}",
                    allowed="limits that leave room for parts that add up to 100 %",
                )


def _whose(check: Check, at: int, row: IngredientGroupLimit) -> Iterator[Fault]:
    if bool(row.product) == bool(row.species):
        yield check.fault(
            IngredientGroupLimit,
            at,
            "product",
            found="both a product and a species" if row.product else "neither product nor species",
            allowed="exactly one of the two",
        )
    species = {product.species for product in check.products.values()}
    if check.whole("products") and row.species and row.species not in species:
        yield check.fault(
            IngredientGroupLimit,
            at,
            "species",
            found=f'"{row.species}", for which no product is made',
            allowed=f"a species of products.csv: {', '.join(sorted(species))}",
            do=near_words(row.species, species) or "correct it, or take the row out",
        )


def _group(check: Check, at: int, row: IngredientGroupLimit) -> Iterator[Fault]:
    members = row.members.split()
    twice = sorted({code for code in members if members.count(code) > 1})
    if twice or not members:
        yield check.fault(
            IngredientGroupLimit,
            at,
            "members",
            found=f"{', '.join(twice)} twice" if twice else "no code",
            allowed="each ingredient of the group once, with spaces between",
        )
    low, high = row.min_frac, row.max_frac
    if low is None and high is None:
        yield check.fault(
            IngredientGroupLimit,
            at,
            "max_frac",
            found="neither least nor most",
            allowed="at least one of the two",
        )
    elif low is not None and high is not None and low > high:
        yield check.fault(
            IngredientGroupLimit,
            at,
            "min_frac",
            found=f"{check.shown(IngredientGroupLimit, 'min_frac', low)}, above the most",
            allowed=f"at most {check.shown(IngredientGroupLimit, 'max_frac', high)}",
        )


def _level(check: Check, at: int, row: IngredientGroupLimit) -> Iterator[Fault]:
    there = (bool(row.nutrient), row.level_max is not None, bool(row.unit))
    if any(there) and not all(there):
        field = ("nutrient", "level_max", "unit")[there.index(False)]
        yield check.fault(
            IngredientGroupLimit,
            at,
            field,
            found="an empty cell",
            allowed="nutrient, level and unit together, or none of them",
        )
    if all(there) and row.max_frac is None:
        yield check.fault(
            IngredientGroupLimit,
            at,
            "max_frac",
            found="an empty cell in a limit on level and share",
            allowed="the share that they may be of the feed, at most 100 %",
        )


def _densities(check: Check, at: int, row: FormulaRule) -> Iterator[Fault]:
    low, high = row.density_min_kg_m3, row.density_max_kg_m3
    if low is not None and high is not None and low > high:
        yield check.fault(
            FormulaRule,
            at,
            "density_min_kg_m3",
            found=f"{check.shown(FormulaRule, 'density_min_kg_m3', low)}, above the most",
            allowed=f"at most {check.shown(FormulaRule, 'density_max_kg_m3', high)}",
        )
