"""Draws of a plan: they add up, match the formula, reach their instrument, and are there."""

import datetime as dt
from collections.abc import Iterable, Mapping
from functools import partial

from bedstone.mill.model import Mill
from bedstone.mill.plan import Batch, BatchKind, Draw, Finding, Plan
from bedstone.planning.verify_known import stop
from bedstone.planning.verify_tools import tool_of
from bedstone.planning.words import mass_text

__all__ = ["draw_findings", "stock_findings"]

MG_KG = 1_000_000
SMALLEST_SLACK_MG = 10_000
FULL_SLACK_FRAC = 0.005

_stop = partial(
    stop,
    source="formula and scales tables",
    unit="kg",
    do="plan the day again, or correct the draws",
)


def draw_findings(mill: Mill, batch: Batch) -> Iterable[Finding]:
    """What is wrong with the draws of a batch."""
    yield from _version(mill, batch)
    total_mg = sum(draw.target_mg for draw in batch.draws)
    if abs(total_mg - batch.mass_mg) > _coarsest_mg(mill, batch) + len(batch.draws):
        text = (
            f"The draws of {batch.batch} add up to {mass_text(mill, total_mg / MG_KG)}, not to "
            f"{mass_text(mill, batch.mass_mg / MG_KG)}."
        )
        yield _stop(
            "draws.total",
            batch.batch,
            text,
            value=total_mg / MG_KG,
            limit=batch.mass_mg / MG_KG,
        )
    drawn: dict[str, list[Draw]] = {}
    for draw in batch.draws:
        drawn.setdefault(draw.ingredient, []).append(draw)
        yield from _reach(mill, batch, draw)
    parts = _parts(mill, batch)
    for ingredient in sorted({*parts, *drawn}):
        wanted_mg = parts.get(ingredient, 0.0) * batch.mass_mg
        found = _amount(mill, batch, ingredient, drawn.get(ingredient, []), wanted_mg=wanted_mg)
        if found is not None:
            yield found


def _amount(
    mill: Mill,
    batch: Batch,
    ingredient: str,
    rows: list[Draw],
    *,
    wanted_mg: float,
) -> Finding | None:
    """Whether an ingredient is drawn as its formula wants, to the divisions of the scales."""
    has_mg = sum(draw.target_mg for draw in rows)
    if abs(has_mg - wanted_mg) <= _slack_mg(mill, batch, ingredient, rows, wanted_mg=wanted_mg):
        return None
    text = (
        f"{batch.batch} draws {mass_text(mill, has_mg / MG_KG)} of {mill.name_of(ingredient)}; its "
        f"formula wants {mass_text(mill, wanted_mg / MG_KG)}."
    )
    return _stop("draws.formula", batch.batch, text, value=has_mg / MG_KG, limit=wanted_mg / MG_KG)


def _slack_mg(
    mill: Mill, batch: Batch, ingredient: str, rows: list[Draw], *, wanted_mg: float
) -> float:
    """What rounding may make of a draw. [mg]

    Drugs, liquids and what is weighed by hand are rounded alone: half a division of their own
    instrument. The rest is rounded together, and the biggest makes good what all others lack.
    """
    is_drug = _is_drug(mill, ingredient)
    if not rows or wanted_mg <= 0:
        return 1.0 if is_drug else float(SMALLEST_SLACK_MG)
    tools = [tool_of(mill, draw.instrument) for draw in rows]
    own_mg = max((tool.division_mg for tool in tools if tool is not None), default=0)
    whole_mg = len(rows) + 1
    if is_drug or all(tool is None or tool.how != "weighed" for tool in tools):
        return own_mg / 2 + whole_mg
    slack_mg = max(own_mg, _coarsest_mg(mill, batch, how="weighed")) + whole_mg
    if wanted_mg < max(_parts(mill, batch).values()) * batch.mass_mg:
        return slack_mg
    others = {draw.ingredient: draw.instrument for draw in batch.draws}
    for code in others.values():
        tool = tool_of(mill, code)
        slack_mg += tool.division_mg if tool is not None else 0
    return slack_mg


def _coarsest_mg(mill: Mill, batch: Batch, *, how: str = "") -> int:
    """The coarsest division, by the tables, of the instruments that a batch is drawn on. [mg]"""
    tools = (tool_of(mill, draw.instrument) for draw in batch.draws if draw.target_mg > 0)
    return max(
        (tool.division_mg for tool in tools if tool is not None and how in ("", tool.how)),
        default=0,
    )


def _is_drug(mill: Mill, ingredient: str) -> bool:
    row = mill.ingredient_by_code.get(ingredient)
    return row is not None and row.ingredient_class == "drug"


def _version(mill: Mill, batch: Batch) -> Iterable[Finding]:
    if batch.kind is BatchKind.FLUSH:
        if batch.material != mill.settings.flush_material:
            text = f"{batch.batch} would flush with {mill.name_of(batch.material)}."
            yield _stop("flush.material", batch.batch, text, source="mill.toml, flush_material")
        return
    formula = mill.running_formula(batch.material)
    running = formula.version if formula is not None else None
    if running != batch.formula_version:
        stands = f"version {running} runs" if running is not None else "no version runs"
        text = f"{batch.batch} goes by version {batch.formula_version} of its formula; {stands}."
        yield _stop("formula.status", batch.batch, text, source="formulas table")


def _parts(mill: Mill, batch: Batch) -> dict[str, float]:
    if batch.formula_version is None:
        return {batch.material: 1.0}
    return {
        row.ingredient: row.parts_frac
        for row in mill.lines_of(batch.material, batch.formula_version)
    }


def _reach(mill: Mill, batch: Batch, draw: Draw) -> Iterable[Finding]:
    """The bin feeds the instrument, and the instrument weighs for the mixer."""
    scale, meter = mill.scale_by_code.get(draw.instrument), mill.meter_by_code.get(draw.instrument)
    machine = scale.machine if scale is not None else meter.machine if meter is not None else ""
    starts = {row.start for row in mill.routes}
    is_hand = mill.machine_by_code.get(machine) is not None and (
        mill.machine_by_code[machine].kind == "hand-add station"
    )
    reaches_mixer = machine == batch.mixer or (
        is_hand and ((machine, batch.mixer) in mill.route_by_ends or machine not in starts)
    )
    row = mill.bin_by_code.get(draw.from_place)
    if not reaches_mixer:
        text = f"{batch.batch} draws {draw.ingredient} on {draw.instrument}, not of {batch.mixer}."
        yield _stop("draws.instrument", batch.batch, text)
    elif row is None or not (is_hand or draw.instrument in row.feeds.split()):
        text = f"{draw.from_place} does not feed {draw.instrument}, on which {batch.batch} draws."
        yield _stop("draws.bin", batch.batch, text, source="bins table, feeds")


def stock_findings(
    mill: Mill, plan: Plan, stock_mg: Mapping[tuple[str, str], int]
) -> list[Finding]:
    """Where draws take more than lies there, what is ground and made before counted in."""
    level_mg = dict(stock_mg)
    slack_mg: dict[tuple[str, str], int] = {}
    findings: list[Finding] = []
    said: set[tuple[str, str]] = set()
    for _, _, about, key, mass_mg, division_mg in sorted(_moves(mill, plan)):
        level_mg[key] = level_mg.get(key, 0) + mass_mg
        slack_mg[key] = slack_mg.get(key, SMALLEST_SLACK_MG) + division_mg
        if key in said:
            continue
        found = _level(mill, about, key, level_mg[key], is_in=mass_mg > 0, slack_mg=slack_mg[key])
        if found is not None:
            said.add(key)
            findings.append(found)
    return findings


def _level(
    mill: Mill, about: str, key: tuple[str, str], level_mg: int, *, is_in: bool, slack_mg: int
) -> Finding | None:
    """Whether a bin holds less than nothing, or more than it can."""
    place, material = key
    level_kg = level_mg / MG_KG
    row = mill.bin_by_code.get(place)
    if not is_in and level_mg < -slack_mg:
        text = (
            f"{about} takes {mass_text(mill, -level_kg)} more of {mill.name_of(material)} from "
            f"{place} than lies there then."
        )
        return _stop("stock.short", about, text, value=level_kg, limit=0.0, source="book stock")
    if is_in and row is not None and level_kg > row.capacity_kg * (1 + FULL_SLACK_FRAC):
        text = (
            f"{about} brings {place} to {mass_text(mill, level_kg)}; it holds "
            f"{mass_text(mill, row.capacity_kg)}."
        )
        return _stop(
            "bin.full", about, text, value=level_kg, limit=row.capacity_kg, source="bins table"
        )
    return None


_Move = tuple[dt.datetime, int, str, tuple[str, str], int, int]


def _moves(mill: Mill, plan: Plan) -> Iterable[_Move]:
    """(when, what comes before what goes, about, (place, material), mass, division)."""
    for batch in plan.batches:
        for draw in batch.draws:
            key = (draw.from_place, draw.ingredient)
            tool = tool_of(mill, draw.instrument)
            division_mg = tool.division_mg if tool is not None else 0
            yield batch.start_at, 1, batch.batch, key, -draw.target_mg, division_mg
    for job in plan.grinding:
        yield job.start_at, 1, job.job, (job.from_place, job.ingredient), -job.mass_in_mg, 0
        yield job.end_at, 0, job.job, (job.to_place, job.makes), job.mass_out_mg, 0
    present = {batch.run for batch in plan.batches}
    for run in plan.runs:
        if run.pack == "stock" and run.run in present:
            yield run.ready_at, 0, run.run, (run.finished_bin, run.product), run.mass_mg, 0
