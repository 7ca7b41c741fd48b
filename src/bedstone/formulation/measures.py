"""A quantity of the finished feed (level, ratio, share, moisture) as a function of the shares.

Each is over(x) / under(x), both linear in the shares x. Keeping a limit m from below is
(over - m under)(x) >= 0, linear as well, and its spread over lots is the root of a quadratic form
in x whose matrix depends on m. As fed, under is the whole mash, 1.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from bedstone.formulation.levels import DRY_MATTER, Levels, unit_factor
from bedstone.formulation.model import Basis, Correlation, Requirement, Term

__all__ = ["Measure", "Spread", "odds_of", "requirement_measure"]

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """Covariance of the coefficients of a row over lots: a diagonal, and off it where lots go together.

    ``variance`` has shape (ingredients,). ``both`` has shape (ingredients, ingredients), with the
    diagonal in it, or is None where all lots are independent.
    """

    variance: Floats
    both: Floats | None = None

    def times(self, shares: Floats) -> Floats:
        """Covariance times shares, shape (ingredients,)."""
        return self.variance * shares if self.both is None else self.both @ shares

    def sd(self, shares: Floats) -> float:
        """Standard deviation of the row's value at some shares; what is not used has no say."""
        if self.both is None:
            used = shares != 0
            return math.sqrt(float(self.variance[used] @ shares[used] ** 2))
        return math.sqrt(max(0.0, float(shares @ self.both @ shares)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """A quantity over(x) / under(x) with the nutrients that make it uncertain.

    ``over`` and ``under`` have shape (ingredients,). ``over_weights`` and ``under_weights`` are
    the weights of the nutrients in them, in the levels' own units.
    """

    over: Floats
    under: Floats
    as_fed: bool
    over_weights: Mapping[str, float] = field(default_factory=dict)
    under_weights: Mapping[str, float] = field(default_factory=dict)

    def value(self, shares: Floats) -> float:
        """The quantity at some shares; not a number where there is nothing to relate it to."""
        under = float(self.under @ shares)
        return float(self.over @ shares) / under if under else math.nan

    def row(self, limit: float) -> tuple[Floats, float]:
        """Coefficients and right-hand side of keeping a limit: coefficients @ x against it."""
        if self.as_fed:
            return self.over, limit
        return self.over - limit * self.under, 0.0

    def spread(
        self, limit: float, levels: Levels, correlations: tuple[Correlation, ...], codes: list[str]
    ) -> Spread:
        """Covariance of the coefficients of ``over - limit * under`` over lots."""
        weights = dict(self.over_weights)
        for nutrient, weight in self.under_weights.items():
            weights[nutrient] = weights.get(nutrient, 0.0) - limit * weight
        size = len(codes)
        variance = np.zeros(size)
        for nutrient, weight in weights.items():
            variance += (weight * levels.sd[nutrient]) ** 2
        pairs = [
            pair for pair in correlations if pair.first[1] in weights and pair.second[1] in weights
        ]
        if not pairs:
            return Spread(variance=variance)
        both = np.diag(np.nan_to_num(variance))
        place = {code: index for index, code in enumerate(codes)}
        for pair in pairs:
            (code_a, nutrient_a), (code_b, nutrient_b) = pair.first, pair.second
            a, b = place[code_a], place[code_b]
            sd_a, sd_b = levels.sd[nutrient_a][a], levels.sd[nutrient_b][b]
            shared = pair.r * weights[nutrient_a] * weights[nutrient_b] * sd_a * sd_b
            both[a, b] += shared
            both[b, a] += shared
        return Spread(variance=variance, both=both)


def odds_of(margin: float, sd: float) -> float:
    """Probability that a normal quantity with a margin above its limit is not below it.

    Parameters
    ----------
    margin : float
        Expected value less the limit.
    sd : float
        Standard deviation, same unit.

    Returns
    -------
    odds_frac : float
        Probability. [0 to 1]

    Examples
    --------
    >>> round(odds_of(1.6449, 1.0), 3)
    0.95
    """
    if sd == 0:
        return 1.0 if margin >= 0 else 0.0
    return 0.5 * math.erfc(-margin / (sd * math.sqrt(2)))


def _weights(terms: tuple[Term, ...], unit: str, levels: Levels) -> dict[str, float]:
    """Weight of each nutrient of a sum, with the factor from its unit to the sum's."""
    weights: dict[str, float] = {}
    for term in terms:
        factor = unit_factor(levels.units[term.nutrient], unit)
        if factor is None:  # the checks of input have refused this before
            raise ValueError(f"{term.nutrient} in {levels.units[term.nutrient]}, wanted in {unit}")
        weights[term.nutrient] = weights.get(term.nutrient, 0.0) + term.weight * factor
    return weights


def _sum(weights: Mapping[str, float], levels: Levels, size: int) -> Floats:
    total = np.zeros(size)
    for nutrient, weight in weights.items():
        total += weight * levels.mean[nutrient]
    return total


def requirement_measure(row: Requirement, levels: Levels, size: int) -> Measure:
    """The quantity that a requirement limits."""
    over = _weights(row.of, row.unit, levels)
    if row.is_ratio:
        under = _weights(row.per, row.per_unit, levels)
    elif row.basis is Basis.DRY_MATTER:
        under = {DRY_MATTER: 1.0}
    else:
        return Measure(
            over=_sum(over, levels, size), under=np.ones(size), as_fed=True, over_weights=over
        )
    return Measure(
        over=_sum(over, levels, size),
        under=_sum(under, levels, size),
        as_fed=False,
        over_weights=over,
        under_weights=under,
    )
