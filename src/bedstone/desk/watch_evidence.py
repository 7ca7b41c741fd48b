"""What the record knows about its instruments: levels against books."""

from collections.abc import Mapping

from bedstone.desk.level_masses import mass_of
from bedstone.desk.levels import Level, levels
from bedstone.desk.record import Record
from bedstone.desk.revisions import current_mill
from bedstone.errors import BadInput
from bedstone.ledger.model import How, is_outside
from bedstone.mill.model import Mill
from bedstone.quality.watch_levels import LevelSeen, Passed

__all__ = ["flows_of_places", "levels_seen"]

MG_KG = 1e6
COUNTED = "storage.counted/1"
COUNT_SD_FRAC = 0.004
"""Of the capacity: how well a bin is sounded or a tank dipped (common practice, no source)."""
ALIKE_FRAC: Mapping[How, float] = {
    How.RECKONED: 0.01,
    How.COUNTED: 0.003,
    How.WEIGHED: 0.001,
}
"""By which part what is reckoned, counted, or weighed on a scale that is not watched itself may be off
for days on end (common practice, no source)."""


def levels_seen(record: Record, mill: Mill) -> dict[str, tuple[LevelSeen, ...]]:
    """Levels and counts as masses by place; each time once, the later record standing.

    A tape gives metres: with the shape of the bin and the density of what lies in it that is mass,
    with the error of both. Where the tables do not say the shape, it is left out.
    """
    found: dict[str, dict[float, LevelSeen]] = {}
    for row in levels(record):
        seen = _as_mass(mill, row)
        if seen is not None:
            found.setdefault(row.place, {})[seen.at] = seen
    for item in record.facts(kinds=(COUNTED,)):
        content = item.fact.content
        place = str(content["place"])
        held = mill.bin_by_code.get(place)
        if held is not None and content["material"] == held.holds:
            at = item.fact.happened_at.timestamp()
            found.setdefault(place, {})[at] = LevelSeen(
                at,
                float(str(content["counted_mg"])) / MG_KG,
                COUNT_SD_FRAC * held.capacity_kg,
                is_gauge=False,
            )
    return {place: tuple(rows[at] for at in sorted(rows)) for place, rows in found.items()}


def _as_mass(mill: Mill, row: Level) -> LevelSeen | None:
    held = mill.bin_by_code.get(row.place)
    if held is None:
        return None
    try:
        seen = mass_of(mill, row)
    except BadInput:
        return None
    sd_kg = max(seen.sd_kg, 1e-4 * held.capacity_kg)
    return LevelSeen(row.read_at.timestamp(), seen.mass_kg, sd_kg, row.method == "gauge")


def flows_of_places(record: Record) -> dict[str, list[Passed]]:
    """Into and out of every place of the mill by the books, corrections after counts left out."""
    mill = current_mill(record)
    tools = {*mill.scale_by_code, *mill.meter_by_code}
    found: dict[str, list[Passed]] = {}
    for item in record.movements():
        move = item.movement
        if "unaccounted" in (move.from_place, move.to_place):
            continue
        at, kg, sd = item.happened_at.timestamp(), move.mass_mg / MG_KG, move.mass_sd_mg / MG_KG
        for place, sign in ((move.from_place, -1.0), (move.to_place, 1.0)):
            if not is_outside(place):
                alike = 0.0 if move.instrument in tools else ALIKE_FRAC.get(move.how, 0.0)
                found.setdefault(place, []).append(
                    Passed(at, sign * kg, sd, move.instrument, alike)
                )
    return found
