"""A version of a formula held against its product's limits, as approval asks."""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from bedstone.desk.formula_cautions import AFLATOXIN, FUMONISIN, cautions_of
from bedstone.desk.formula_limits import TAG
from bedstone.desk.formulate import Asked, Choices, asked, with_shares_held
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.errors import BadInput
from bedstone.formulation.answers import DemandKind, LimitAnswer
from bedstone.formulation.judging import judged
from bedstone.formulation.model import FormulaProblem
from bedstone.mill.contents import contents_of
from bedstone.mill.model import Mill
from bedstone.mill.plan import Finding, Verdict

__all__ = ["Judged", "judge"]

CLOSE = 1e-6
DIVISION_FRAC, DIVISION_PART = 5e-4, 0.02
"""How far a part may lie from its limit for being weighed in whole divisions: of the batch, and of
the limit itself, whichever is less (common practice, no source)."""
ODDS_CLOSE = 1e-3
"""Odds are judged to a tenth of a per cent: parts that were rounded to the scale miss by less."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """A formula as it stands against its limits, at today's prices."""

    product: str
    shares: Mapping[str, float]
    cost_usd_t: float
    limits: tuple[LimitAnswer, ...]
    findings: tuple[Finding, ...]
    asked: Asked


def judge(record: Record, product: str, shares: Mapping[str, float], choices: Choices) -> Judged:
    """What a formula keeps of its tag, requirements and cautions, and what it costs.

    A demand on a nutrient of which not enough is known is not among the limits; a finding says so.
    """
    mill = current_mill(record)
    put = asked(record, product, choices, also=tuple(shares))
    problem = with_shares_held(put.problem, shares)
    limits: list[LimitAnswer] = []
    findings: list[Finding] = []
    try:
        limits += judged(problem, shares)
    except BadInput:
        for part in _one_by_one(problem):
            try:
                limits += judged(part, shares)
            except BadInput as unknown:
                findings.append(_cannot_be_judged(mill, part, unknown))
    findings += [row for limit in limits for row in _limit_findings(mill, product, limit)]
    findings += _ingredient_findings(mill, put, shares)
    findings += cautions_of(mill, product, shares, _levels(mill, put, shares))
    prices = {row.code: row.price_usd_t for row in problem.ingredients}
    return Judged(
        product=product,
        shares=shares,
        cost_usd_t=math.fsum(share * prices[code] for code, share in shares.items()),
        limits=tuple(limits),
        findings=tuple(findings),
        asked=put,
    )


def _one_by_one(problem: FormulaProblem) -> Iterator[FormulaProblem]:
    """The demands one at a time, so that one that cannot be judged does not hide the others."""
    bare = replace(problem, requirements=(), groups=(), level_and_share=(), mash=type(problem.mash)(),
                   change=type(problem.change)())  # fmt: skip
    for row in problem.requirements:
        yield replace(bare, requirements=(row,))
    for limit in problem.level_and_share:
        yield replace(bare, level_and_share=(limit,))
    yield replace(bare, groups=problem.groups, mash=problem.mash, change=problem.change)


def _cannot_be_judged(mill: Mill, part: FormulaProblem, unknown: BadInput) -> Finding:
    named = [row.name or row.code for row in part.requirements]
    named += [row.name or row.code for row in part.level_and_share]
    first = unknown.faults[0] if unknown.faults else None
    return Finding(
        code="formula.unknown",
        verdict=Verdict.ACT,
        about=part.product,
        text=f"Whether {mill.name_of(part.product)} keeps {named[0] if named else 'its limits'} "
        f"cannot be said: {first.column if first else 'a number'} is "
        f"{first.found if first else 'missing'}.",
        source="composition table",
        do="add it to composition.csv with its source, or have it assayed",
    )


def _limit_findings(mill: Mill, product: str, row: LimitAnswer) -> Iterator[Finding]:
    is_tag = row.code.startswith(TAG)
    for limit, odds, word in (
        (row.minimum, row.odds_min_frac, "at least"),
        (row.maximum, row.odds_max_frac, "at most"),
    ):
        if limit is None:
            continue
        slack = row.expected - limit if word == "at least" else limit - row.expected
        wanted = row.odds_asked_frac
        missed = slack < -CLOSE * max(1.0, abs(limit))
        unlikely = wanted is not None and odds is not None and odds < wanted - ODDS_CLOSE
        if not missed and not unlikely:
            continue
        firm = is_tag and missed
        yield Finding(
            code="formula.tag" if is_tag else "formula.requirement",
            verdict=Verdict.STOP if firm else Verdict.ACT,
            about=product,
            text=f"{mill.name_of(product)}: {row.name} is expected at {_shown(row, row.expected)}, "
            f"{word} {_shown(row, limit)} asked"
            + (f"; met with odds of {odds * 100:.3g} %" if odds is not None else "")
            + (f", {wanted * 100:.3g} % asked." if wanted is not None else "."),
            value=row.expected,
            limit=limit,
            unit=row.unit,
            source=row.source,
            do="change the parts, or the tag" if is_tag else "say why it may be so",
        )


def _shown(row: LimitAnswer, value: float) -> str:
    """A value with its unit; shares as per cent."""
    if row.kind in {DemandKind.GROUP, DemandKind.SHARE, DemandKind.CHANGE, DemandKind.MOISTURE}:
        return f"{value * 100:.4g} %"
    return f"{value:.4g} {row.unit}".rstrip()


def _ingredient_findings(mill: Mill, put: Asked, shares: Mapping[str, float]) -> Iterator[Finding]:
    """Parts outside of what the inclusions allow."""
    for row in put.problem.ingredients:
        share = shares.get(row.code, 0.0)
        too_little = share < row.min_frac - _division(row.min_frac)
        too_much = share > row.max_frac + _division(row.max_frac)
        if not too_little and not too_much:
            continue
        limit = row.min_frac if too_little else row.max_frac
        word = "at least" if too_little else "at most"
        yield Finding(
            code="formula.inclusion",
            verdict=Verdict.ACT if row.may_give else Verdict.STOP,
            about=put.product,
            text=f"{mill.name_of(put.product)} has {share * 100:.4g} % of {row.name}; {word} "
            f"{limit * 100:.4g} % may go in.",
            value=share * 100,
            limit=limit * 100,
            unit="%",
            source="inclusions table",
            do="change the part, or say why it may be so",
        )


def _division(limit_frac: float) -> float:
    return CLOSE + min(DIVISION_FRAC, DIVISION_PART * limit_frac)


def _levels(mill: Mill, put: Asked, shares: Mapping[str, float]) -> dict[str, float]:
    """Levels of the whole feed that cautions ask for, where every part is known.

    Of mould toxins only what is made of corn counts: nothing else here is asked for them.
    """
    found: dict[str, float] = {}
    for nutrient in ("crude protein", "NPN protein", FUMONISIN, AFLATOXIN):
        parts = []
        for code, share in shares.items():
            level = put.known[code].levels.get(nutrient)
            toxin = nutrient in {FUMONISIN, AFLATOXIN}
            if level is None and toxin and not contents_of(mill, code).get("corn"):
                continue
            parts.append(None if level is None else share * level.mean)
        if parts and all(part is not None for part in parts):
            found[nutrient] = math.fsum(part for part in parts if part is not None)
    return found
