"""A batch after a draw that came out wrong: the rest made to fit, or held with the arithmetic."""

import datetime as dt
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace

from bedstone.batching.rebalance import Allowed, rebalance
from bedstone.desk.appending import appended
from bedstone.desk.beforehand import is_drug
from bedstone.desk.folding import folded
from bedstone.desk.formula_checks import judge
from bedstone.desk.formulate import Choices
from bedstone.desk.made import made_batches
from bedstone.desk.merged_rows import MG_IN_KG
from bedstone.desk.plans import batch_of, find_plan
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.desk.roles import check
from bedstone.errors import BadInput, BedstoneError, Refused
from bedstone.ledger.model import Fact, Json, Recorded
from bedstone.mill.model import Mill
from bedstone.mill.plan import Batch, BatchKind, Finding, Verdict
from bedstone.planning.batches import filling_kg_m3

__all__ = [
    "BATCH_REBALANCED",
    "Rebalancing",
    "as_rebalanced",
    "rebalanced_rest",
    "rebalancing_finding",
    "rebalancings",
    "record_rebalanced",
]

BATCH_REBALANCED = "batching.batch_rebalanced/1"


@dataclass(frozen=True, slots=True, kw_only=True)
class Rebalancing:
    """What became of a batch once a draw was wrong: new targets, or why it is held."""

    batch: str
    fits: bool
    batch_mg: int
    weighed_mg: Mapping[int, int]  # by the number of the draw
    targets_mg: Mapping[int, int]  # of the draws still to come; empty if it does not fit
    arithmetic: tuple[str, ...]
    why_not: str
    position: int = 0
    by: str = ""


def rebalancings(record: Record) -> Mapping[str, Rebalancing]:
    """The latest re-balancing of each batch."""

    def note(
        before: Mapping[str, Rebalancing], facts: Iterable[Recorded]
    ) -> Mapping[str, Rebalancing]:
        return {**before, **{row.batch: row for row in map(_from_fact, facts)}}

    start: Mapping[str, Rebalancing] = {}
    return folded(record, "rebalanced", kinds=(BATCH_REBALANCED,), start=start, fold=note)


def _from_fact(item: Recorded) -> Rebalancing:
    content = item.fact.content
    return Rebalancing(
        batch=str(content["batch"]),
        fits=bool(content["fits"]),
        batch_mg=int(str(content["batch_mg"])),
        weighed_mg=_masses(content["weighed"]),
        targets_mg=_masses(content["targets"]),
        arithmetic=tuple(str(line) for line in _rows(content["arithmetic"])),
        why_not=str(content["why_not"]),
        position=item.position,
        by=item.fact.by,
    )


def _rows(value: Json) -> list[Json]:
    return value if isinstance(value, list) else []


def _masses(value: Json) -> dict[int, int]:
    rows = [row for row in _rows(value) if isinstance(row, dict)]
    return {int(str(row["sequence"])): int(str(row["mass_mg"])) for row in rows}


def rebalanced_rest(
    record: Record, batch: Batch, weighed_mg: Mapping[int, int], *, on: dt.date
) -> Rebalancing:
    """How the rest of a batch must be weighed after what is in it, or why it must be held.

    A part may move within the product's inclusions (and its rule on how far a share may move);
    a part without a row, and every drug, only within its scale's tolerance. What then comes out
    must keep every limit that the formula itself keeps. Draws of an ingredient that is partly in
    stay as they were.

    Raises
    ------
    BadInput
        If it is a flush, nothing is weighed, everything is, or a draw is not of the batch.
    """
    mill = current_mill(record)
    _must_be_midway(batch, weighed_mg)
    off = _drug_off(mill, batch, weighed_mg)
    if off:
        return _held(batch, weighed_mg, (), off)
    in_mg = _reckoned_in(batch, weighed_mg)
    mixer = mill.machine_by_code.get(batch.mixer)
    planned_kg = sum(row.target_mg for row in batch.draws) / MG_IN_KG
    answer = rebalance(
        _allowed(mill, batch),
        {code: mass / MG_IN_KG for code, mass in in_mg.items()},
        planned_kg=planned_kg,
        least_kg=min(planned_kg, (mixer.mass_min_kg or 0.0) if mixer else 0.0),
        most_kg=_most_kg(mill, batch, planned_kg),
    )
    named = _named(mill, batch)
    reckoning = tuple(named(line) for line in answer.arithmetic if ": weigh " not in line)
    targets = _on_scales(batch, answer.targets_kg)
    rest = dict.fromkeys(answer.targets_kg, 0)
    for row in batch.draws:
        if row.sequence in targets:
            rest[row.ingredient] += targets[row.sequence]
    whole = in_mg | rest
    why_not = named(answer.why_not) or _worse(record, batch, whole, on=on)
    if why_not:
        return _held(batch, weighed_mg, reckoning, why_not)
    batch_mg = sum(whole.values())
    return Rebalancing(
        batch=batch.batch,
        fits=True,
        batch_mg=batch_mg,
        weighed_mg=dict(weighed_mg),
        targets_mg=targets,
        arithmetic=(*reckoning, f"the batch is then {batch_mg / MG_IN_KG:.2f} kg"),
        why_not="",
    )


def _named(mill: Mill, batch: Batch) -> Callable[[str], str]:
    """Words in which the codes of a batch's ingredients are put as people call them."""
    codes = {row.ingredient for row in batch.draws}
    pattern = re.compile(
        "|".join(rf"(?<![\w-]){re.escape(code)}(?![\w-])" for code in sorted(codes))
    )
    return lambda words: pattern.sub(lambda found: mill.name_of(found[0]), words)


def _reckoned_in(batch: Batch, weighed_mg: Mapping[int, int]) -> dict[str, int]:
    """Mass of each ingredient that is at least partly in, its other draws at their targets. [mg]"""
    started = {row.ingredient for row in batch.draws if row.sequence in weighed_mg}
    in_mg = dict.fromkeys(sorted(started), 0)
    for row in batch.draws:
        if row.ingredient in started:
            in_mg[row.ingredient] += weighed_mg.get(row.sequence, row.target_mg)
    return in_mg


def _must_be_midway(batch: Batch, weighed_mg: Mapping[int, int]) -> None:
    known = {row.sequence for row in batch.draws}
    if batch.kind is BatchKind.FLUSH:
        raise BadInput(f"{batch.batch} is a flush and has no formula to keep.")
    if not weighed_mg or set(weighed_mg) >= known or set(weighed_mg) - known:
        raise BadInput(
            f"The rest of {batch.batch} can be re-balanced while some draws are in and some not.",
            seen=f"{len(weighed_mg)} of {len(known)} draws",
            allowed=f"1 to {len(known) - 1}",
            do="type what is in; leave empty what is still to come",
        )
    if min(weighed_mg.values()) < 0:
        raise BadInput("A mass is below nothing.", allowed="0 or more")


def _drug_off(mill: Mill, batch: Batch, weighed_mg: Mapping[int, int]) -> str:
    """Why a drug that is off its target may not be made to fit."""
    for row in batch.draws:
        mass_mg = weighed_mg.get(row.sequence)
        if mass_mg is None or not is_drug(mill, row.ingredient):
            continue
        if abs(mass_mg - row.target_mg) > row.tolerance_mg:
            return f"{mill.name_of(row.ingredient)} is a drug off its target: that is never made to fit"
    return ""


def _held(
    batch: Batch, weighed_mg: Mapping[int, int], arithmetic: tuple[str, ...], why_not: str
) -> Rebalancing:
    return Rebalancing(
        batch=batch.batch,
        fits=False,
        batch_mg=sum(row.target_mg for row in batch.draws),
        weighed_mg=dict(weighed_mg),
        targets_mg={},
        arithmetic=arithmetic,
        why_not=why_not,
    )


def _most_kg(mill: Mill, batch: Batch, planned_kg: float) -> float:
    """The largest batch that the mixer takes, by mass and by volume. [kg]"""
    mixer, product = mill.machine_by_code.get(batch.mixer), mill.product_by_code.get(batch.material)
    if mixer is None:
        return planned_kg
    most = mixer.mass_max_kg or planned_kg
    if mixer.volume_max_m3 is not None and product is not None:
        whole_mg = sum(row.target_mg for row in batch.draws)
        parts: dict[str, float] = {}
        for row in batch.draws:
            parts[row.ingredient] = parts.get(row.ingredient, 0.0) + row.target_mg / whole_mg
        most = min(most, mixer.volume_max_m3 * filling_kg_m3(mill, product, parts))
    return max(most, planned_kg)


def _allowed(mill: Mill, batch: Batch) -> list[Allowed]:
    """Share of each ingredient, and how far it may move."""
    whole_mg = sum(row.target_mg for row in batch.draws)
    rows = {row.ingredient: row for row in mill.inclusions if row.product == batch.material}
    rule = next((row for row in mill.formula_rules if row.product == batch.material), None)
    change = rule.change_each_frac if rule and rule.change_each_frac is not None else 1.0
    parts: list[Allowed] = []
    for code in dict.fromkeys(row.ingredient for row in batch.draws):
        draws = [row for row in batch.draws if row.ingredient == code]
        share = sum(row.target_mg for row in draws) / whole_mg
        slack = sum(row.tolerance_mg for row in draws) / whole_mg
        low, high = share - slack, share + slack
        row = rows.get(code)
        if row is not None and not is_drug(mill, code):
            low = min(low, max(row.min_frac, row.at_least_frac or 0.0, share - change))
            high = max(high, min(row.max_frac, share + change))
        parts.append(Allowed(ingredient=code, share=share, low=max(low, 0.0), high=min(high, 1.0)))
    return parts


def _on_scales(batch: Batch, targets_kg: Mapping[str, float]) -> dict[int, int]:
    """New targets on the divisions of the scales, draws of one ingredient in their old proportion."""
    found: dict[int, int] = {}
    for code, mass_kg in targets_kg.items():
        draws = [row for row in batch.draws if row.ingredient == code]
        old_mg = sum(row.target_mg for row in draws)
        for row in draws:
            part_mg = mass_kg * MG_IN_KG * row.target_mg / old_mg
            found[row.sequence] = round(part_mg / row.division_mg) * row.division_mg
    return found


def _worse(record: Record, batch: Batch, masses_mg: Mapping[str, int], *, on: dt.date) -> str:
    """A limit that the formula keeps and the batch would not."""
    whole_mg = sum(row.target_mg for row in batch.draws)
    shares = {code: mass / sum(masses_mg.values()) for code, mass in masses_mg.items()}
    planned: dict[str, float] = {}
    for row in batch.draws:
        planned[row.ingredient] = planned.get(row.ingredient, 0.0) + row.target_mg / whole_mg
    try:
        choices = Choices(on=on, by_mean=True)
        before = judge(record, batch.material, planned, choices).findings
        after = judge(record, batch.material, shares, choices).findings
    except BedstoneError:
        return ""  # tables that say nothing of nutrients: inclusions and tolerances alone decide
    known = {(one.code, one.limit, one.unit, one.source) for one in before}
    new = [one for one in after if (one.code, one.limit, one.unit, one.source) not in known]
    return new[0].text if new else ""


def record_rebalanced(
    record: Record,
    plan_id: str,
    batch_id: str,
    weighed_mg: Mapping[int, int],
    *,
    by: str,
    at: dt.datetime,
) -> Recorded:
    """Record how the rest of a batch is weighed after a draw that came out wrong.

    If it does not fit, that is recorded too: the batch is then on hold once it is recorded.
    Asks: who may, some draws in and some not. Refused when: the plan is not released or the batch
    is on record. Records: ``batching.batch_rebalanced/1``.
    """
    mill = current_mill(record)
    check(mill, by, "batch")

    def act() -> Fact:
        standing = find_plan(record, plan_id)
        batch = batch_of(standing.plan, batch_id)
        if standing.status != "released" or batch_id in made_batches(record):
            raise Refused(
                f"Batch {batch_id} is not being made.",
                do="re-balance while it is being weighed up",
            )
        on = at.astimezone(mill.settings.zone).date()
        row = rebalanced_rest(record, batch, weighed_mg, on=on)
        return Fact(
            kind=BATCH_REBALANCED,
            happened_at=at,
            by=by,
            content={
                "batch": batch_id,
                "plan": plan_id,
                "fits": row.fits,
                "batch_mg": row.batch_mg,
                "weighed": _plain(row.weighed_mg),
                "targets": _plain(row.targets_mg),
                "arithmetic": list(row.arithmetic),
                "why_not": row.why_not,
            },
        )

    return appended(record, act, at=at)


def _plain(masses_mg: Mapping[int, int]) -> list[Json]:
    return [{"sequence": key, "mass_mg": masses_mg[key]} for key in sorted(masses_mg)]


def as_rebalanced(record: Record, batch: Batch) -> Batch:
    """The batch with the targets that its latest re-balancing gave; as planned without one.

    A draw that was in already has what was weighed as its target: it was reckoned with.
    """
    row = rebalancings(record).get(batch.batch)
    if row is None or not row.fits:
        return batch
    targets = {**row.weighed_mg, **row.targets_mg}
    draws = tuple(
        replace(draw, target_mg=targets.get(draw.sequence, draw.target_mg)) for draw in batch.draws
    )
    return replace(batch, draws=draws)


def rebalancing_finding(record: Record, mill: Mill, batch: Batch) -> tuple[Finding, ...]:
    """What the record of a batch says of its re-balancing."""
    row = rebalancings(record).get(batch.batch)
    if row is None:
        return ()
    wrong = [
        f"{mill.name_of(draw.ingredient)} {row.weighed_mg[draw.sequence] / MG_IN_KG:.2f} kg for "
        f"{draw.target_mg / MG_IN_KG:.2f} kg"
        for draw in batch.draws
        if draw.sequence in row.weighed_mg
        and abs(row.weighed_mg[draw.sequence] - draw.target_mg) > draw.tolerance_mg
    ]
    what = f"{batch.batch} after {', '.join(wrong) or 'draws within tolerance'}"
    if row.fits:
        return (
            Finding(
                code="batching.rebalanced",
                verdict=Verdict.NOTE,
                about=batch.batch,
                text=f"{what} was re-balanced to {row.batch_mg / MG_IN_KG:.2f} kg (fact {row.position}).",
                source="inclusions of the product and tolerances of the scales",
            ),
        )
    return (
        Finding(
            code="batching.rebalance_impossible",
            verdict=Verdict.STOP,
            about=batch.batch,
            text=f"{what} cannot be made to fit: {row.why_not}. {'; '.join(row.arithmetic)}.",
            source="inclusions of the product and tolerances of the scales",
            do="hold the batch; the nutritionist decides what becomes of it",
        ),
    )
