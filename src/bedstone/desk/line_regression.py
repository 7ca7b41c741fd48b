"""The mill's own regression of durability on heat, grind, die and fat, asked at a run's settings."""

from dataclasses import dataclass

from bedstone.desk.formula_levels import table_levels
from bedstone.desk.line_readings import runs_of_line
from bedstone.desk.line_settings import LineSettings
from bedstone.desk.line_tests import durability_tests, sieve_tests, size_at_um
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.errors import BadInput
from bedstone.mill.model import Mill
from bedstone.pelleting.durability import Forecast, fit_runs, suggest

__all__ = ["DurabilityAhead", "durability_ahead"]

HEAT, GRIND, DIE, FAT = "conditioner, °C", "particle size, µm", "press length over hole", "fat, %"
FACTORS = (HEAT, GRIND, DIE, FAT)
BETTER = 2.0
WHAT = "durability"


@dataclass(frozen=True, slots=True, kw_only=True)
class DurabilityAhead:
    """What the mill's own tests say of the durability of a run to come."""

    forecast: Forecast
    runs: int
    better_c: float | None  # conditioner for two points more; None where nothing seen allows it


def durability_ahead(record: Record, found: LineSettings) -> DurabilityAhead | None:
    """Durability at a line's settings by its own tests; None where they are too few to tell.

    Factors that never moved in the runs, or only together, cannot be told apart: then there is no
    answer. A hotter conditioner is named only within what was run, what the die takes, and what
    surely keeps every heat-sensitive additive.
    """
    mill = current_mill(record)
    reads = {read.run: read for read in runs_of_line(record, found.line)}
    sieved = sieve_tests(record)
    rows = []
    for test in durability_tests(record, line=found.line):
        read = reads.get(test.run)
        heat_c = None if read is None else read.mean("conditioner temperature")
        size = size_at_um(mill, sieved, test.product, test.tested_at)
        settings = _settings(mill, test.product, found.line, heat_c, size)
        if settings is not None:
            rows.append({**settings, WHAT: test.found.index})
    size_now = size_at_um(mill, sieved, found.product, sieved[-1].tested_at) if sieved else None
    now = _settings(mill, found.product, found.line, found.conditioned.temperature_c, size_now)
    if now is None:
        return None
    try:
        fitted = fit_runs(FACTORS, rows, WHAT)
    except BadInput:
        return None
    forecast = fitted.forecast(now)
    moved = suggest(fitted, now, forecast.low + BETTER) if forecast.seen else None
    better_c = moved[HEAT] if moved is not None and moved[HEAT] != now[HEAT] else None
    limits = [found.most_c_for_die, *(row.hottest_c for row in found.additives)]
    if better_c is not None and any(one is None or better_c > one for one in limits):
        better_c = None
    return DurabilityAhead(forecast=forecast, runs=len(rows), better_c=better_c)


def _settings(
    mill: Mill, product: str, line: str, heat_c: float | None, size_um: float | None
) -> dict[str, float] | None:
    """The factors of a run; None where one is not known."""
    row = next((one for one in mill.products if one.product == product), None)
    die = next((one for one in mill.dies if row and (one.die, one.line) == (row.die, line)), None)
    fat = table_levels(mill, product).get("crude fat")
    if heat_c is None or size_um is None or die is None or fat is None or fat.mean is None:
        return None
    return {HEAT: heat_c, GRIND: size_um, DIE: die.effective_mm / die.hole_mm, FAT: fat.mean}
