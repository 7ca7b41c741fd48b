"""Drugs that a feed would carry although nobody has stated how much of them it may hold."""

from collections.abc import Mapping, Sequence

from bedstone.mill.contents import limits_of
from bedstone.mill.model import Mill
from bedstone.mill.plan import Batch, Finding, Verdict
from bedstone.planning.words import amount_text

__all__ = ["NO_LIMIT", "no_limit_findings", "once_a_run", "unlimited_drugs"]

NO_LIMIT = "residue.no_limit"
TRACE_MG_KG = 1e-3
"""Carried drug below this counts as none: what is left thins out for ever but never ends."""


def unlimited_drugs(mill: Mill, product: str, contents: Mapping[str, float]) -> tuple[str, ...]:
    """The drugs that a product does not contain and for which no limit of it is stated."""
    if product not in mill.product_by_code:
        return ()
    stated = {limit.substance for limit in limits_of(mill, product)}
    drugs = {row.ingredient for row in mill.ingredients if row.ingredient_class == "drug"}
    substances = {row.substance for row in mill.contents if row.ingredient in drugs}
    return tuple(sorted(row for row in substances - stated if not contents.get(row, 0.0) > 0))


def no_limit_findings(
    mill: Mill,
    batch: Batch,
    drugs: Sequence[str],
    *,
    portions: Mapping[str, Sequence[float]],
    left_by: Mapping[str, str],
) -> list[Finding]:
    """What a batch would carry of drugs for which no limit of it is stated."""
    findings: list[Finding] = []
    for drug in drugs:
        worst = max(portions.get(drug, [0.0]))
        if worst <= TRACE_MG_KG:
            continue
        name = mill.substance_by_code[drug].name.lower()
        source = f" (from {left_by[drug]})" if left_by.get(drug) else ""
        findings.append(
            Finding(
                code=NO_LIMIT,
                verdict=Verdict.ACT,
                about=batch.batch,
                text=(
                    f"No limit is stated for {name} in {mill.name_of(batch.material)}; the first "
                    f"sacks of {batch.batch} would carry {amount_text(mill, drug, worst)}{source}."
                ),
                value=worst,
                unit="mg/kg",
                source="limits of the mill",
                do=f"state a limit for {name} in the limits table, then plan again",
            )
        )
    return findings


def once_a_run(findings: Sequence[Finding], run_of: Mapping[str, str]) -> list[Finding]:
    """The findings with those of a drug without a limit once for each run and drug, the first."""
    kept: list[Finding] = []
    seen: set[tuple[str, str]] = set()
    for finding in findings:
        if finding.code == NO_LIMIT:
            key = (run_of.get(finding.about, finding.about), finding.do)
            if key in seen:
                continue
            seen.add(key)
        kept.append(finding)
    return kept
