"""What is wrong with a problem as given: everything at once, before anything is solved."""

import math
from collections import Counter
from collections.abc import Iterable, Iterator

from bedstone.errors import BadInput, Fault
from bedstone.formulation.levels import DRY_MATTER, Levels
from bedstone.formulation.model import FormulaIngredient, FormulaProblem, Requirement

__all__ = ["refuse_bad_input"]

SHARE = "a part of the mash, 0 to 1"
ROUNDED_FRAC = 1e-6
"""How far shares of the running formula may miss one: they are kept to parts per million."""


def refuse_bad_input(problem: FormulaProblem, levels: Levels) -> None:
    """Raise for a problem that cannot be understood, with every fault found.

    Raises
    ------
    BadInput
        If a number is missing, no number, below what is allowed, or names what is not there.
    """
    faults = [
        *_of_names(problem),
        *(fault for row in problem.ingredients for fault in _of_ingredient(row)),
        *(fault for row in problem.requirements for fault in _of_requirement(row)),
        *_of_groups(problem),
        *_of_mash_and_change(problem),
        *_of_correlations(problem, levels),
        *levels.faults,
    ]
    if faults:
        raise BadInput(
            f"The formula of {problem.product or 'this product'} cannot be reckoned.",
            seen=f"{len(faults)} fault{'s' if len(faults) > 1 else ''}",
            do="put these right",
            faults=tuple(faults),
        )


def _fault(what: str, found: object, allowed: str, do: str = "") -> Fault:
    return Fault(column=what, found=str(found), allowed=allowed, do=do)


def _of_names(problem: FormulaProblem) -> Iterator[Fault]:
    if not problem.ingredients:
        yield _fault("ingredients", "none", "at least one")
    for kind, codes in (
        ("ingredient", [row.code for row in problem.ingredients]),
        ("requirement", [row.code for row in problem.requirements]),
        ("group", [row.code for row in problem.groups]),
        ("level-and-share limit", [row.code for row in problem.level_and_share]),
    ):
        for code, times in Counter(codes).items():
            if times > 1:
                yield _fault(f"{kind} {code}", f"{times} times", "once", "keep one of them")
    if problem.ingredients_max is not None and problem.ingredients_max < 1:
        yield _fault("number of ingredients", problem.ingredients_max, "1 or more")


def _is_share(value: float) -> bool:
    return math.isfinite(value) and 0 <= value <= 1


def _of_ingredient(row: FormulaIngredient) -> Iterator[Fault]:
    if not (math.isfinite(row.price_usd_t) and row.price_usd_t >= 0):
        yield _fault(f"price of {row.code}", f"{row.price_usd_t:g} USD/t", "0 USD/t or more")
    for what, share in (
        ("minimum", row.min_frac),
        ("maximum", row.max_frac),
        ("amount if used", row.use_at_least_frac),
        ("share in the running formula", row.current_frac),
        ("dry matter", row.dry_matter_frac),
    ):
        if share is not None and not _is_share(share):
            yield _fault(f"{what} of {row.code}", f"{share:g}", SHARE)
    if row.min_frac > row.max_frac:
        found = f"at least {row.min_frac:g}, at most {row.max_frac:g}"
        yield _fault(f"limits of {row.code}", found, "a minimum not above the maximum")
    if row.use_at_least_frac is not None and row.use_at_least_frac > row.max_frac:
        found = f"if used at least {row.use_at_least_frac:g}, at most {row.max_frac:g}"
        yield _fault(f"limits of {row.code}", found, "an amount if used not above the maximum")
    yield from _of_levels(row)


def _of_levels(row: FormulaIngredient) -> Iterator[Fault]:
    if row.density_kg_m3 is not None and not 0 < row.density_kg_m3 < math.inf:
        yield _fault(f"bulk density of {row.code}", f"{row.density_kg_m3:g} kg/m3", "above 0")
    if row.dry_matter_sd is not None and not 0 <= row.dry_matter_sd < math.inf:
        yield _fault(f"sd of dry matter of {row.code}", f"{row.dry_matter_sd:g}", "0 or more")
    for nutrient, level in row.levels.items():
        if not math.isfinite(level.mean):
            yield _fault(f"{nutrient} of {row.code}", f"{level.mean:g}", "a number")
        if level.sd is not None and not 0 <= level.sd < math.inf:
            yield _fault(f"sd of {nutrient} of {row.code}", f"{level.sd:g}", "0 or more")
        if level.assays < 0:
            yield _fault(f"assays of {nutrient} of {row.code}", level.assays, "0 or more")


def _of_requirement(row: Requirement) -> Iterator[Fault]:
    if not row.of:
        yield _fault(f"requirement {row.code}", "no nutrient", "at least one")
    limits = [limit for limit in (row.minimum, row.maximum) if limit is not None]
    if not limits:
        yield _fault(f"requirement {row.code}", "no limit", "a minimum, a maximum or both")
    for limit in limits:
        if not math.isfinite(limit):
            yield _fault(f"requirement {row.code}", f"limit {limit:g}", "a number")
    if row.minimum is not None and row.maximum is not None and row.minimum > row.maximum:
        found = f"at least {row.minimum:g}, at most {row.maximum:g}"
        yield _fault(f"requirement {row.code}", found, "a minimum not above the maximum")
    yield from _of_odds(f"requirement {row.code}", row.odds_frac)
    for term in (*row.of, *row.per):
        if not math.isfinite(term.weight):
            yield _fault(f"weight of {term.nutrient} in {row.code}", term.weight, "a number")


def _of_odds(what: str, odds_frac: float | None) -> Iterator[Fault]:
    if odds_frac is not None and not 0.5 <= odds_frac < 1:  # noqa: PLR2004 - even odds: the mean itself
        yield _fault(what, f"odds {odds_frac:g}", "0.5 up to, not with, 1", "0.95 is usual")


def _of_groups(problem: FormulaProblem) -> Iterator[Fault]:
    known = {row.code for row in problem.ingredients}
    for group in problem.groups:
        what = f"group {group.code}"
        yield from _of_members(what, group.ingredients, known)
        limits = [limit for limit in (group.min_frac, group.max_frac) if limit is not None]
        if not limits:
            yield _fault(what, "no limit", "a minimum, a maximum or both")
        for limit in limits:
            if not _is_share(limit):
                yield _fault(what, f"{limit:g}", SHARE)
        if limits and limits[0] > limits[-1]:
            found = f"at least {limits[0]:g}, at most {limits[-1]:g}"
            yield _fault(what, found, "a minimum not above the maximum")
    for row in problem.level_and_share:
        what = f"level-and-share limit {row.code}"
        yield from _of_members(what, row.ingredients, known)
        yield from _of_odds(what, row.odds_frac)
        if not _is_share(row.share_max_frac):
            yield _fault(what, f"share {row.share_max_frac:g}", SHARE)
        if not (math.isfinite(row.level_max) and row.level_max >= 0):
            yield _fault(what, f"level {row.level_max:g} {row.unit}", "0 or more")


def _of_members(what: str, members: Iterable[str], known: set[str]) -> Iterator[Fault]:
    names = list(members)
    if not names:
        yield _fault(what, "no ingredient", "at least one")
    for code in names:
        if code not in known:
            yield _fault(what, f"ingredient {code}", "an ingredient of this formula")


def _of_mash_and_change(problem: FormulaProblem) -> Iterator[Fault]:
    mash, change = problem.mash, problem.change
    for what, value, highest in (
        ("moisture at least", mash.moisture_min_wb, 1.0),
        ("moisture at most", mash.moisture_max_wb, 1.0),
        ("change of each", change.each_frac, 1.0),
        ("change in all", change.total_frac, 1.0),
        ("bulk density at least", mash.density_min_kg_m3, 1e5),
        ("bulk density at most", mash.density_max_kg_m3, 1e5),
    ):
        if value is not None and not 0 <= value <= highest:
            yield _fault(what, f"{value:g}", f"0 to {highest:g}")
    if mash.density_min_kg_m3 is not None or mash.density_max_kg_m3 is not None:
        for row in problem.ingredients:
            if row.density_kg_m3 is None and row.max_frac > 0:
                yield _fault(f"bulk density of {row.code}", "not known", "kg/m3, above 0")
    if change.each_frac is None and change.total_frac is None:
        return
    total = sum(row.current_frac or 0.0 for row in problem.ingredients)
    if not abs(total - 1) <= ROUNDED_FRAC:
        found = f"shares of the running formula add up to {total:.6f}"
        do = "give every ingredient of the running formula"
        yield _fault("change from the running formula", found, "1", do)


def _of_correlations(problem: FormulaProblem, levels: Levels) -> Iterator[Fault]:
    codes = {row.code for row in problem.ingredients}
    for pair in problem.correlations:
        what = f"correlation of {' '.join(pair.first)} with {' '.join(pair.second)}"
        if not -1 <= pair.r <= 1:
            yield _fault(what, f"{pair.r:g}", "-1 to 1")
        for code, nutrient in (pair.first, pair.second):
            if code not in codes:
                yield _fault(what, f"ingredient {code}", "an ingredient of this formula")
            if nutrient not in levels.mean and nutrient != DRY_MATTER:
                yield _fault(what, f"nutrient {nutrient}", "a nutrient that a demand is on")
        if pair.first == pair.second:
            yield _fault(what, "the same level twice", "two levels")
