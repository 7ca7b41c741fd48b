"""Versions of formulas: drafted, approved by a named person, put in use, withdrawn.

Each act makes the next revision of the mill's tables, so that there is one truth of what a formula
is and whether it may run: the tables of formulas, as they stand after the last fact.
"""

import datetime as dt
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from bedstone.desk.appending import appended, nobody_since
from bedstone.desk.folding import folded
from bedstone.desk.formula_checks import Judged, judge
from bedstone.desk.formulate import Choices
from bedstone.desk.plain_values import row_plain
from bedstone.desk.record import Record
from bedstone.desk.revisions import (
    APPROVED,
    BECOMES,
    DRAFTED,
    IN_USE,
    WITHDRAWN,
    current_mill,
    digest_of,
    formula_change,
    newest_revision,
)
from bedstone.desk.roles import check
from bedstone.errors import BadInput, Fault, Refused, Unknown
from bedstone.ledger.model import Fact, Json, Recorded
from bedstone.mill.formula_change import next_version, with_change
from bedstone.mill.model import TABLES, Formula, Mill
from bedstone.mill.plan import Finding, Verdict
from bedstone.mill.validate import Places, check_folder

__all__ = [
    "VersionFact",
    "approve_formula",
    "draft_formula",
    "formula_history",
    "put_formula_in_use",
    "version_of",
    "withdraw_formula",
]

WITHIN = 1e-6
LONGEST_WHY = 500
FORMULA_KINDS = tuple(BECOMES)


@dataclass(frozen=True, slots=True, kw_only=True)
class VersionFact:
    """What the journal says of a version: what it became, by whom, when and why."""

    position: int
    product: str
    version: int
    became: str
    by: str
    at: dt.datetime
    why: str


def formula_history(record: Record) -> Mapping[tuple[str, int], tuple[VersionFact, ...]]:
    """What was done with each version on these pages, oldest first; tables have their own log."""

    def note(
        before: Mapping[tuple[str, int], tuple[VersionFact, ...]], facts: Iterable[Recorded]
    ) -> Mapping[tuple[str, int], tuple[VersionFact, ...]]:
        found = dict(before)
        for item in facts:
            change = formula_change(item.fact)
            key = (change.product, change.version)
            said = VersionFact(
                position=item.position,
                product=change.product,
                version=change.version,
                became=change.status,
                by=item.fact.by,
                at=item.fact.happened_at,
                why=str(item.fact.content.get("why", "")),
            )
            found[key] = (*found.get(key, ()), said)
        return found

    return folded(record, "formula history", kinds=FORMULA_KINDS, start={}, fold=note)


def version_of(mill: Mill, product: str, version: int) -> Formula:
    """A version of a product's formula.

    Raises
    ------
    Unknown
        If there is no such product or version.
    """
    mill.product(product)
    versions = {row.version: row for row in mill.formulas if row.product == product}
    if version not in versions:
        raise Unknown(
            f"There is no version {version} of the formula of {mill.name_of(product)}.",
            allowed=", ".join(str(one) for one in sorted(versions)) or "none yet",
        )
    return versions[version]


def draft_formula(
    record: Record,
    product: str,
    parts_frac: Mapping[str, float],
    *,
    why: str,
    by: str,
    at: dt.datetime,
) -> int:
    """Keep a formula as a new draft and return its version.

    Asks: who may draft; ingredients or products of the mill, parts above nothing that add up to
    one (within a part in a million), a reason. Records: ``formulation.formula_drafted/1``.
    """
    mill = current_mill(record)
    check(mill, by, "formula draft")
    mill.product(product)
    _must_say(why)
    _refuse_parts(mill, product, parts_frac)

    def act() -> Fact:
        now = current_mill(record)
        content: dict[str, Json] = {
            "product": product,
            "version": next_version(now, product),
            "lines": [
                {"ingredient": code, "parts_frac": part} for code, part in parts_frac.items()
            ],
            "why": why.strip(),
        }
        return _revising(record, DRAFTED, content, by=by, at=at)

    content = appended(record, act, at=at).fact.content
    return int(str(content["version"]))


def _refuse_parts(mill: Mill, product: str, parts_frac: Mapping[str, float]) -> None:
    known = {**mill.ingredient_by_code, **mill.product_by_code}
    faults = [
        Fault(column=code, found=f"{part * 100:.6g} %", allowed="above 0 and at most 100 %")
        for code, part in parts_frac.items()
        if not (math.isfinite(part) and 0 < part <= 1)
    ]
    faults += [
        Fault(column=code, found="no ingredient and no product", allowed="a code of the tables")
        for code in parts_frac
        if code not in known
    ]
    if product in parts_frac:
        faults.append(Fault(column=product, found="the product itself", allowed="other things"))
    total = math.fsum(parts_frac.values())
    if not faults and abs(total - 1) > WITHIN:
        faults.append(
            Fault(
                column="parts",
                found=f"{total * 100:.7g} % in all",
                allowed="parts that add up to 100 %",
                do=f"{'add' if total < 1 else 'take away'} {abs(total - 1) * 100:.4g} %",
            )
        )
    if faults:
        raise BadInput("These parts make no formula.", faults=tuple(faults))


def approve_formula(
    record: Record,
    product: str,
    version: int,
    *,
    choices: Choices,
    by: str,
    at: dt.datetime,
    why: str = "",
    after: int | None = None,
) -> tuple[Finding, ...]:
    """Approve a draft, and say what was found when it was held against its tag and its limits.

    Asks: who may approve; a reason where something is found that somebody must answer for. Refused
    when: it is no draft; a guarantee is missed by its expected value, a limit of a substance or a
    firm inclusion is broken. Records: ``formulation.formula_approved/1`` with what stands on the
    tag, its odds, and the findings.
    """
    found: tuple[Finding, ...] = ()

    def act() -> Fact:
        nonlocal found
        nobody_since(record, after, kinds=FORMULA_KINDS, key="product", value=product)
        mill = current_mill(record)
        check(mill, by, "formula approve")
        _must_be(mill, product, version, ("draft",), "approved")
        shares = {row.ingredient: row.parts_frac for row in mill.lines_of(product, version)}
        seen = judge(record, product, shares, choices)
        found = seen.findings
        _refuse_stops(mill, product, version, found)
        _must_answer(found, why)
        content: dict[str, Json] = {
            "product": product,
            "version": version,
            "approved_by": by,
            "approved_on": at.astimezone(mill.settings.zone).date().isoformat(),
            "why": why.strip(),
            "composition": choices.composed.value,
            "cost_usd_t": round(seen.cost_usd_t, 2),
            "limits": _limits_said(seen),
            "findings": [row_plain(item) for item in found],
        }
        return _revising(record, APPROVED, content, by=by, at=at)

    appended(record, act, at=at)
    return found


def _limits_said(seen: Judged) -> list[Json]:
    return [
        {
            "name": row.name,
            "unit": row.unit,
            "basis": row.basis.value,
            "expected": _kept(row.expected),
            "sd": _kept(row.sd),
            "minimum": row.minimum,
            "maximum": row.maximum,
            "odds_min_frac": _kept(row.odds_min_frac),
            "odds_max_frac": _kept(row.odds_max_frac),
            "source": row.source,
        }
        for row in seen.limits
    ]


def _kept(value: float | None) -> float | None:
    """A number as a fact keeps it: not more figures than mean something, none for not known."""
    return None if value is None or not math.isfinite(value) else float(f"{value:.6g}")


def _refuse_stops(mill: Mill, product: str, version: int, findings: tuple[Finding, ...]) -> None:
    stops = [row for row in findings if row.verdict is Verdict.STOP]
    if stops:
        raise Refused(
            f"Version {version} of {mill.name_of(product)} must not be approved. "
            + " ".join(row.text for row in stops),
            source=stops[0].source,
            do=stops[0].do,
        )


def _must_answer(findings: tuple[Finding, ...], why: str) -> None:
    asks = [row for row in findings if row.verdict is Verdict.ACT]
    if asks and not why.strip():
        raise BadInput(
            "Say why this may be approved all the same. " + " ".join(row.text for row in asks),
            seen="no reason",
            allowed="a reason in words",
            do=asks[0].do,
        )
    if len(why) > LONGEST_WHY:
        raise BadInput("The reason is too long.", allowed=f"at most {LONGEST_WHY} characters")


def put_formula_in_use(
    record: Record,
    product: str,
    version: int,
    *,
    by: str,
    at: dt.datetime,
    after: int | None = None,
) -> int | None:
    """Let an approved version run from now on; return the version that it takes the place of.

    Plans that were made with the other version say so at once, and their batches do not start.
    Refused when: it is not approved; the tables would not be right with it (an ingredient that no
    bin feeds, a drug in a product that is not medicated). Records:
    ``formulation.formula_put_in_use/1``.
    """
    replaced: int | None = None

    def act() -> Fact:
        nonlocal replaced
        nobody_since(record, after, kinds=FORMULA_KINDS, key="product", value=product)
        mill = current_mill(record)
        check(mill, by, "formula use")
        _must_be(mill, product, version, ("approved",), "put in use")
        running = mill.running_formula(product)
        replaced = None if running is None else running.version
        content: dict[str, Json] = {"product": product, "version": version, "replaces": replaced}
        fact = _revising(record, IN_USE, content, by=by, at=at)
        _refuse_new_faults(mill, with_change(mill, formula_change(fact)), product, version)
        return fact

    appended(record, act, at=at)
    return replaced


def _refuse_new_faults(before: Mill, after: Mill, product: str, version: int) -> None:
    had = set(_faults(before))
    new = tuple(fault for fault in _faults(after) if fault not in had)
    if new:
        raise Refused(
            f"Version {version} of {before.name_of(product)} cannot run in this mill: "
            f"{new[0].found}.",
            allowed=new[0].allowed,
            do=new[0].do or "mend the tables first",
        )


def _faults(mill: Mill) -> tuple[Fault, ...]:
    rows = {name: getattr(mill, name, ()) for name in TABLES}
    return check_folder(rows, mill.settings, places=Places())


def withdraw_formula(
    record: Record,
    product: str,
    version: int,
    *,
    why: str,
    by: str,
    at: dt.datetime,
    after: int | None = None,
) -> None:
    """Withdraw a version: it does not run any more, and never again.

    Asks: who may, and a reason. Refused when: it is withdrawn already. Records:
    ``formulation.formula_withdrawn/1``.
    """
    _must_say(why)

    def act() -> Fact:
        nobody_since(record, after, kinds=FORMULA_KINDS, key="product", value=product)
        mill = current_mill(record)
        check(mill, by, "formula use")
        _must_be(mill, product, version, ("draft", "approved", "running"), "withdrawn")
        content: dict[str, Json] = {"product": product, "version": version, "why": why.strip()}
        return _revising(record, WITHDRAWN, content, by=by, at=at)

    appended(record, act, at=at)


def _must_be(mill: Mill, product: str, version: int, allowed: tuple[str, ...], become: str) -> None:
    row = version_of(mill, product, version)
    if row.status not in allowed:
        raise Refused(
            f"Version {version} of {mill.name_of(product)} is {row.status}; it cannot be {become}.",
            seen=row.status,
            allowed=f"a version that is {' or '.join(allowed)}",
            do="keep it as a new draft" if row.status == "withdrawn" else "",
        )


def _must_say(why: str) -> None:
    if not why.strip() or len(why) > LONGEST_WHY:
        raise BadInput(
            "Say why.",
            seen=f"{len(why.strip())} characters",
            allowed=f"a reason in words, at most {LONGEST_WHY} characters",
        )


def _revising(
    record: Record, kind: str, content: dict[str, Json], *, by: str, at: dt.datetime
) -> Fact:
    """The fact of a change, with the number and the digest of the revision that it makes."""
    mill = current_mill(record)
    bare = Fact(kind=kind, happened_at=at, by=by, content=content)
    change = formula_change(bare)
    words = f"formulas: {change.product} version {change.version} is now {change.status}"
    return Fact(
        kind=kind,
        happened_at=at,
        by=by,
        content={
            **content,
            "revision": newest_revision(record) + 1,
            "digest": digest_of(with_change(mill, change)),
            "changed": [words],
        },
    )
