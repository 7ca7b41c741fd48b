"""The cheapest formula of a product from the record, to the scale, beside the one that runs."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from bedstone.batching.instruments import ways_to_draw
from bedstone.desk.assays import assays
from bedstone.desk.formula_checks import Judged, judge
from bedstone.desk.formula_limits import TAG, running_lines
from bedstone.desk.formulate import Asked, Choices, asked
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.errors import NoAnswer
from bedstone.formulation.answers import Clash, FormulaAnswer, LimitAnswer
from bedstone.formulation.conflicts import why_not
from bedstone.formulation.least_cost import least_cost
from bedstone.formulation.rounding import RoundedFormula, ScaleFor, to_scale
from bedstone.formulation.tag_odds import SampleError, TagOdds, published_sampling_cv, tag_odds
from bedstone.mill.model import Assay, Mill
from bedstone.mill.residue_places import way_of
from bedstone.planning.batches import division_mg, filling_kg_m3, largest_steps

__all__ = ["Formulated", "formulate", "parts_of", "tag_of", "weighed"]

MG_KG = 1_000_000
PARTS_DIGITS = 8
NEAR_TIMES = 2.0  # how far from the level an assay may be whose error is taken for it


@dataclass(frozen=True, slots=True, kw_only=True)
class Formulated:
    """What was asked of a product, and the answer; or what contradicts what.

    ``weighed`` is the formula rounded to the scales for a whole batch of its mixer; None with
    ``not_weighed`` saying why. ``running`` is the formula that runs, held against the same limits
    at the same prices.
    """

    asked: Asked
    answer: FormulaAnswer | None
    clash: Clash | None
    weighed: RoundedFormula | None
    not_weighed: str
    tag: tuple[TagOdds, ...]
    running: Judged | None
    running_version: int | None

    @property
    def saves_usd_t(self) -> float | None:
        """What a ton costs less than by the formula that runs."""
        if self.answer is None or self.running is None:
            return None
        return self.running.cost_usd_t - self.answer.cost_usd_t


def formulate(record: Record, product: str, choices: Choices) -> Formulated:
    """The cheapest formula of a product, by the choices of whoever formulates.

    Raises
    ------
    Unknown
        If there is no such product.
    Refused
        If nothing says what may go into it.
    BadInput
        If a number is missing; every one is named.
    """
    mill = current_mill(record)
    put = asked(record, product, choices)
    running = mill.running_formula(product)
    shares = {row.ingredient: row.parts_frac for row in running_lines(mill, product)}
    judged_now = judge(record, product, shares, choices) if shares else None
    answer, clash = None, None
    try:
        answer = least_cost(put.problem, explained=False)
    except NoAnswer:
        clash = why_not(put.problem)
    rounded, why = (None, "") if answer is None else weighed(mill, put, answer.shares)
    shown = () if answer is None else rounded.limits if rounded is not None else answer.limits
    return Formulated(
        asked=put,
        answer=answer,
        clash=clash,
        weighed=rounded,
        not_weighed=why,
        tag=tag_of(record, shown),
        running=judged_now,
        running_version=None if running is None else running.version,
    )


def weighed(
    mill: Mill, put: Asked, shares: Mapping[str, float]
) -> tuple[RoundedFormula | None, str]:
    """A formula rounded to the scales for a full batch of the product's first mixer, or why not."""
    row = mill.product(put.product)
    mixers = [code for code in way_of(row.route)[0] if code in mill.machine_by_code]
    mixer = next((code for code in mixers if mill.machine_by_code[code].kind == "mixer"), None)
    hand = _hand_scale(mill)
    if mixer is None or hand is None:
        return None, "the mill has no mixer on its route, or no hand-add scale"
    machine = mill.machine_by_code[mixer]
    steps = largest_steps(mill, machine, density_kg_m3=filling_kg_m3(mill, row, shares))
    batch_mg = round(steps * division_mg(mill, mixer))
    scales: dict[str, ScaleFor] = {}
    for code, share in shares.items():
        ways, _ = ways_to_draw(mill, code, mixer=mixer, mass_mg=round(share * batch_mg), stock={})
        bought = mill.ingredient_by_code.get(code)
        if not ways and bought is not None and bought.hand_add:
            scales[code] = hand  # wherever it will lie, it is carried to the hand-add scale
            continue
        if not ways:
            return None, f"no bin gives {mill.name_of(code)} to a scale of {mill.name_of(mixer)}"
        tool = ways[0].instrument
        scales[code] = ScaleFor(
            code=tool.code, division_mg=tool.division_mg, least_mg=tool.smallest_mg
        )
    return to_scale(put.problem, shares, batch_mg=batch_mg, scales=scales, hand=hand), ""


def _hand_scale(mill: Mill) -> ScaleFor | None:
    stations = {row.machine for row in mill.machines if row.kind == "hand-add station"}
    found = [row for row in mill.scales if row.machine in stations]
    if not found:
        return None
    finest = min(found, key=lambda row: row.division_kg)
    return ScaleFor(
        code=finest.scale,
        division_mg=max(1, round(finest.division_kg * MG_KG)),
        least_mg=round(finest.smallest_draw_kg * MG_KG),
    )


def parts_of(shares: Mapping[str, float]) -> dict[str, float]:
    """Shares as the lines of a version keep them: few digits, adding up to one."""
    parts = {code: round(share, PARTS_DIGITS) for code, share in shares.items() if share > 0}
    largest = max(parts, key=lambda code: parts[code])
    rest = 1.0 - math.fsum(parts.values())
    return {**parts, largest: round(parts[largest] + rest, PARTS_DIGITS)}


def tag_of(record: Record, limits: tuple[LimitAnswer, ...]) -> tuple[TagOdds, ...]:
    """Each guarantee before an inspector's single sample, by the rule that the mill names.

    The error of the assay is the mill's own laboratory's of that nutrient where its results say
    it, of results near the level and in proportion to it (common practice, no source). Sampling is
    what ``mill.toml`` says of it, else what was published of one batch, as an assumption that the
    answer names; where neither speaks it is counted as none, and the answer says that too.
    Nothing where the mill names no rule.
    """
    rule = current_mill(record).settings.tag_rule
    if not rule:
        return ()
    rows = assays(record)
    found: list[TagOdds] = []
    for limit in limits:
        if limit.code.startswith(TAG):
            nutrient = limit.code.removeprefix(TAG)
            own_cv_frac = current_mill(record).settings.sampling_cv_frac
            assay_sd, assayed = _assay_error(rows, nutrient, limit.unit, expected=limit.expected)
            cv_frac, sampled = _sampling(nutrient, own_cv_frac)
            error = SampleError(
                sampling_sd=cv_frac * abs(limit.expected),
                assay_sd=assay_sd,
                source=f"sampling {sampled}; assay {assayed}",
            )
            found += tag_odds(limit, nutrient, rule=rule, error=error)
    return tuple(found)


def _sampling(nutrient: str, own_cv_frac: float | None) -> tuple[float, str]:
    """What sampling adds, as a part of the level, and where that comes from."""
    if own_cv_frac is not None:
        return own_cv_frac, f"{own_cv_frac * 100:.3g} % of the level (mill.toml)"
    published = published_sampling_cv(nutrient)
    if published is None:
        return 0.0, "not known and counted as none"
    return published, (
        f"assumed {published * 100:.2g} % of the level (six samples of one batch, Feed Management 1992)"
    )


def _assay_error(
    rows: tuple[Assay, ...], nutrient: str, unit: str, *, expected: float
) -> tuple[float, str]:
    """What one result adds, of results near the level: limestone's calcium is not a feed's.

    Results from half of the level to twice it count, else the nearest, in proportion to the level.
    """
    known = [
        (abs(math.log(row.value / expected)), row.sd / row.value)
        for row in rows
        if row.nutrient == nutrient
        and row.unit == unit
        and row.sd is not None
        and row.value > 0
        and expected > 0
    ]
    if not known:
        return 0.0, "not known and counted as none"
    reach = max(math.log(NEAR_TIMES), min(far for far, _ in known))
    parts = [part for far, part in known if far <= reach]
    pooled = math.sqrt(math.fsum(part**2 for part in parts) / len(parts))
    return pooled * expected, f"{pooled * 100:.2g} % of the level (own results)"
