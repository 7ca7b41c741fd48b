"""Which batch would break which limit, by how much: the plan replayed on what machines hold."""

import math
from collections.abc import Sequence

from bedstone.mill.contents import (
    NOTHING_LIES,
    Lying,
    contents_of,
    formula_contents,
    limits_of,
)
from bedstone.mill.model import Limit, Mill
from bedstone.mill.plan import Batch, BatchKind, Finding, HeldSubstance, Verdict
from bedstone.mill.residue import CleanedOut, Ran, Reached
from bedstone.planning.paths import Paths
from bedstone.planning.plain_residue import Holding, PlainResidue
from bedstone.planning.verify_no_limit import no_limit_findings, once_a_run, unlimited_drugs
from bedstone.planning.verify_order import Event
from bedstone.planning.words import amount_text, mass_text

__all__ = ["residue_findings", "verify_sequence"]

SLACK = 1e-6  # of the level; the planner keeps it to 1e-9
PASSED_SLACK_KG = 1e-3
MG_KG = 1_000_000


def residue_findings(
    mill: Mill,
    starting: tuple[HeldSubstance, ...],
    events: list[Event],
    *,
    lying: Lying = NOTHING_LIES,
) -> list[Finding]:
    """Every limit that a batch breaks when the events happen in this order."""
    residue = PlainResidue(mill)
    residue.start(starting)
    never = _never_handled(mill)
    findings: list[Finding] = []
    for event in events:
        if event.clean_out is not None:
            residue.clean(event.clean_out.places)
        if event.batch is not None:
            findings.extend(_one_batch(mill, residue, event.batch, never=never, lying=lying))
    run_of = {event.batch.batch: event.batch.run for event in events if event.batch is not None}
    return once_a_run(findings, run_of)


def verify_sequence(
    mill: Mill,
    *,
    starting: tuple[HeldSubstance, ...],
    made: Sequence[Ran],
    then: Sequence[Batch],
    lying: Lying = NOTHING_LIES,
) -> tuple[Finding, ...]:
    """What the limits say of the next batches after what really ran.

    Parameters
    ----------
    mill : Mill
        The mill.
    starting : tuple of HeldSubstance
        What machines held before ``made``.
    made : sequence
        Batches made and clean-outs, in order of time.
    then : sequence of Batch
        What would be made next, in order.
    lying : mapping, optional
        What lots of products that go into others contain, where they lie. [mg/kg]

    Returns
    -------
    findings : tuple of Finding
        Empty when every limit is kept.
    """
    residue = PlainResidue(mill)
    residue.start(starting)
    for item in made:
        if isinstance(item, CleanedOut):
            residue.clean(item.places)
        elif isinstance(item, Reached):
            residue.reach(item.places, material=item.material, contents=item.contents)
        elif item.mass_mg > 0:
            mass_kg = item.mass_mg / MG_KG
            residue.pass_batch(
                item.route,
                material=item.material,
                mass_kg=mass_kg,
                contents=item.contents,
                sack_kg=mass_kg,
                watched=(),
            )
    never = _never_handled(mill)
    return tuple(
        finding
        for batch in then
        for finding in _one_batch(mill, residue, batch, never=never, lying=lying)
    )


def _one_batch(
    mill: Mill,
    residue: PlainResidue,
    batch: Batch,
    *,
    never: dict[str, frozenset[str]],
    lying: Lying,
) -> list[Finding]:
    findings: list[Finding] = []
    is_feed = batch.kind is BatchKind.FEED and batch.formula_version is not None
    product = mill.product_by_code.get(batch.material)
    if is_feed and product is not None:
        contents = formula_contents(mill, batch.material, batch.formula_version or 0, lying=lying)
        sack_kg = product.pack_kg or mill.settings.sack_kg
        limits = limits_of(mill, batch.material)
    else:
        contents, sack_kg, limits = contents_of(mill, batch.material), math.inf, ()
    unlimited = unlimited_drugs(mill, batch.material, contents) if is_feed else ()
    for limit in limits:
        if limit.kind != "level":
            findings.extend(_passed_findings(mill, residue, batch, limit, never=never))
            if contents.get(limit.substance, 0.0) > 0:
                findings.append(_own_finding(mill, batch, limit, contents[limit.substance]))
    before = _left_by(residue, batch)
    mass_kg = batch.mass_mg / MG_KG
    portions = residue.pass_batch(
        batch.route,
        material=batch.material,
        mass_kg=mass_kg,
        contents=contents,
        sack_kg=min(sack_kg, mass_kg),
        watched={*unlimited, *(limit.substance for limit in limits if limit.kind == "level")},
    )
    for limit in limits:
        level = limit.level_mg_kg or 0.0
        worst = max(portions.get(limit.substance, [0.0]))
        if limit.kind == "level" and worst > level * (1 + SLACK):
            sack = portions[limit.substance].index(worst) + 1
            own = contents.get(limit.substance, 0.0)
            left_by = before.get(limit.substance, "")
            findings.append(
                _level_finding(mill, batch, limit, worst=worst, own=own, sack=sack, left_by=left_by)
            )
    findings += no_limit_findings(mill, batch, unlimited, portions=portions, left_by=before)
    return findings


def _left_by(residue: PlainResidue, batch: Batch) -> dict[str, str]:
    """What left most of each substance on the way of a batch."""
    most: dict[str, tuple[float, str]] = {}
    for place in residue.along(batch.route):
        for substance in residue.mill.substance_by_code:
            holding = residue.at(place, substance)
            if holding.held_mg_kg > most.get(substance, (0.0, ""))[0]:
                most[substance] = (holding.held_mg_kg, _origin(residue.mill, holding))
    return {substance: text for substance, (_, text) in most.items()}


def _origin(mill: Mill, holding: Holding) -> str:
    name = mill.name_of(holding.left_by) if holding.left_by else "what ran before"
    return name if holding.known else f"{name}, the worst that may have run"


def _level_finding(
    mill: Mill,
    batch: Batch,
    limit: Limit,
    *,
    worst: float,
    own: float,
    sack: int,
    left_by: str,
) -> Finding:
    substance = mill.substance_by_code[limit.substance].name.lower()
    level = limit.level_mg_kg or 0.0
    source = f" (from {left_by})" if left_by else ""
    return Finding(
        code="residue.level",
        verdict=Verdict.STOP,
        about=batch.batch,
        text=(
            f"Sack {sack} of {batch.batch} would hold {amount_text(mill, limit.substance, worst)} "
            f"of {substance}{source}: {amount_text(mill, limit.substance, worst - own)} beyond "
            f"the feed's own {amount_text(mill, limit.substance, own)}, and "
            f"{amount_text(mill, limit.substance, worst - level)} above the limit of "
            f"{mill.name_of(batch.material)}, {amount_text(mill, limit.substance, level)} "
            f"({limit.source})."
        ),
        value=worst,
        limit=level,
        unit="mg/kg",
        source=limit.source,
        do="flush or clean out before it, or run it elsewhere in the day",
    )


def _own_finding(mill: Mill, batch: Batch, limit: Limit, own: float) -> Finding:
    substance = mill.substance_by_code[limit.substance].name.lower()
    return Finding(
        code="formula.limit",
        verdict=Verdict.STOP,
        about=batch.batch,
        text=(
            f"{batch.batch} contains {amount_text(mill, limit.substance, own)} of {substance} by "
            f"its own formula, and must have none ({limit.source})."
        ),
        value=own,
        limit=0.0,
        unit="mg/kg",
        source=limit.source,
        do="change the formula",
    )


def _passed_findings(
    mill: Mill,
    residue: PlainResidue,
    batch: Batch,
    limit: Limit,
    *,
    never: dict[str, frozenset[str]],
) -> list[Finding]:
    """Where procedure, clean-out or never is not kept: the place with the least passed."""
    worst: tuple[float, str, Holding] | None = None
    for place in residue.along(batch.route):
        holding = residue.at(place, limit.substance)
        if worst is None or holding.passed_kg < worst[0]:
            worst = (holding.passed_kg, place, holding)
        if limit.kind == "never" and (
            limit.substance in never.get(place, frozenset()) or holding.ever_handled
        ):
            return [_never_finding(mill, batch, limit, place)]
    if worst is None or limit.kind == "never":
        return []
    passed_kg, place, holding = worst
    if limit.kind == "procedure" and passed_kg >= (limit.flush_kg or 0.0) - PASSED_SLACK_KG:
        return []
    if limit.kind == "clean-out" and math.isinf(passed_kg):
        return []
    substance = mill.substance_by_code[limit.substance].name.lower()
    origin = _origin(mill, holding)
    passed = mass_text(mill, passed_kg) if passed_kg > 0 else "nothing"
    if limit.kind == "procedure":
        want = f"{mass_text(mill, limit.flush_kg or 0.0)} must pass"
    else:
        want = "it must be cleaned out by hand"
    return [
        Finding(
            code=f"residue.{limit.kind.replace('-', '_')}",
            verdict=Verdict.STOP,
            about=batch.batch,
            text=(
                f"{place} has run {substance} ({origin}) and {passed} has passed since; {want} "
                f"before {batch.batch}, {mill.name_of(batch.material)} ({limit.source})."
            ),
            value=passed_kg,
            limit=limit.flush_kg,
            unit="kg",
            source=limit.source,
            do="flush or clean out before it, or run it elsewhere in the day",
        )
    ]


def _never_finding(mill: Mill, batch: Batch, limit: Limit, place: str) -> Finding:
    substance = mill.substance_by_code[limit.substance].name.lower()
    return Finding(
        code="residue.never",
        verdict=Verdict.STOP,
        about=batch.batch,
        text=(
            f"{place} runs or has run {substance}, which {mill.name_of(batch.material)} must never "
            f"meet: {batch.batch} must not pass it ({limit.source})."
        ),
        source=limit.source,
        do="run it over machines that never handle this",
    )


def _never_handled(mill: Mill) -> dict[str, frozenset[str]]:
    return Paths(mill).handled()
