"""What was really drawn against target and tolerance."""

import math
from collections.abc import Sequence

from bedstone.batching.divisions import mass_on_scale
from bedstone.batching.model import DrawSeen
from bedstone.mill.model import Mill
from bedstone.mill.plan import Batch, Draw, Finding, Verdict
from bedstone.mill.tolerances import METER_SOURCE, SCALE_SOURCE
from bedstone.quantities.masses import shown_mass

__all__ = ["findings_of_draws"]

MG_KG = 1_000_000
TOTAL_SOURCE = (
    "root of the sum of squares of the draws' tolerances, errors taken as independent "
    "(JCGM 100:2008, 5.1.2, from memory)"
)
DRUG_SOURCE = (
    "21 CFR 225.102 (amounts of drugs used in a batch); the mill's policy to hold what is off"
)


def findings_of_draws(mill: Mill, batch: Batch, *, seen: Sequence[DrawSeen]) -> tuple[Finding, ...]:
    """Findings of a batch from what was really drawn: each draw, each lot of a drug, the total.

    A draw that was not made, a draw of a drug that is off, or a drug without its lot means hold
    (verdict "stop"); any other draw out of tolerance, and a total out of its own, means act.

    Parameters
    ----------
    mill : Mill
        The mill.
    batch : Batch
        The batch with its draws.
    seen : sequence of DrawSeen
        What was really drawn.

    Returns
    -------
    findings : tuple of Finding
        In weighing order, the total last; empty when all is right.

    Sources
    -------
    [1] NIST Handbook 44, section 2.20, Table 6 (tolerance of each weighing, see ``tolerances``).
    [2] 21 CFR 225.102 (production record of a medicated feed).
    [3] JCGM 100:2008, Guide to the expression of uncertainty in measurement, 5.1.2, from memory.
    """
    by_sequence = {row.sequence: row for row in seen}
    findings: list[Finding] = []
    for draw in batch.draws:
        row = by_sequence.get(draw.sequence)
        if row is None:
            findings.append(_missing(mill, batch, draw))
            continue
        off = _off(mill, batch, draw, row.actual_mg)
        findings.extend([off] if off else [])
        if _is_drug(mill, draw) and not row.lot:
            findings.append(_no_lot(mill, batch, draw))
    planned = {draw.sequence for draw in batch.draws}
    findings.extend(_unplanned(mill, batch, row) for row in seen if row.sequence not in planned)
    total = _total(mill, batch, by_sequence)
    return (*findings, *([total] if total else []))


def _is_drug(mill: Mill, draw: Draw) -> bool:
    row = mill.ingredient_by_code.get(draw.ingredient)
    return row is not None and row.ingredient_class == "drug"


def _about(batch: Batch, draw: Draw) -> str:
    return f"{batch.batch}/{draw.sequence}"


def _off(mill: Mill, batch: Batch, draw: Draw, actual_mg: int) -> Finding | None:
    """A draw out of tolerance."""
    deviation_mg = actual_mg - draw.target_mg
    if abs(deviation_mg) <= draw.tolerance_mg:
        return None
    is_drug = _is_drug(mill, draw)
    units, step = mill.settings.units, draw.division_mg
    direction = "over" if deviation_mg > 0 else "under"
    source = METER_SOURCE if draw.how == "metered" else SCALE_SOURCE
    return Finding(
        code="batching.drug_off" if is_drug else f"batching.draw_{direction}",
        verdict=Verdict.STOP if is_drug else Verdict.ACT,
        about=_about(batch, draw),
        text=f"{mill.name_of(draw.ingredient)} in {batch.batch} is "
        f"{mass_on_scale(abs(deviation_mg), step, units=units)} {direction} its target of "
        f"{mass_on_scale(draw.target_mg, step, units=units)}; {mass_on_scale(draw.tolerance_mg, step, units=units)} either way "
        "is allowed.",
        value=deviation_mg / MG_KG,
        limit=draw.tolerance_mg / MG_KG,
        unit="kg",
        source=f"{DRUG_SOURCE}; {source}" if is_drug else source,
        do=_what_to_do(direction, is_drug=is_drug),
    )


def _what_to_do(direction: str, *, is_drug: bool) -> str:
    if is_drug:
        return (
            "hold the batch; find where the difference went, compare the day's use of the drug "
            "with its stock, and let a named person decide before any of it is fed or shipped"
        )
    if direction == "under":
        return "add what is missing if the batch is still in the mixer, else tell the nutritionist"
    return "tell the nutritionist; check the bin's gate and the controls' cut-off"


def _missing(mill: Mill, batch: Batch, draw: Draw) -> Finding:
    """A draw that nobody recorded."""
    return Finding(
        code="batching.draw_missing",
        verdict=Verdict.STOP,
        about=_about(batch, draw),
        text=f"Draw {draw.sequence} of {batch.batch}, {mill.name_of(draw.ingredient)}, "
        f"{mass_on_scale(draw.target_mg, draw.division_mg, units=mill.settings.units)}, was not recorded.",
        limit=draw.target_mg / MG_KG,
        unit="kg",
        source="the batch sheet",
        do="record what was drawn, or hold the batch",
    )


def _no_lot(mill: Mill, batch: Batch, draw: Draw) -> Finding:
    """A drug without its lot."""
    return Finding(
        code="batching.drug_lot_missing",
        verdict=Verdict.STOP,
        about=_about(batch, draw),
        text=f"The lot of {mill.name_of(draw.ingredient)} in {batch.batch} was not recorded.",
        source="the mill's policy: a drug is traced by the lot that was in the hand; "
        "21 CFR 225.102 asks for the full history of a batch",
        do="read the lot off the container; a manager takes the record of the batch back in the "
        "journal, it is recorded again with the lot, and then released",
    )


def _unplanned(mill: Mill, batch: Batch, row: DrawSeen) -> Finding:
    """A draw that is not on the sheet."""
    shown = shown_mass(row.actual_mg, units=mill.settings.units)
    return Finding(
        code="batching.draw_unplanned",
        verdict=Verdict.STOP,
        about=f"{batch.batch}/{row.sequence}",
        text=f"{batch.batch} has no draw {row.sequence}, but {shown} was recorded for it.",
        value=row.actual_mg / MG_KG,
        unit="kg",
        source="the batch sheet",
        do="find out what went in, and hold the batch until it is known",
    )


def _total(mill: Mill, batch: Batch, seen: dict[int, DrawSeen]) -> Finding | None:
    """The whole batch out of its tolerance, when every draw was recorded."""
    if any(draw.sequence not in seen for draw in batch.draws) or not batch.draws:
        return None
    target_mg = sum(draw.target_mg for draw in batch.draws)
    actual_mg = sum(seen[draw.sequence].actual_mg for draw in batch.draws)
    allowed_mg = round(math.sqrt(sum(draw.tolerance_mg**2 for draw in batch.draws)))
    if abs(actual_mg - target_mg) <= allowed_mg:
        return None
    units = mill.settings.units
    step = max(draw.division_mg for draw in batch.draws)  # no finer than the coarsest scale
    direction = "over" if actual_mg > target_mg else "under"
    return Finding(
        code=f"batching.total_{direction}",
        verdict=Verdict.ACT,
        about=batch.batch,
        text=f"{batch.batch} adds up to {mass_on_scale(actual_mg, step, units=units)}, "
        f"{mass_on_scale(abs(actual_mg - target_mg), step, units=units)} {direction} its target; "
        f"{mass_on_scale(allowed_mg, step, units=units)} either way is allowed.",
        value=(actual_mg - target_mg) / MG_KG,
        limit=allowed_mg / MG_KG,
        unit="kg",
        source=TOTAL_SOURCE,
        do="look at the draws with the largest difference; if all lean the same way, "
        "prove the scales",
    )
