"""Levels of nutrients as arrays, one unit each, with what was assumed and what is not known."""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from bedstone.errors import Fault
from bedstone.formulation.model import (
    Assumption,
    FormulaIngredient,
    FormulaProblem,
    NutrientLevel,
    Requirement,
)

__all__ = ["DRY_MATTER", "Levels", "resolve", "unit_factor"]

Floats = npt.NDArray[np.float64]

DRY_MATTER = "dry matter"
"""Name under which the dry matter of ingredients takes part in sums, ratios and correlations."""

FAMILIES: dict[str, tuple[str, float]] = {
    "%": ("part of the mass", 1e4),
    "g/kg": ("part of the mass", 1e3),
    "mg/kg": ("part of the mass", 1.0),
    "ppm": ("part of the mass", 1.0),
    "kg/kg": ("part of the mass", 1e6),
    "MJ/kg": ("energy", 1.0),
    "kcal/kg": ("energy", 0.004184),  # the thermochemical calorie, 4.184 J (NIST SP 811, B.8)
}
"""Units that turn into one another, by family, with their size in the family's own unit."""


def unit_factor(unit: str, wanted: str) -> float | None:
    """Factor that turns a level from one unit into another, None if they are no kin.

    Parameters
    ----------
    unit : str
        Unit of the level.
    wanted : str
        Unit it is wanted in.

    Returns
    -------
    factor : float or None
        What to multiply the level with.

    Examples
    --------
    >>> unit_factor("%", "mg/kg")
    10000.0
    >>> unit_factor("IU/kg", "%") is None
    True
    """
    if unit == wanted:
        return 1.0
    family, size = FAMILIES.get(unit, (unit, 1.0))
    other, wanted_size = FAMILIES.get(wanted, (wanted, 1.0))
    return size / wanted_size if family == other else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Levels:
    """Mean and standard deviation of each needed nutrient, shape (ingredients,) each.

    Each nutrient is in ``units[nutrient]``. The sd holds the uncertainty of the mean as well; it
    is not a number where it is not known and no odds are asked.
    """

    units: Mapping[str, str]
    mean: Mapping[str, Floats]
    sd: Mapping[str, Floats]
    assumed: tuple[str, ...]
    faults: tuple[Fault, ...]


@dataclass(slots=True)
class _Reading:
    """One nutrient being read over all ingredients."""

    problem: FormulaProblem
    nutrient: str
    unit: str
    wants_sd: bool
    assumed: list[str]
    faults: list[Fault]

    def level(self, row: FormulaIngredient) -> tuple[float, float]:
        """Mean and sd in one ingredient; a fault and nothing where it is not known."""
        known = row.levels.get(self.nutrient)
        if known is not None and known.sd is not None and known.unit == self.unit:
            return known.mean, _next_lot_sd(known)
        rule = _assumption(self.problem.assumptions, row.code, self.nutrient)
        if known is None:
            if row.max_frac <= 0:
                return 0.0, 0.0  # it cannot be used, so what it holds does not matter
            return self._assumed_mean(row, rule)
        factor = unit_factor(known.unit, self.unit)
        if factor is None:
            self._fault(row, f"{known.mean:g} {known.unit}", f"a unit that turns into {self.unit}")
            return 0.0, 0.0
        return known.mean * factor, self._sd(row, known, rule) * factor

    def _assumed_mean(self, row: FormulaIngredient, rule: Assumption | None) -> tuple[float, float]:
        factor = unit_factor(rule.unit or self.unit, self.unit) if rule else None
        if rule is None or rule.mean is None or factor is None:
            self._fault(row, "not known", f"{self.nutrient} as {self.unit}, or an assumption")
            return 0.0, 0.0
        mean = rule.mean * factor
        text = f"{row.code}: {self.nutrient} taken as {mean:g} {self.unit} ({rule.why})"
        self.assumed.append(text)
        return mean, abs(mean) * rule.cv_frac

    def _sd(self, row: FormulaIngredient, known: NutrientLevel, rule: Assumption | None) -> float:
        if not self.wants_sd:
            return math.nan if known.sd is None else _next_lot_sd(known)
        if known.sd is not None:
            return _next_lot_sd(known)
        if row.max_frac <= 0:
            return 0.0
        if rule is None:
            self._fault(
                row,
                "standard deviation not known",
                f"that of {self.nutrient} between lots, or an assumption, because odds are asked",
            )
            return 0.0
        sd = abs(known.mean) * rule.cv_frac
        text = f"{row.code}: sd of {self.nutrient} taken as {sd:g} {known.unit} ({rule.why})"
        self.assumed.append(text)
        return sd

    def _fault(self, row: FormulaIngredient, found: str, allowed: str) -> None:
        self.faults.append(
            Fault(
                column=f"{self.nutrient} of {row.code}",
                found=found,
                allowed=allowed,
                do="give it with its source; unknown is never taken as nothing",
            )
        )


def _next_lot_sd(level: NutrientLevel) -> float:
    """Spread of the next lot about the mean of the assays: both are uncertain."""
    sd = level.sd or 0.0
    return sd * math.sqrt(1 + 1 / level.assays) if level.assays > 0 else sd


def _assumption(rules: Iterable[Assumption], ingredient: str, nutrient: str) -> Assumption | None:
    """The assumption that speaks of a level, the narrowest first."""
    fitting = [
        rule
        for rule in rules
        if rule.ingredient in {"", ingredient} and rule.nutrient in {"", nutrient}
    ]
    return max(fitting, key=lambda rule: (bool(rule.ingredient), bool(rule.nutrient)), default=None)


def _wanted(problem: FormulaProblem) -> dict[str, tuple[str, bool]]:
    """Each nutrient that a demand needs: the unit it is kept in, and whether its sd is needed."""
    wanted: dict[str, tuple[str, bool]] = {}

    def want(nutrient: str, unit: str, *, odds: bool) -> None:
        kept, before = wanted.get(nutrient, (unit, False))
        wanted[nutrient] = (kept, before or odds)

    for row in problem.requirements:
        odds = row.odds_frac is not None
        for term in row.of:
            want(term.nutrient, row.unit, odds=odds)
        for term in row.per:
            want(term.nutrient, row.per_unit, odds=odds)
    for limit in problem.level_and_share:
        want(limit.nutrient, limit.unit, odds=limit.odds_frac is not None)
    return wanted


def _needing(problem: FormulaProblem, nutrient: str) -> frozenset[str] | None:
    """The ingredients whose level is needed, None for all: a level-and-share limit names its own."""
    used = {term.nutrient for row in problem.requirements for term in (*row.of, *row.per)}
    if nutrient in used:
        return None
    return frozenset(
        code
        for limit in problem.level_and_share
        if limit.nutrient == nutrient
        for code in limit.ingredients
    )


def resolve(problem: FormulaProblem) -> Levels:
    """The levels that a problem's demands need, as arrays, with assumptions used and faults.

    A level that is not known is never taken as nothing: it is a fault, unless an assumption of the
    problem speaks of it, which is then listed.
    """
    units, mean, sd = {}, {}, {}
    assumed: list[str] = []
    faults: list[Fault] = []
    for nutrient, (unit, wants_sd) in _wanted(problem).items():
        if nutrient == DRY_MATTER:
            continue
        reading = _Reading(problem, nutrient, unit, wants_sd, assumed, faults)
        only = _needing(problem, nutrient)
        pairs = [
            reading.level(row) if only is None or row.code in only else (0.0, 0.0)
            for row in problem.ingredients
        ]
        values = np.array(pairs, dtype=np.float64).reshape(-1, 2)
        units[nutrient], mean[nutrient], sd[nutrient] = unit, values[:, 0], values[:, 1]
    if _needs_dry_matter(problem):
        units[DRY_MATTER] = "kg/kg"
        mean[DRY_MATTER], sd[DRY_MATTER] = _dry_matter(problem, faults)
    faults.extend(_units_apart(problem, units))
    return Levels(units=units, mean=mean, sd=sd, assumed=tuple(assumed), faults=tuple(faults))


def _units_apart(problem: FormulaProblem, units: Mapping[str, str]) -> Iterable[Fault]:
    """Demands on one nutrient in units that do not turn into one another."""
    for row in problem.requirements:
        for terms, unit in ((row.of, row.unit), (row.per, row.per_unit)):
            for term in terms:
                kept = units.get(term.nutrient, unit)
                if unit_factor(kept, unit) is None:
                    yield Fault(
                        column=f"{term.nutrient} in requirement {row.code}",
                        found=unit,
                        allowed=f"a unit that turns into {kept}, as another demand has it",
                    )


def _needs_dry_matter(problem: FormulaProblem) -> bool:
    mash = problem.mash
    return (
        any(row.basis == "dry matter" and not row.is_ratio for row in problem.requirements)
        or any(_names_dry_matter(row) for row in problem.requirements)
        or any(row.basis == "dry matter" for row in problem.level_and_share)
        or mash.moisture_min_wb is not None
        or mash.moisture_max_wb is not None
    )


def _names_dry_matter(row: Requirement) -> bool:
    return any(term.nutrient == DRY_MATTER for term in (*row.of, *row.per))


def _dry_matter(problem: FormulaProblem, faults: list[Fault]) -> tuple[Floats, Floats]:
    """Dry matter of each ingredient; its sd counts as none where it is not given, and is then 0."""
    faults.extend(
        Fault(
            column=f"dry matter of {row.code}",
            found="not known",
            allowed="0 to 1, because a demand is in dry matter or on moisture",
            do="give the ingredient's moisture",
        )
        for row in problem.ingredients
        if row.dry_matter_frac is None and row.max_frac > 0
    )
    mean = np.array([row.dry_matter_frac or 0.0 for row in problem.ingredients], dtype=np.float64)
    sd = np.array([row.dry_matter_sd or 0.0 for row in problem.ingredients], dtype=np.float64)
    return mean, sd
