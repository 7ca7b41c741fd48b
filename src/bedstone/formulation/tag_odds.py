"""What a guarantee on the tag is worth when an inspector takes one sample."""

import csv
from dataclasses import dataclass
from functools import cache
from importlib import resources
from statistics import mean, stdev

from bedstone.errors import Unknown
from bedstone.formulation.answers import LimitAnswer, Side
from bedstone.formulation.levels import unit_factor
from bedstone.formulation.measures import odds_of

__all__ = [
    "RULES",
    "SampleError",
    "TagOdds",
    "permitted_deviation",
    "published_sampling_cv",
    "tag_odds",
]

RULES = {
    "florida": "Florida Administrative Code 5E-3.016",
    "nevada": "Nevada Administrative Code 587.620",
}
"""Rules that say how far one official sample may miss a guarantee. The mill's own state decides."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SampleError:
    """How far one inspector's result lies from the lot's true level, in the guarantee's unit."""

    sampling_sd: float
    assay_sd: float
    source: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class TagOdds:
    """A guarantee before an inspector: what is expected, what is permitted, how likely it passes.

    ``deviation`` is 0 where the rule does not speak of the nutrient, and ``source`` then says so.
    ``keeps_frac`` is the probability that the lot itself keeps the guarantee, ``passes_frac`` that
    one sample of it lies within the permitted deviation; None where the spread is not known.
    ``error`` is what sampling and assay were taken to add, with where that comes from.
    """

    code: str
    name: str
    unit: str
    side: Side
    expected: float
    sd: float | None
    guarantee: float
    deviation: float
    source: str
    keeps_frac: float | None
    passes_frac: float | None
    error: SampleError


@dataclass(frozen=True, slots=True)
class _Line:
    rule: str
    names: frozenset[str]
    above_percent: float
    up_to_percent: float
    points: float
    part: float


@cache
def _table() -> tuple[_Line, ...]:
    text = resources.files("bedstone.formulation").joinpath("data/permitted_deviation.csv")
    lines = [line for line in text.read_text("utf-8").splitlines() if not line.startswith("#")]
    return tuple(
        _Line(
            row["rule"],
            frozenset(name.casefold() for name in row["names"].split("|")),
            float(row["above_percent"]),
            float(row["up_to_percent"]),
            float(row["points"]),
            float(row["part"]),
        )
        for row in csv.DictReader(lines)
    )


def permitted_deviation(rule: str, nutrient: str, guarantee: float, unit: str) -> float | None:
    """How far one official sample may miss a guarantee, None where the rule does not speak of it.

    A level on the edge of two bands belongs to the lower one (the rules print 0-5, 5.1-10).

    Parameters
    ----------
    rule : str
        One of ``RULES``.
    nutrient : str
        As the tag calls it.
    guarantee : float
        The guarantee.
    unit : str
        Its unit; the rules' bands and points are in per cent.

    Raises
    ------
    Unknown
        If there is no such rule.

    Examples
    --------
    >>> permitted_deviation("florida", "crude protein", 16.0, "%")
    1.0
    >>> permitted_deviation("nevada", "crude protein", 16.0, "%")
    0.6

    Sources
    -------
    [1] Florida Administrative Code 5E-3.016.
    [2] Nevada Administrative Code 587.620.
    """
    if rule not in RULES:
        raise Unknown(f"There is no rule {rule!r}.", allowed=", ".join(RULES))
    to_percent = unit_factor(unit, "%")
    level = guarantee * to_percent if to_percent else 0.0
    for line in _table():
        fits = line.above_percent < level <= line.up_to_percent or (
            level <= 0 == line.above_percent
        )
        if line.rule == rule and nutrient.casefold() in line.names and fits:
            points = line.points / to_percent if to_percent else 0.0
            return max(points, line.part * guarantee)
    return None


@cache
def published_sampling_cv(nutrient: str) -> float | None:
    """How far samples of one batch lay apart in a published test, as a part of the level, or None.

    The error of the assay is within it: to add an assay's own error as well errs on the careful
    side. One batch of one mill: an assumption where it stands for another.

    Parameters
    ----------
    nutrient : str
        As the tag calls it.

    Examples
    --------
    Printed: protein 1.4 %, fat 6.2 %, salt 10.4 % [1]

    >>> [round(100 * published_sampling_cv(one), 1) for one in ("protein", "crude fat", "salt")]
    [1.4, 6.2, 10.4]

    Sources
    -------
    [1] Feed Management, November 1992, six samples of one batch, as repeated at
        microtracers.com/upload/File/itemff.htm; seen 2026.
    """
    text = resources.files("bedstone.formulation").joinpath("data/sampling_spread.csv")
    lines = [one for one in text.read_text("utf-8").splitlines() if not one.startswith("#")]
    for row in csv.DictReader(lines):
        if nutrient.casefold() in row["names"].split("|"):
            levels = [float(one) for one in row["samples"].split()]
            return stdev(levels) / mean(levels)
    return None


def tag_odds(
    limit: LimitAnswer, nutrient: str, *, rule: str, error: SampleError
) -> tuple[TagOdds, ...]:
    """Each guaranteed side of a demand before an inspector's single sample.

    The result is taken as normal about the expected level, with the spread of lots, of sampling
    and of the assay added as variances.

    Parameters
    ----------
    limit : LimitAnswer
        The demand as the formula keeps it, as fed.
    nutrient : str
        The nutrient as the tag calls it.
    rule : str
        One of ``RULES``.
    error : SampleError
        What sampling and assay add.
    """
    return tuple(
        _one(limit, nutrient, rule=rule, error=error, side=side, guarantee=guarantee)
        for side, guarantee in ((Side.MIN, limit.minimum), (Side.MAX, limit.maximum))
        if guarantee is not None
    )


def _one(
    limit: LimitAnswer,
    nutrient: str,
    *,
    rule: str,
    error: SampleError,
    side: Side,
    guarantee: float,
) -> TagOdds:
    permitted = permitted_deviation(rule, nutrient, guarantee, limit.unit)
    source = RULES[rule] if permitted is not None else f"{RULES[rule]} does not name {nutrient}"
    deviation = permitted or 0.0
    sign = 1.0 if side is Side.MIN else -1.0
    margin = sign * (limit.expected - guarantee)
    keeps = passes = None
    if limit.sd is not None:
        keeps = odds_of(margin, limit.sd)
        spread = (limit.sd**2 + error.sampling_sd**2 + error.assay_sd**2) ** 0.5
        passes = odds_of(margin + deviation, spread)
    return TagOdds(
        code=limit.code,
        name=limit.name,
        unit=limit.unit,
        side=side,
        expected=limit.expected,
        sd=limit.sd,
        guarantee=guarantee,
        deviation=deviation,
        source=source,
        keeps_frac=keeps,
        passes_frac=passes,
        error=error,
    )
