"""Scales and meters as the tables have them: what a draw says of its own instrument is not taken."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from bedstone.mill.model import Mill
from bedstone.mill.plan import Batch, Draw, Finding, Verdict
from bedstone.mill.tolerances import (
    METER_SOURCE,
    SCALE_SOURCE,
    meter_tolerance_mg,
    scale_tolerance_divisions,
)
from bedstone.planning.verify_known import Known, stop
from bedstone.planning.words import mass_text

__all__ = ["Tool", "tool_findings", "tool_of"]

MG_KG = 1_000_000
TABLES = "scales and meters tables"


@dataclass(frozen=True, slots=True, kw_only=True)
class Tool:
    """A scale or a meter."""

    code: str
    how: str  # "weighed", "metered" or "hand"
    division: Fraction  # exact, in milligrams
    capacity_kg: float | None  # None for a meter
    sd_frac: float  # of a meter

    @property
    def division_mg(self) -> int:
        """Its division to the nearest milligram. [mg]"""
        return max(1, round(self.division))

    def tolerance_mg(self, mass_mg: int) -> int:
        """The most that a draw may be off, each way. [mg]"""
        if self.how == "metered":
            return meter_tolerance_mg(mass_mg, self.division_mg, sd_frac=self.sd_frac)
        steps = max(1, math.floor(mass_mg / self.division + Fraction(1, 2)))
        return round(scale_tolerance_divisions(steps) * self.division)


def tool_of(mill: Mill, code: str) -> Tool | None:
    """The instrument of a code, None if the mill has none."""
    scale, meter = mill.scale_by_code.get(code), mill.meter_by_code.get(code)
    if scale is not None:
        machine = mill.machine_by_code.get(scale.machine)
        is_hand = machine is not None and machine.kind == "hand-add station"
        return Tool(
            code=code,
            how="hand" if is_hand else "weighed",
            division=Fraction(repr(scale.division_kg)) * MG_KG,
            capacity_kg=scale.capacity_kg,
            sd_frac=0.0,
        )
    if meter is not None:
        return Tool(
            code=code,
            how="metered",
            division=Fraction(repr(meter.division_kg)) * MG_KG,
            capacity_kg=None,
            sd_frac=meter.sd_frac,
        )
    return None


def tool_findings(mill: Mill, batch: Batch, known: Known) -> Iterable[Finding]:
    """What draws say of themselves and the tables do not."""
    yield from _sequence(batch.batch, batch.draws)
    lots = known.lots
    for draw in batch.draws:
        tool = tool_of(mill, draw.instrument)
        if tool is not None:
            yield from _by_tool(mill, batch.batch, draw, tool)
        unknown = [row.lot for row in draw.lots if lots is not None and row.lot not in lots]
        if unknown:
            text = (
                f"{batch.batch} would draw {draw.ingredient} from lot {', '.join(unknown)}, which "
                "the record does not know."
            )
            yield stop("draws.lots", batch.batch, text, source="lots on record")
        yield from _caution(mill, batch.batch, draw)


def _sequence(about: str, draws: Sequence[Draw]) -> Iterable[Finding]:
    numbers = [draw.sequence for draw in draws]
    if numbers != list(range(1, len(numbers) + 1)):
        text = (
            f"The draws of {about} are numbered {', '.join(str(number) for number in numbers)}; "
            f"they must be 1 to {len(numbers)} in order."
        )
        yield stop("draws.sequence", about, text)


def _by_tool(mill: Mill, about: str, draw: Draw, tool: Tool) -> Iterable[Finding]:
    if draw.how != tool.how:
        text = (
            f"{about} would draw {draw.ingredient} {draw.how!r} on {tool.code}: it is {tool.how}."
        )
        yield stop("draws.how", about, text, source=TABLES)
    if draw.division_mg != tool.division_mg:
        text = (
            f"{about} takes the division of {tool.code} as "
            f"{mass_text(mill, draw.division_mg / MG_KG)}; it is "
            f"{mass_text(mill, tool.division_mg / MG_KG)}."
        )
        limit_mg = tool.division_mg
        yield _numbers("draws.division", about, text, (draw.division_mg, limit_mg), TABLES)
    allowed_mg = tool.tolerance_mg(max(0, draw.target_mg))
    if draw.tolerance_mg > allowed_mg:
        text = (
            f"{about} lets its draw of {mill.name_of(draw.ingredient)} be off by "
            f"{mass_text(mill, draw.tolerance_mg / MG_KG)}; {tool.code} must be within "
            f"{mass_text(mill, allowed_mg / MG_KG)}."
        )
        source = METER_SOURCE if tool.how == "metered" else SCALE_SOURCE
        yield _numbers("draws.tolerance", about, text, (draw.tolerance_mg, allowed_mg), source)
    if tool.capacity_kg is not None and draw.target_mg > tool.capacity_kg * MG_KG + 1:
        text = (
            f"{about} would weigh {mass_text(mill, draw.target_mg / MG_KG)} of "
            f"{mill.name_of(draw.ingredient)} at once on {tool.code}, which takes "
            f"{mass_text(mill, tool.capacity_kg)}."
        )
        most_mg = round(tool.capacity_kg * MG_KG)
        yield _numbers("draws.capacity", about, text, (draw.target_mg, most_mg), TABLES)


def _numbers(code: str, about: str, text: str, masses_mg: tuple[int, int], source: str) -> Finding:
    has_mg, most_mg = masses_mg
    return stop(
        code, about, text, value=has_mg / MG_KG, limit=most_mg / MG_KG, unit="kg", source=source
    )


def _caution(mill: Mill, about: str, draw: Draw) -> Iterable[Finding]:
    """A drug never goes without its caution; of anything else a word is enough."""
    row = mill.ingredient_by_code.get(draw.ingredient)
    if row is None or not row.caution or row.caution in draw.caution:
        return
    text = f"{about} draws {row.name} without its caution: {row.caution}"
    if row.ingredient_class == "drug":
        yield stop("draws.caution", about, text, source="ingredients table, caution")
    else:
        yield Finding(
            code="draws.caution",
            verdict=Verdict.NOTE,
            about=about,
            text=text,
            source="ingredients table, caution",
            do="see that whoever weighs it knows",
        )
